"""An episode around a fitting: what its cells store, what makes no difference, closed forms, ice in a bonnet."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from fitting_lines import across, along, line
from support_lines import line as support_line

from sim.case import case_for, parse_case
from sim.case.episode import Episode
from sim.heat.network import Network
from sim.heat.plan_storage import line_store
from sim.solve.around import recorder, stretch
from sim.solve.episode import Track, follow, standard_record
from sim.solve.multigrid import MEMORY_LIMIT, Multigrid
from sim.solve.steady import solve

COARSE = 0.6
EPISODE = {"name": "e", "condition": "a", "start": "60 degC", "lasts": "12 h"}
JUMP = {"change": [{"at": "6 h", "ambient": "-20 degC"}]}
STILL = {"state": "still"}
STATES = (STILL, {"state": "mixed", "film_coefficient": "200 W/m2/K"})
ROD = across(90, 250, cover="bare", hollow={"diameter": "60 mm", "to": "200 mm"})
VALVE = (along(180, 90, cover="40 mm"), ROD)
IRON = {"conductivity": "50 W/m/K", "density": "8000 kg/m3", "specific_heat": "500 J/kg/K"}
SINK = {"conductivity": "1e4 W/m/K", "density": "8000 kg/m3", "specific_heat": "500 J/kg/K"}


def stretched(raw: dict[str, Any], fineness: float = COARSE) -> tuple[Network, Episode]:
    """The network around a case's one fitting or support, and its one episode."""
    case = parse_case(raw)
    narrowed = case_for(case, "a")
    net, _ = stretch(narrowed, narrowed.interruptions[0], fineness, MEMORY_LIMIT)
    return net, case.episodes[0]


def taken(net: Network, episode: Episode, tolerance: float = 0.05) -> Track:
    return follow(net, episode, (), np.full(net.nodes, float(episode.start)), tolerance, recorder(net))


@pytest.mark.parametrize("contents", STATES, ids=lambda contents: contents["state"])
def test_bodies_and_hollows_store_by_their_true_volumes(contents: dict[str, Any]) -> None:
    """Capacity of the half: a ring about the bore and a rod out of it with water in it, less what they share."""
    plain = {"density": "1 kg/m3", "specific_heat": "10 J/kg/K"}
    layer = [{"conductivity": "0.04 W/m/K", "thickness": "50 mm"} | plain]
    raw = line(*VALVE, fitting={"material": IRON}, contents=contents, insulation={"layer": layer})
    net, _ = stretched(raw | {"episode": [EPISODE]})
    at = [np.full(n.nodes, 273.15) for n in (net, net.plan)]
    both = zip((net, net.plan), at, strict=True)
    capacity = [float(line_store(n).capacity(0.0 * t, t).sum()) for n, t in both]
    bore, body, rod, inside = 0.05113, 0.090, 0.045, 0.030
    u = (np.arange(4000) + 0.5) / 4000 * np.pi / 2

    def beyond(radius: float, end: float, from_: float) -> float:
        """Volume of half a rod across between a cylinder along and its end, m3."""
        r = radius * (np.arange(400) + 0.5) / 400
        start = np.sqrt(np.maximum(from_**2 - (r[:, None] * np.sin(u)) ** 2, 0.0)).mean(axis=1)
        return float(np.pi * (r * (end - start)).sum() * radius / 400)

    water = beyond(inside, 0.200, bore)
    metal = np.pi * (body**2 - bore**2) * 0.090 + beyond(rod, 0.250, body) - water
    long = float(net.layers.edge[-1])
    pipe = np.pi * (0.05715**2 - bore**2) * 0.090 * float(net.case.pipe.material.density)
    pipe *= net.case.pipe.material.specific_heat
    fluid = net.case.contents.fluid
    by_volume = float(fluid.density(273.15) * fluid.specific_heat(273.15))
    further = capacity[0] - long * capacity[1]
    assert further == pytest.approx(metal * 8000 * 500 + water * by_volume - pipe, rel=0.02)


def test_the_heat_closes_over_time() -> None:
    """A bare valve with water in its bonnet, cooled and warmed again: what came less what went is what is stored."""
    short = EPISODE | {"lasts": "1 h", "change": [{"at": "0.5 h", "ambient": "80 degC"}]}
    net, episode = stretched(line(*VALVE, contents=STILL) | {"episode": [short]}, 0.4)
    track = taken(net, episode, 1.0)
    assert abs(track.closure) < 1e-8
    inside, metal = (np.array(track.values[path]) for path in ("hollows.2.min", "bodies.2.min"))
    half = track.time.index(1800.0)
    assert 273.15 < metal[half] < inside[half] < 333.15
    assert metal[half] < metal[-1]


