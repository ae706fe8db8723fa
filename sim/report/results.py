"""results.json: every number of an answer as plain nested dicts. Temperatures in degC, heat in W/m, clocks in hours."""

import json
from collections.abc import Callable, Mapping
from typing import Any

from sim.judge.check import Answer, ConditionAnswer
from sim.report.episode_results import episode_results
from sim.report.signoff import case_hash, today
from sim.report.tree import NO_CERTIFICATE, finite, head, limit_row, put, shown_value
from sim.report.words import ZERO
from sim.solve.convergence import Banded
from sim.solve.elbow import of_elbow as of_bend
from sim.solve.fitting_measures import measure_rows
from sim.solve.paths import Quantity, declared, of_elbow, of_support, quantity

UNITS = {
    "temperature": "degC",
    "band of a temperature": "K",
    "temperature difference and margin": "K",
    "heat_loss, output": "W/m",
    "clock": "o'clock, clockwise from 12 at the top, looking along the flow",
    "band of a clock position": "hours of the clock, 30 degrees each",
    "closure": "heat in less heat out, as a part of the heat that flows",
    "order": "observed order of convergence",
    "seconds": "s",
} | {row.pattern: row.measure.unit or "dimensionless" for row in declared()}


def values_tree(
    quantities: Mapping[str, Banded], declared_of: Callable[[str], Quantity] = quantity
) -> dict[str, Any]:
    """Quantities nested by the keys of their paths, and `band`, the same of their bands."""
    tree: dict[str, Any] = {}
    bands: dict[str, Any] = {}
    for path, value in quantities.items():
        row = declared_of(path)
        put(tree, row.keys, shown_value(row, value.value))
        if row.band != "none":
            put(bands, row.keys, finite(value.band))
    tree["band"] = bands
    return tree


def mesh_rows(
    quantities: Mapping[str, Banded], declared_of: Callable[[str], Quantity] = quantity
) -> list[dict[str, Any]]:
    """The three-mesh table, one dict a quantity."""
    rows = []
    for path, value in quantities.items():
        row = declared_of(path)
        rows.append(
            {
                "quantity": path,
                "unit": row.measure.unit,
                "values": [shown_value(row, v) for v in value.values],
                "order": finite(value.order),
                "extrapolated": shown_value(row, value.extrapolated),
                "band": finite(value.band),
                "asymptotic": value.asymptotic,
            }
        )
    return rows


def condition_results(answer: ConditionAnswer) -> dict[str, Any]:
    """All numbers and words of one condition."""
    tree: dict[str, Any] = {"verdict": answer.verdict, "failure": answer.failure or None}
    if answer.result is not None:
        tree |= values_tree(answer.result.quantities)
        tree["cells"] = list(answer.result.cells)
        tree["bracketed"] = answer.result.bracketed
        tree["contents_answer"] = answer.result.basis or None
        tree["band_parts"] = {p: dict(parts) for p, parts in answer.result.parts.items() if parts}
        tree["imbalance"] = finite(answer.result.solution.imbalance)
        tree["further_steady_states"] = [values_tree(state.quantities) for state in answer.result.further]
        tree["unstable_wall_means"] = [finite(mean - ZERO) for mean in answer.result.unstable]
        tree["all_states_known"] = answer.result.complete
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
    tree["limits"] = [limit_row(check) for check in answer.limits]
    tree["changes"] = list(answer.changes)
    tree["asymmetries"] = list(answer.asymmetries)
    tree["reasons"] = list(answer.reasons)
    tree["notes"] = list(answer.notes)
    tree["mesh_table"] = mesh_rows(answer.result.quantities) if answer.result is not None else []
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
    simplified = answer.simplified
    sheath = {name: finite(t - ZERO) if t is not None else None for name, t in simplified.sheath.items()}
    known = [t for t in sheath.values() if t is not None]
    uncontrolled = simplified.pipe_temperature_uncontrolled
    return {
        "heat_loss": finite(simplified.heat_loss),
        "sheath": max(known) if known else None,
        "sheath_by_tracer": sheath,
        "pipe_temperature": finite(simplified.pipe_temperature - ZERO),
        "pipe_temperature_uncontrolled": finite(uncontrolled - ZERO) if uncontrolled is not None else None,
        "surface_temperature": finite(simplified.surface_temperature - ZERO),
        "output": finite(simplified.tracer_output),
        "notes": list(simplified.notes),
    }


