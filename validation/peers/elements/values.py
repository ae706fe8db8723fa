"""The finite elements' results by the names that the program's own quantities have."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from sim.case import Case
from sim.solve.paths import quantity

HEAT = {"heat_out": "heat_out", "from_contents": "heat_from_contents"}


def value_of(elements: Mapping[str, Any], path: str, case: Case) -> float | None:
    """A quantity of a solution of `validation.peers.elements.section.solve_section`; None where it has none."""
    keys = quantity(path).keys
    group, last = keys[0], keys[-1]
    if path in HEAT:
        return float(elements[HEAT[path]])
    if group in ("wall", "barrier"):
        value = elements[group].get(last)
        return None if value is None else float(value)
    if group == "tracers":
        value = elements["tracers"][keys[1]].get(last)
        return None if value is None else float(value)
    if group == "sensors":
        clock = next(s.clock for s in case.sensors if s.name == keys[1])
        angle, temperature = elements["around"]["wall"]
        return float(np.interp(clock * np.pi / 6, angle, temperature, period=2 * np.pi))
    if group in ("contents", "liquid", "gas"):
        return _contents(elements, group, last, case)
    return None


def _contents(elements: Mapping[str, Any], group: str, last: str, case: Case) -> float | None:
    parts = {"liquid": elements["contents"], "gas": elements["gas"]}
    if group != "contents":
        part = parts[group]
        return None if part is None or last not in part else float(part[last])
    there = {name: part for name, part in parts.items() if part is not None}
    if not there or last not in ("min", "mean", "max"):
        return None
    values = [float(part[last]) for part in there.values()]
    if last != "mean":
        return min(values) if last == "min" else max(values)
    if len(there) == 1:
        return values[0]
    # the share of a circle below a level
    angle = np.arccos(1 - 2 * case.contents.fill)
    share = float((angle - np.sin(angle) * np.cos(angle)) / np.pi)
    return share * values[0] + (1 - share) * values[1]
