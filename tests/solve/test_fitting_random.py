"""Random fittings: each closes, none crashes; what is bare drains more than what is covered."""

from functools import cache
from typing import Any

import numpy as np
import pytest
from fitting_lines import across, along, narrowed

from sim.case import Case
from sim.solve.support_level import Level, solve_level

SIZES = {"DN 25": 33.4, "DN 50": 60.3, "DN 100": 114.3, "DN 200": 219.1}
STATES: tuple[dict[str, Any], ...] = (
    {"state": "flowing", "temperature": "60 degC", "velocity": "1 m/s"},
    {"state": "mixed"},
    {"state": "still"},
    {"state": "empty"},
    {"state": "still", "fill": 0.4},
    {"state": "mixed", "fill": 0.6},
)
TRACER = {"name": "T1", "clock": 3, "shape": "flat", "width": "11 mm", "height": "5 mm", "output": "40 W/m"}
ROUGH = 0.55


def fitting(seed: int) -> Case:
    """A line with a fitting of one to four bodies of random measures, in a random state of its contents."""
    draw = np.random.default_rng(seed)
    size = str(draw.choice(list(SIZES)))
    outer, thick = SIZES[size], float(draw.choice([30, 50, 80]))

    def cover() -> str:
        return "bare" if draw.random() < 0.5 else f"{draw.uniform(0.4, 1.2) * thick:.1f} mm"

    half = draw.uniform(20, 150)
    wide = outer + 2 * thick * draw.uniform(0.1, 1.6)
    bodies = [along(wide, half, cover=cover())]
    for clock in draw.choice([12, 9, 6], int(draw.integers(0, 3)), replace=False):
        across_wide = draw.uniform(0.2, 1.1) * min(outer, 2 * half)
        one = across(across_wide, wide / 2 + draw.uniform(10, 200), clock=int(clock), cover=cover())
        if draw.random() < 0.4:
            filled = str(draw.choice(["contents", "gas"]))
            one["hollow"] = {
                "diameter": f"{0.6 * across_wide} mm",
                "to": f"{wide / 2} mm",
                "filled": filled,
            }
        bodies.append(one)
    changes: dict[str, Any] = {
        "pipe": {"size": size, "schedule": "40", "material": "carbon steel"},
        "insulation": {"layer": [{"conductivity": "0.04 W/m/K", "thickness": f"{thick} mm"}]},
        "contents": STATES[int(draw.integers(len(STATES)))] | {"fluid": "water"},
        "design": {"maintain": "60 degC"},
    }
    if draw.random() < 0.7:
        changes["tracer"] = [TRACER]
    return narrowed(*bodies, **changes)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(20))
def test_random_fittings_close(seed: int) -> None:
    """What leaves a fitting and its line comes in, whatever its bodies and whatever is in the bore; it is a sink."""
    case = fitting(seed)
    found = solve_level(case, case.fittings[0], ROUGH).values
    assert found["closure"] < 1e-6
    assert found["chi"] > 0.0


@cache
def rod(clear: float, cover: str = "bare", **changes: Any) -> Level:
    """A covered body with a rod that stands out of its cover by `clear`, mm."""
    case = narrowed(along(170, 60, cover="40 mm"), across(50, 125 + clear, cover=cover), **dict(changes))
    return solve_level(case, case.fittings[0], ROUGH)


@pytest.mark.slow
def test_chi_grows_with_what_stands_out_bare_and_falls_with_cover() -> None:
    short, long = rod(30), rod(120)
    assert long.values["chi"] > short.values["chi"] > 0.0
    thin, thick = rod(120, "20 mm"), rod(120, "60 mm")
    assert long.values["chi"] > thin.values["chi"] > thick.values["chi"] > 0.0
