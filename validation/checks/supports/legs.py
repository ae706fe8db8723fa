"""A leg through insulation that hardly conducts, its exposed fin, and the weather barrier, touching or cut clear.

All by closed forms written here anew: nothing of `sim.heat.fin` is used on the exact side.
"""

from math import asin, cosh, log, pi, sqrt, tanh
from typing import Any

import numpy as np

from sim.case import Case
from sim.heat.network import Network, network
from sim.heat.support_layers import bare_cover, support_network
from sim.section.extrude import z_layers
from sim.section.mesh import plan_mesh
from sim.section.support_plan import place_support
from validation.published.rows import Row, Table
from validation.sketches.stretch import IDLE, ISOTHERMAL, R_COVER, R_O, level, line

FIN = "@incropera, table 3.4 (from memory); closed form"
SHEET = "@incropera, table 3.4 (from memory), the sheet as a fin; closed form"
FEET = "the leg's feet, cut from a circle, and the mesh"
AMBIENT, PIPE = -10.0, 60.0
ALUMINIUM = {"conductivity": "200 W/m/K", "emissivity": 0.5}


def _leg(width: float, length: float, exposed: float, film: float, end: str) -> dict[str, Any]:
    """A leg as a case gives it, m and W/m2/K."""
    sizes = {"width": f"{width} m", "length": f"{length} m", "exposed": f"{exposed} m"}
    return sizes | {"film_coefficient": f"{film} W/m2/K", "end": end}


def _leg_line(leg: dict[str, Any], k: float, **changes: Any) -> Any:
    support = {"material": {"conductivity": f"{k} W/m/K"}, "leg": leg, "spacing": "0.4 m"}
    support |= changes.pop("support", {})
    ambient = [{"name": "a", "ambient": f"{AMBIENT} degC"}]
    return line(ISOTHERMAL, support, layer=IDLE, condition=ambient, **changes)


def ends() -> list[Row]:
    """Leg in series with its exposed fin: ends, film, and twice the length along the pipe."""
    table = Table("leg through idle insulation and its fin", FIN, why=FEET)
    k, width = 20.0, 0.010
    trials: list[tuple[str, float, float, float, str, float | None]] = [
        ("free end", 0.060, 0.100, 10.0, "free", None),
        ("free end, 120 mm along the pipe", 0.120, 0.100, 10.0, "free", None),
        ("free end, film 40 W/m2/K", 0.060, 0.100, 40.0, "free", None),
        ("free end, 2 m long", 0.060, 2.0, 10.0, "free", None),
        ("end held, no temperature given: the ambient", 0.060, 0.100, 10.0, "held", None),
        ("end held at 30 degC", 0.060, 0.100, 10.0, "held", 30.0),
        ("end held at 30 degC, no film", 0.060, 0.100, 0.0, "held", 30.0),
        ("end held at 80 degC: heat comes in", 0.060, 0.100, 10.0, "held", 80.0),
    ]  # fmt: skip
    for name, length, exposed, film, end, at in trials:
        leg = _leg(width, length, exposed, film, end) | {"clock": 7}
        leg |= {} if at is None else {"end_temperature": f"{at} degC"}
        area, round_ = width * length, 2 * (width + length)
        if film == 0.0:
            total, share = k * area / exposed, 1.0
        else:
            m, root = sqrt(film * round_ / (k * area)), sqrt(film * round_ * k * area)
            total = root / tanh(m * exposed) if end == "held" else root * tanh(m * exposed)
            share = 1 / cosh(m * exposed) if end == "held" else 0.0
        sees = AMBIENT + share * ((AMBIENT if at is None else at) - AMBIENT)
        exact = (PIPE - sees) / (0.05 / (k * area) + 1 / total)
        values = level(_leg_line(leg, k)).values
        table.row(f"heat through the leg, {name}", exact, values["leg_heat_held"], 0.012)
        most = 0.015 * abs(exact) + 0.02
        table.within(f"heat sink, {name}", exact, values["heat_sink"], most, f"1.5 %: {FEET}")
    return table.rows


def touching() -> list[Row]:
    """A leg all along the line whose only way out is the barrier: a fin around the clock on either side, or nothing."""
    table = Table("leg and weather barrier", SHEET, why=FEET)
    k, width, length, film, sheet = 20.0, 0.010, 0.2, 10.0, 200.0 * 0.001
    leg = _leg(width, length, 0.1, 0.0, "free") | {"clock": 6}
    line_of = {"barrier": ALUMINIUM | {"thickness": "1 mm"}, "outside": {"coefficient": f"{film} W/m2/K"}}
    sinks = {}
    for touch in (True, False):
        ended = {"barrier_touches": touch, "spacing": f"{1.0001 * length} m"}
        sinks[touch] = level(_leg_line(leg, k, support=ended, **line_of)).values["heat_sink"]
    around = R_COVER * (pi - asin(width / (2 * R_COVER)))
    fins = 2 * length * sqrt(film * sheet) * tanh(sqrt(film / sheet) * around)
    exact = (PIPE - AMBIENT) / (0.05 / (k * width * length) + 1 / fins)
    name = "heat sink, barrier touches: fins of half the circumference"
    table.row(name, exact, sinks[True], 0.015)
    why = "2 % of touching: what the insulation under the gap passes"
    table.within("heat sink, cut clear: no way out", 0.0, sinks[False], 0.02 * exact, why)
    return table.rows