@pytest.mark.slow
def test_a_body_of_the_lines_own_insulation_changes_nothing_over_time() -> None:
    """A body across of the line's insulation, within it: the straight line's own course to 0.01 K."""
    stores = {"conductivity": "0.04 W/m/K", "density": "100 kg/m3", "specific_heat": "840 J/kg/K"}
    layer = [stores | {"thickness": "50 mm"}]
    own = across(60, 100, **{"from": "57 mm", "material": stores})
    raw = line(own, contents=STILL, insulation={"layer": layer}) | {"episode": [EPISODE | JUMP]}
    net, episode = stretched(raw, 0.85)
    around = taken(net, episode)
    alone = follow(net.plan, episode, (), np.full(net.plan.nodes, 333.15), 0.05, standard_record)
    hour = np.linspace(0.2, 12.0, 60) * 3600
    for path in ("contents.min", "wall.min"):
        one, other = (np.interp(hour, track.time, track.values[path]) for track in (around, alone))
        assert np.abs(one - other).max() < 0.01


@pytest.mark.slow
def test_a_line_of_one_temperature_cools_through_its_bare_flange() -> None:
    """A short stretch that conducts next to perfectly under insulation that does not: exp(-h A t / C)."""
    liquid = {"conductivity": "1e3 W/m/K", "density": "1000 kg/m3", "specific_heat": "4000 J/kg/K"}
    light = {"conductivity": "1e-4 W/m/K", "density": "1 kg/m3", "specific_heat": "10 J/kg/K"}
    raw = line(
        along(300, 45, cover="bare"),
        fitting={"material": SINK},
        contents={"state": "still", "fluid": liquid | {"expansion": "1e-4 1/K", "viscosity": "1e-3 Pa*s"}},
        insulation={"layer": [light | {"thickness": "50 mm"}]},
        episode=[EPISODE | {"lasts": "24 h"}],
    )
    raw["pipe"] = raw["pipe"] | {"material": SINK}
    case = parse_case(raw)
    narrowed, long = case_for(case, "a"), 0.3
    short: Any = SimpleNamespace(line=SimpleNamespace(reach=0.5), layers=SimpleNamespace(edge=[0.0, long]))
    net, _ = stretch(narrowed, narrowed.fittings[0], 0.85, MEMORY_LIMIT, short)
    bore, outer, rim, edge, half = 0.05113, 0.05715, 0.150, 0.10715, 0.045
    area = 2 * np.pi * rim * half + np.pi * (rim**2 - edge**2)
    metal = np.pi * (rim**2 - outer**2) * half + np.pi * (outer**2 - bore**2) * long
    stored = 4e6 * (metal + np.pi * bore**2 * long)
    track = taken(net, case.episodes[0], 0.02)
    for hours in (2.0, 8.0, 24.0):
        exact = 60.0 * np.exp(-10.0 * area * hours * 3600 / stored)
        value = np.interp(hours * 3600, track.time, track.values["wall.min"]) - 273.15
        assert value == pytest.approx(exact, abs=0.3)


@pytest.mark.slow
@pytest.mark.parametrize("contents", STATES, ids=lambda contents: contents["state"])
def test_it_settles_at_the_steady_field(contents: dict[str, Any]) -> None:
    """Bodies, contents and wall of a heated valve go to what the steady solver finds."""
    tracer = support_line()["tracer"]
    raw = line(
        *VALVE, fitting={"allowance": "0.5 m", "allowance_on": ["body 1"]}, contents=contents, tracer=tracer
    )
    net, episode = stretched(raw | {"episode": [EPISODE | {"lasts": "1000 h"}]})
    steady = solve(net, np.full(net.nodes, 300.0), Multigrid())
    track = taken(net, episode)
    assert track.end is not None
    assert (
        np.abs(track.end.temperature - steady.temperature)[net.cell_node[net.made.volume > 0.0]].max() < 0.1
    )
    assert abs(track.closure) < 1e-8


@pytest.mark.slow
def test_a_bare_bonnet_freezes_before_the_bore() -> None:
    """Water at 3 degC in a hard frost: ice in the bonnet's hollow first; thawed again, and the heat closes."""
    changes = [{"at": "0 h", "ambient": "-25 degC"}, {"at": "5 h", "ambient": "10 degC"}]
    frost = EPISODE | {"start": "3 degC", "lasts": "7 h", "change": changes}
    net, episode = stretched(line(*VALVE, contents=STILL) | {"episode": [frost]})
    track = taken(net, episode, 0.2)
    at, values = np.array(track.time), {path: np.array(value) for path, value in track.values.items()}
    first = {path: at[np.argmax(values[path] < 273.15)] for path in ("hollows.2.min", "contents.min")}
    assert 0.0 < first["hollows.2.min"] < 0.7 * first["contents.min"]
    assert first["hollows.2.min"] <= at[np.argmax(values["hollows.2.frozen"] > 1e-3)]
    worst = np.interp(5 * 3600.0, at, values["hollows.2.frozen"])
    assert values["hollows.2.frozen"][0] == 0.0
    assert worst > 0.3
    assert values["hollows.2.frozen"][-1] < worst
    cooling = at < 5 * 3600.0  # ice is no colder than its metal, but for steps held to 0.2 K
    assert (values["hollows.2.min"] > values["bodies.2.min"] - 0.3)[cooling].all()
    assert abs(track.closure) < 1e-8