def support_results(answer: Answer, kind: str = "support") -> dict[str, Any]:
    """`supports` of results.json, or `fittings`: name -> conditions -> numbers, bands, the same with the allowance.

    Temperatures in degC, heat in W, lengths and z in m. Without an allowance `with_allowance` repeats the numbers.
    """
    tree: dict[str, Any] = {}
    for support in (one for one in answer.supports if one.kind == kind):
        entry: dict[str, Any] = {"verdict": support.verdict, "failure": support.failure or None}
        if support.result is not None:
            values = support.result.quantities
            alone = {p: q for p, q in values.items() if not p.startswith("with_allowance.")}
            entry |= values_tree(alone, of_support)
            installed = {p.partition(".")[2]: q for p, q in values.items() if p.startswith("with_allowance.")}
            entry["with_allowance"] = values_tree(
                installed or {p: q for p, q in alone.items() if not p.startswith("allowance_")}, of_support
            )
            entry["unknowns"] = list(support.result.unknowns)
            entry["maintain"] = finite(support.result.line.maintain - ZERO)
            entry["notes"] = list(support.result.notes)
            entry["mesh_table"] = mesh_rows(values, of_support)
            if any(support.result.bodies):
                entry["measures"] = measure_rows(support.result.bodies)
        entry["allowance"] = {
            "installed": support.support.allowance,
            "common_practice": support.rule,
            "verdict": support.allowance_verdict,
            "not_reachable": dict(support.result.unreachable) if support.result is not None else {},
        }
        entry["limits"] = [limit_row(check) for check in support.limits]
        entry["limits_tracer_alone"] = [limit_row(check) for check in support.without]
        tree.setdefault(support.name, {"family": support.support.family, "conditions": {}})
        tree[support.name]["conditions"][support.condition] = entry
    return tree


def elbow_results(answer: Answer) -> dict[str, Any] | None:
    """`elbow` of results.json: the bend, and in each condition its numbers as the tracers lie, with them turned to its
    outside and inside, and what the same length of straight pipe loses; None without a bend."""
    if not answer.elbows:
        return None
    tree: dict[str, Any] = {}
    for elbow in answer.elbows:
        entry: dict[str, Any] = {"verdict": elbow.verdict, "failure": elbow.failure or None}
        if elbow.result is not None:
            entry |= values_tree(of_bend(elbow.result), of_elbow)
            entry["cells"], entry["bracketed"] = list(elbow.result.cells), elbow.result.bracketed
        for name, laid in elbow.sides.items():
            entry[name] = {"clock": laid.clock, "failure": laid.failure or None}
            if laid.result is not None:
                entry[name] |= values_tree(of_bend(laid.result), of_elbow)
        if elbow.straight is not None:
            lost = elbow.straight.quantities["heat_out"]
            entry["straight"] = {"per_radian": {"heat_out": finite(elbow.radius * lost.value)}}
            entry["straight"]["band"] = {"per_radian": {"heat_out": finite(elbow.radius * lost.band)}}
        entry["limits"] = [limit_row(check) for check in elbow.limits]
        entry["notes"] = list(elbow.notes)
        entry["mesh_table"] = mesh_rows(of_bend(elbow.result), of_elbow) if elbow.result is not None else []
        tree[elbow.condition] = entry
    first = answer.elbows[0]
    assert first.case.elbow is not None
    return {"radius": first.radius, "outside": first.case.elbow.outside, "conditions": tree}


def results(answer: Answer) -> dict[str, Any]:
    """The whole of results.json but for its list of files."""
    design = answer.case.design
    return head(answer.case.title) | {
        "tag": answer.case.tag,
        "revision": answer.case.revision,
        "date": today(),
        "case_hash": case_hash(answer.case),
        "verdict": answer.verdict,
        "exit_code": answer.exit_code,
        "units": UNITS,
        "conditions": {c.name: condition_results(c) for c in answer.conditions},
        "elbow": elbow_results(answer),
        "supports": support_results(answer),
        "fittings": support_results(answer, "fitting"),
        "episodes": {e.name: episode_results(e) for e in answer.episodes},
        "episodes_not_run": list(answer.not_run),
        "not_followed_over_time": list(answer.not_followed),
        "design": {
            "maintain": finite(design.maintain - ZERO) if design.maintain is not None else None,
            "heat_loss": design.heat_loss,
            "output": design.output,
            "sheath": finite(design.sheath - ZERO) if design.sheath is not None else None,
            "margin": design.margin,
        },
        "seconds": {k: finite(v) for k, v in answer.seconds.items()},
        "caution": NO_CERTIFICATE,
    }


def as_json(tree: Mapping[str, Any]) -> str:
    """Strict JSON text. Raises ValueError if a NaN or an infinity is left in it."""
    return json.dumps(tree, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
