"""Fittings in closed form: a bare rim as an annular fin, a bonnet as a rod, a covered stub as coaxial cylinders."""

from typing import Any

import numpy as np
from scipy.special import i0, i1, k0, k1

from sim.solve.support_level import solve_level
from validation.published.rows import Row
from validation.sketches.lines import flowing, solid
from validation.sketches.stretch import only

FIN = "@incropera, table 3.5 and section 3.6.4 (from memory)"
COAXIAL = "@incropera, table 4.1 (from memory): coaxial cylinders, of two lengths"
FINENESS = 1.2
OUTER, WALL = 0.05715, 0.001  # m, of the pipe; a body takes the wall's place: it begins at the bore
HOT, FILM = 60.0, 10.0  # degC in the bore, the air at 0 degC; W/m2/K outside
PERFECT, NONE = 2e3, 2e-4  # W/m/K: a wall without resistance, insulation without conduction
WHY = "2 %, the bar for a heat sink; the pipe and its film are below 0.5 %"


def _case(body: list[dict[str, Any]], thickness: float, wool: float, film: float = FILM) -> Any:
    """A line with a perfect wall and a fitting of some bodies, invented."""
    wall = {"outer_diameter": f"{2 * OUTER} m", "wall": f"{WALL} m", "material": solid(PERFECT)}
    return only(
        {
            "pipe": wall,
            "contents": flowing(HOT, 50000.0),
            "insulation": {"layer": [{"conductivity": f"{wool} W/m/K", "thickness": f"{thickness} m"}]},
            "outside": {"coefficient": f"{film} W/m2/K"},
            "condition": [{"name": "a", "ambient": "0 degC"}],
            "design": {"maintain": f"{HOT} degC"},
            "fitting": [{"name": "F", "body": body}],
        }
    )


def _number(case: Any, path: str) -> float:
    return solve_level(case, case.fittings[0], FINENESS).values[path]


def annular_fin() -> list[Row]:
    """A thin flange whose rim stands out of insulation that conducts nothing: an annular fin on an annulus."""
    half, thick, radius, k = 0.004, 0.010, 0.115, 15.0
    body = {"axis": "along", "diameter": f"{2 * radius} m", "from": f"{-half} m", "to": f"{half} m"}
    ours = _number(_case([body | {"material": solid(k), "cover": "bare"}], thick, NONE), "bare_loss")
    foot, tip = OUTER + thick, radius + half  # the fin's own, the rim's area as so much more of its faces
    m = np.sqrt(FILM / (k * half))
    below = k0(m * foot) * i1(m * tip) + i0(m * foot) * k1(m * tip)
    above = k1(m * foot) * i1(m * tip) - i1(m * foot) * k1(m * tip)
    fin = 2 * np.pi * k * foot * 2 * half * m * above / below
    covered = 2 * np.pi * k * 2 * half / np.log(foot / (OUTER - WALL))
    # between the faces of the insulation the rim's foot loses by nothing but its conduction
    exact = HOT / (1 / fin + 1 / covered)
    return [Row("annular fin", FIN, "bare_loss", exact, ours, 0.02 * exact, WHY, "W")]


def rod_fin() -> list[Row]:
    """A bare bonnet of solid metal out of insulation that conducts nothing: a rod with a free end."""
    radius, thick, end, k = 0.012, 0.030, 0.260, 50.0
    body = {"axis": "across", "clock": 12, "diameter": f"{2 * radius} m", "to": f"{end} m", "cover": "bare"}
    ours = _number(_case([body | {"material": solid(k)}], thick, NONE), "bare_loss")
    area = np.pi * radius**2
    m, length = np.sqrt(2 * FILM / (k * radius)), end - OUTER - thick
    tip = FILM / (m * k)
    fin = k * area * m * (np.tanh(m * length) + tip) / (1 + tip * np.tanh(m * length))
    exact = HOT / (1 / fin + (thick + WALL) / (k * area))
    return [Row("rod fin", FIN, "bare_loss", exact, ours, 0.02 * exact, WHY, "W")]


def covered_stub() -> list[Row]:
    """What a covered stub drains more where it is longer: coaxial cylinders, its end and its foot the same."""
    radius, cover, wool = 0.015, 0.030, 0.04
    ends = 0.160, 0.260
    drained = []
    for end in ends:
        body = {"axis": "across", "clock": 12, "diameter": f"{2 * radius} m", "to": f"{end} m"}
        body |= {"material": solid(PERFECT), "cover": f"{cover} m"}
        drained.append(_number(_case([body], 0.050, wool, 1000.0), "chi"))
    ours = (drained[1] - drained[0]) / (ends[1] - ends[0])
    resistance = np.log((radius + cover) / radius) / wool + 1 / (1000.0 * (radius + cover))
    exact = 2 * np.pi / resistance
    return [Row("covered stub", COAXIAL, "chi a metre of it", exact, ours, 0.02 * exact, WHY, "W/m/K")]


GROUPS = ()
LONG = (annular_fin, rod_fin, covered_stub)
