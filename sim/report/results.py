"""results.json: every number of an answer as plain nested dicts. Temperatures in degC, heat in W/m, clocks in hours."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from math import isfinite
from typing import Any

from sim import __version__
from sim.judge.check import Answer, ConditionAnswer
from sim.report.support import support_results
from sim.report.words import ZERO
from sim.solve.convergence import Banded
from sim.solve.quantities import ABSOLUTE

UNITS = {
    "temperature": "degC",
    "band of a temperature": "K",
    "temperature difference and margin": "K",
    "heat_in, heat_out, from_contents, heat_loss, output": "W/m",
    "clock": "h, clockwise from 12 at the top, looking along the flow",
    "closure": "heat in less heat out, as a part of the heat that flows",
    "rayleigh, prandtl": "dimensionless",
    "order": "observed order of convergence",
    "seconds": "s",
}
HEAT = ("heat_in", "heat_out", "from_contents")


def is_temperature(path: str) -> bool:
    """Whether a quantity path holds an absolute temperature."""
    return path.rsplit(".", 1)[-1] in ABSOLUTE


def shown_value(path: str, value: float) -> float | None:
    """A quantity as it is written: degC for temperatures; None where there is no number."""
    shifted = value - ZERO if is_temperature(path) else value
    return finite(shifted)


def finite(value: float | None) -> float | None:
    """A number, or None for NaN and infinities: strict JSON has none."""
    return float(value) + 0.0 if value is not None and isfinite(value) else None


def steps_of(path: str) -> tuple[str, ...]:
    """A quantity path as keys. A tracer's or sensor's name may itself hold full stops."""
    first, _, rest = path.partition(".")
    if first in ("tracers", "sensors"):
        name, _, last = rest.rpartition(".")
        return (first, name, last)
    return tuple(path.split("."))


def _put(tree: dict[str, Any], keys: Sequence[str], value: Any) -> None:
    for key in keys[:-1]:
        tree = tree.setdefault(key, {})
    tree[keys[-1]] = value


def _values(quantities: Mapping[str, Banded]) -> dict[str, Any]:
    tree: dict[str, Any] = {}
    bands: dict[str, Any] = {}
    for path, found in quantities.items():
        keys = steps_of(path)
        _put(tree, keys, shown_value(path, found.value))
        if path != "closure":
            _put(bands, keys, finite(found.band))
    tree["band"] = bands
    return tree


def mesh_rows(answer: ConditionAnswer) -> list[dict[str, Any]]:
    """The three-mesh table of a condition, one dict a quantity."""
    if answer.result is None:
        return []
    rows = []
    for path, found in answer.result.quantities.items():
        rows.append(
            {
                "quantity": path,
                "values": [shown_value(path, v) for v in found.values],
                "order": finite(found.order),
                "extrapolated": shown_value(path, found.extrapolated),
                "band": finite(found.band),
                "asymptotic": found.asymptotic,
            }
        )
    return rows


def condition_results(answer: ConditionAnswer) -> dict[str, Any]:
    """All numbers and words of one condition."""
    tree: dict[str, Any] = {"verdict": answer.verdict, "failure": answer.failure or None}
    if answer.result is not None:
        tree |= _values(answer.result.quantities)
        tree["cells"] = list(answer.result.cells)
        tree["bracketed"] = answer.result.bracketed
        tree["imbalance"] = finite(answer.result.solution.imbalance)
    for sensor in answer.sensors:
        tree["sensors"][sensor.name] |= {
            "clock": sensor.clock,
            "above_contents": finite(sensor.above_contents),
            "above_wall": finite(sensor.above_wall),
            "nearest_tracer": sensor.nearest_tracer,
            "hours_away": sensor.hours_away,
            "keeps_distance": sensor.keeps_distance,
        }
    tree["simplified"] = _simplified(answer)
    tree["field_loss"] = _field_loss(answer)
    tree["limits"] = [
        {
            "limit": held.limit,
            "quantity": held.quantity,
            "value": finite(held.value - ZERO),
            "band": finite(held.band),
            "allowed": finite(held.allowed - ZERO),
            "margin": finite(held.margin),
            "verdict": held.verdict,
            "note": held.note,
        }
        for held in answer.limits
    ]
    tree["changes"] = list(answer.changes)
    tree["asymmetries"] = list(answer.asymmetries)
    tree["reasons"] = list(answer.reasons)
    tree["notes"] = list(answer.notes)
    tree["mesh_table"] = mesh_rows(answer)
    return tree


def _field_loss(answer: ConditionAnswer) -> dict[str, Any] | None:
    """The field's heat loss at the simplified method's pipe temperature, tracers unpowered."""
    if answer.loss is None:
        return None
    return {
        "pipe_temperature": finite(answer.simplified.pipe_temperature - ZERO),
        "heat_loss": finite(answer.loss.value),
        "band": finite(answer.loss.band),
    }


def _simplified(answer: ConditionAnswer) -> dict[str, Any]:
    said = answer.simplified
    sheath = {name: finite(t - ZERO) if t is not None else None for name, t in said.sheath.items()}
    known = [t for t in sheath.values() if t is not None]
    uncontrolled = said.pipe_temperature_uncontrolled
    return {
        "heat_loss": finite(said.heat_loss),
        "sheath": max(known) if known else None,
        "sheath_by_tracer": sheath,
        "pipe_temperature": finite(said.pipe_temperature - ZERO),
        "pipe_temperature_uncontrolled": finite(uncontrolled - ZERO) if uncontrolled is not None else None,
        "surface_temperature": finite(said.surface_temperature - ZERO),
        "output": finite(said.tracer_output),
        "notes": list(said.notes),
    }


def results(answer: Answer) -> dict[str, Any]:
    """The whole of results.json but for its list of files."""
    design = answer.case.design
    return {
        "program": "coldspot",
        "version": __version__,
        "title": answer.case.title,
        "verdict": answer.verdict,
        "exit_code": answer.exit_code,
        "units": UNITS,
        "conditions": {c.name: condition_results(c) for c in answer.conditions},
        "supports": support_results(answer),
        "design": {
            "maintain": finite(design.maintain - ZERO) if design.maintain is not None else None,
            "heat_loss": design.heat_loss,
            "output": design.output,
            "sheath": finite(design.sheath - ZERO) if design.sheath is not None else None,
            "margin": design.margin,
        },
        "seconds": {k: finite(v) for k, v in answer.seconds.items()},
        "caution": "Evidence for an engineer, not a certificate.",
    }


def as_json(tree: Mapping[str, Any]) -> str:
    """Strict JSON text. Raises ValueError if a NaN or an infinity is left in it."""
    return json.dumps(tree, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
