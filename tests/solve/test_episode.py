"""Episodes of a whole section against closed forms: cooling of a pipe in insulation, a thermostat's limit cycle."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from sim.case import case_for, parse_case
from sim.heat.network import network
from sim.heat.plan_storage import line_store
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.course import course, times
from sim.solve.episode import Track, follow, standard_record

HOUR = 3600.0
BORE, OUTER = 51.13e-3, 57.15e-3  # m
STEEL = {
    "conductivity": "60 W/m/K",
    "density": "7850 kg/m3",
    "specific_heat": "400 J/kg/K",
    "emissivity": 0.8,
}


def follow_line(core: float, insulation: float, fineness: float, tolerance: float, **keys: Any) -> Track:
    """A stirred DN 100 pipe under 50 mm of insulation (k 0.04, h 10 W/m2/K): an episode on one mesh.

    core: heat stored by pipe and contents, J/m/K; insulation: its density times specific heat, J/m3/K.
    """
    steel = 7850.0 * 400.0 * np.pi * (OUTER**2 - BORE**2)
    heat = (core - steel) / (np.pi * BORE**2 * 1000.0)
    fluid = {
        "conductivity": "0.6 W/m/K",
        "density": "1000 kg/m3",
        "specific_heat": f"{heat:.6f} J/kg/K",
        "viscosity": "0.001 Pa s",
        "expansion": "0.0002 1/K",
    }
    raw = {
        "pipe": {"outer_diameter": "114.3 mm", "wall": "6.02 mm", "material": STEEL},
        "contents": {"state": "mixed", "film_coefficient": "20000 W/m2/K", "fluid": fluid},
        "insulation": {
            "layer": [
                {
                    "thickness": "50 mm",
                    "conductivity": "0.04 W/m/K",
                    "density": "10 kg/m3",
                    "specific_heat": f"{insulation / 10:.6f} J/kg/K",
                }
            ]
        },
        "outside": {"coefficient": "10 W/m2/K"},
        "sensor": [{"name": "S1", "clock": 12}],
    }
    case = parse_case({**raw, **keys})
    narrowed, episode = case_for(case, "cold"), case.episodes[0]
    net = network(narrowed, plan_mesh(place(narrowed), fineness))
    start = np.full(net.nodes, float(episode.start))
    return follow(net, episode, case.controls, start, tolerance, standard_record)


def test_a_pipe_in_insulation_that_stores_cools_as_the_closed_form() -> None:
    """Two bodies: a core of 41 947 J/m/K at r2 and insulation of 84 000 J/m3/K, from 1 over an ambient at 0.

    Sum of the eigenfunctions of the annulus with the core's capacity as its inner condition (computed twice).
    """
    episode = {"name": "e", "condition": "cold", "start": "100 degC", "lasts": "48 h"}
    keys = {"condition": [{"name": "cold", "ambient": "0 degC"}], "episode": [episode]}
    track = follow_line(41947.0, 84000.0, 1.0, 0.01, **keys)
    curve = course(times(np.array(track.time)), np.array(track.values["contents.mean"]))
    computed = (curve.at(np.array([1.0, 6.0, 24.0, 48.0]) * HOUR) - 273.15) / 100
    assert computed == pytest.approx([0.97724, 0.83290, 0.46846, 0.21750], abs=0.0015)
    assert abs(track.closure) < 1e-12


def test_a_thermostat_cycles_as_a_lumped_line() -> None:
    """on = tau ln((Tm - lo) / (Tm - hi)), off = tau ln((hi - Ta) / (lo - Ta)), Tm = Ta + q' R', R' 2.6495 K m/W.

    Core 7 636 J/m/K, 20 W/m, ambient -20, 8 to 12 degC: on .9803 h, off .7504 h, duty .56641.
    """
    tracer = {
        "name": "T1",
        "clock": 6,
        "shape": "flat",
        "width": "20 mm",
        "height": "1 mm",
        "output": "20 W/m",
        "contact_conductance": "10000 W/m2/K",
        "body_density": "10 kg/m3",
    }
    keys = {
        "tracer": [tracer],
        "control": [{"name": "C1", "sensor": "S1", "on_below": "8 degC", "off_above": "12 degC"}],
        "condition": [{"name": "cold", "ambient": "-20 degC"}],
        "episode": [
            {"name": "e", "condition": "cold", "start": "10 degC", "lasts": "4 h", "control": ["C1"]}
        ],
    }
    track = follow_line(7636.0, 100.0, 1.0, 0.02, **keys)
    moments = [moment for moment, _ in track.switchings["C1"]]
    assert [on for _, on in track.switchings["C1"]] == [False, True, False, True]
    off, on = (moments[1] - moments[0]) / HOUR, (moments[2] - moments[1]) / HOUR
    assert (on, off) == (pytest.approx(0.9803, rel=0.03), pytest.approx(0.7504, rel=0.03))
    assert on / (on + off) == pytest.approx(0.56641, rel=0.01)


RISING = {"at": [["-30 degC", "30 W/m"], ["60 degC", "0 W/m"]]}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("contents", "output"),
    [({"state": "still"}, RISING), ({"state": "mixed"}, RISING), ({"state": "still", "fill": 0.5}, "20 W/m")],
)
def test_freezing_through_and_thawing_returns_the_enthalpy_of_the_start(
    contents: dict[str, Any], output: object
) -> None:
    """At the ambient, 4 degC; frozen through at -30; the power melts the ice; at the end at the ambient again."""
    keys = {
        "pipe": {"size": "DN 25", "schedule": "40", "material": "carbon steel"},
        "contents": {"fluid": "water", **contents},
        "tracer": [
            {"name": "T1", "clock": 6, "shape": "flat", "width": "11 mm", "height": "5 mm", "output": output}
        ],
        "insulation": {"fit": "snug", "layer": [{"thickness": "20 mm", "material": "rock wool"}]},
        "outside": {"coefficient": "15 W/m2/K"},
        "condition": [{"name": "cold", "ambient": "4 degC"}],
        "episode": [
            {
                "name": "e",
                "condition": "cold",
                "start": "4 degC",
                "lasts": "80 h",
                "change": [
                    {"at": "0 h", "supply": 0, "ambient": "-30 degC"},
                    {"at": "20 h", "supply": 1, "ambient": "-10 degC"},
                    {"at": "40 h", "supply": 0, "ambient": "4 degC"},
                ],
            }
        ],
    }
    case = parse_case(keys)
    narrowed, episode = case_for(case, "cold"), case.episodes[0]
    net = network(narrowed, plan_mesh(place(narrowed), 0.5))
    start = np.full(net.nodes, 277.15)
    track = follow(net, episode, (), start, 0.05, standard_record)
    store = line_store(net)
    assert max(track.values["frozen"]) == 1.0
    assert track.end is not None
    assert track.end.enthalpy == pytest.approx(store.enthalpy(start), rel=1e-3, abs=1e-3)
    assert abs(track.closure) < 1e-12