def barrier_along() -> list[Row]:
    """An insert heats the barrier over it, which carries the heat along the pipe: a fin of the whole circumference."""
    why = "the barrier over the insert taken as of one temperature, and the mesh"
    table = Table("weather barrier along the pipe", SHEET, why=why)
    length, k, film, sheet = 0.020, 20.0, 10.0, 200.0 * 0.002
    insert = {"arc": "360 deg", "length": f"{length} m", "conductivity": f"{k} W/m/K"}
    line_of = {"barrier": ALUMINIUM | {"thickness": "2 mm"}, "outside": {"coefficient": f"{film} W/m2/K"}}
    case = line(ISOTHERMAL, {"insert": insert, "spacing": "1.2 m"}, layer=IDLE, **line_of)
    around, m = 2 * pi * R_COVER, sqrt(film / sheet)
    fins = 2 * around * sqrt(film * sheet) * tanh(m * (0.6 - length / 2)) + film * around * length
    exact = 60.0 / (log(R_COVER / R_O) / (2 * pi * k * length) + 1 / fins)
    table.row("heat sink of an insert beneath it", exact, level(case).values["heat_sink"], 0.015)
    return table.rows


def _network(case: Case, fineness: float) -> Network:
    """The layered network without solving it."""
    support = case.supports[0]
    layout = place_support(case, support)
    plan = network(case, plan_mesh(layout, fineness))
    return support_network(plan, z_layers(layout, 0.2, 0.5, fineness), support)


def clear_width() -> list[Row]:
    """Area of the half's cover that has no barrier: the leg's cut face and the gap on its three sides."""
    table = Table("weather barrier cut clear", "geometry, from the definition", [])
    for gap in (0.003, 0.008):
        leg = {"clock": 4, "width": "10 mm", "length": "60 mm", "exposed": "100 mm"}
        support = {"leg": leg, "barrier_gap": f"{gap} m", "spacing": "0.4 m"}
        barrier = {"thickness": "1 mm", "material": "aluminium"}
        case = line(50.0, support, barrier=barrier, outside={})
        net = _network(case, 1.4)
        fin: Any = net.outlets["fin"]
        cut = np.isin(np.arange(net.nodes), fin.node).reshape(net.layers.count, -1)[:, net.cover_node]
        uncovered = bare_cover(net.plan, net.layers, case.supports[0], cut)
        bare = float(np.sum(uncovered * net.mesh.cover_length * net.layers.thickness[:, None]))
        arc = 2 * R_COVER * asin((0.005 + gap) / R_COVER)
        exact = arc * (0.030 + gap)
        name, why = (
            f"bare area around the leg, gap {1e3 * gap:g} mm",
            "the cover's cells in the section's plane",
        )
        table.row(name, exact, bare, 0.08, why, "m2")
        exact = 2 * R_COVER * asin(0.005 / R_COVER) * 0.030
        name = f"area of the cut face, gap {1e3 * gap:g} mm"
        table.row(name, exact, float(fin.area.sum()), 0.02, "the cover's cells", "m2")
    return table.rows


def places() -> list[Row]:
    """The coldest wall lies at the leg's foot, whatever its clock position."""
    table = Table("place of the coldest wall", "symmetry about the leg, from the definition", [])
    tracer = {"name": "T", "shape": "flat", "width": "8 mm", "height": "2 mm", "output": "20 W/m"}
    empty = {"state": "empty", "film_coefficient": "0 W/m2/K"}
    for clock in (8.0, 1.5):
        leg = {"clock": clock, "width": "10 mm", "length": "40 mm", "exposed": "200 mm", "end": "held"}
        other = [tracer | {"clock": (clock + 6) % 12}]
        values = level(line(15.0, {"leg": leg, "spacing": "1 m"}, tracer=other, contents=empty)).values
        away = (values["wall_min_clock"] - clock + 6) % 12 - 6
        name = f"clock of the coldest wall, leg at {clock:g}"
        table.within(name, 0.0, away, 0.2, "half a leg's width", "h")
        name = f"its place along the pipe, leg at {clock:g}"
        table.within(name, 0.0, values["wall_min_z"], 1e-9, "its middle", "m")
    return table.rows


GROUPS = (ends, touching, barrier_along, clear_width, places)
