"""Lines with one fitting, for tests: plain dicts as a case file gives them."""

from typing import Any

import support_lines

from sim.case import Case, case_for, parse_case


def line(*body: dict[str, Any], fitting: dict[str, Any] | None = None, **changes: Any) -> dict[str, Any]:
    """The line of `support_lines`, without tracer, with a fitting of some bodies; invented."""
    raw = support_lines.line(tracer=[])
    del raw["support"]
    own: dict[str, Any] = {"name": "V1"} | ({"body": list(body)} if body else {}) | (fitting or {})
    return raw | {"fitting": [own]} | changes


def narrowed(*body: dict[str, Any], fitting: dict[str, Any] | None = None, **changes: Any) -> Case:
    """The same as a case narrowed to its one condition."""
    case = parse_case(line(*body, fitting=fitting, **changes))
    return case_for(case, case.conditions[0].name)


def along(diameter: float, half: float, **keys: Any) -> dict[str, Any]:
    """A body along, mm, symmetric about the middle."""
    return {"axis": "along", "diameter": f"{diameter} mm", "from": f"{-half} mm", "to": f"{half} mm"} | keys


def across(diameter: float, to: float, clock: float = 12, **keys: Any) -> dict[str, Any]:
    """A body across, mm, from the pipe's axis."""
    return {"axis": "across", "clock": clock, "diameter": f"{diameter} mm", "to": f"{to} mm"} | keys
