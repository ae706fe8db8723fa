"""Lines with one support, for tests: plain dicts as a case file gives them."""

from typing import Any

from sim.case import Case, case_for, parse_case


def line(support: dict[str, Any] | None = None, **changes: Any) -> dict[str, Any]:
    """A DN 100 line, 50 mm of insulation, one flat tracer at 3 o'clock, one coefficient outside; invented."""
    raw: dict[str, Any] = {
        "pipe": {"size": "DN 100", "schedule": "40", "material": "carbon steel"},
        "contents": {"state": "mixed", "film_coefficient": "200 W/m2/K"},
        "tracer": [
            {
                "name": "T1",
                "clock": 3,
                "output": "25 W/m",
                "shape": "flat",
                "width": "12 mm",
                "height": "5 mm",
            }
        ],
        "insulation": {"layer": [{"conductivity": "0.04 W/m/K", "thickness": "50 mm"}]},
        "outside": {"coefficient": "10 W/m2/K"},
        "condition": [{"name": "a", "ambient": "0 degC"}],
        "design": {"maintain": "60 degC"},
        "support": [{"name": "S1", "family": "shoe"} | (support or {})],
    }
    return raw | changes


def narrowed(support: dict[str, Any] | None = None, **changes: Any) -> Case:
    """The same as a case narrowed to its one condition."""
    case = parse_case(line(support, **changes))
    return case_for(case, case.conditions[0].name)
