"""From a TOML file or a dict to a Case, or to one clear message."""

import copy
import re
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from .case import Case
from .checks import check
from .episode_checks import attach_weather, start_faults
from .errors import MOST, CaseError, dotted, join_key, nearest, raise_all
from .operation import OVERRIDABLE
from .overrides import overridden
from .resolve import resolved
from .silent import refused
from .toml import read_toml
from .tracing import Tracer
from .validation_errors import case_error

# a case narrowed to one condition leaves out what names others, and what follows from the whole case
WITHOUT_TIME: dict[str, Any] = {"episodes": (), "controls": ()}


def load_case(path: str | Path) -> Case:
    """Read a case file. Raises CaseError: one message with file, key, what is wrong and what is accepted."""
    return parse_case(read_toml(path, "case"), source=str(path))


def parse_case(raw: dict[str, Any], source: str = "<dict>", *, varied: bool = False) -> Case:
    """A Case from a nested dict as TOML gives it. Raises CaseError; every condition is built and checked.

    varied: a variant of a case that was read before; keys that do nothing in it are then not refused.
    """
    if not isinstance(raw, dict):
        raise CaseError(
            "is not a table of keys; accepted: a nested dict as a case file gives it", file=source
        )
    try:
        raw = copy.deepcopy(raw)
    except RecursionError:
        raise CaseError("is nested too deeply", file=source) from None
    try:
        case = _read(raw, source)
    except CaseError as error:
        raise_all([*_flat(error), *_of_conditions(raw, error)], source)
        raise
    case._raw = raw
    case._source = source
    faults = attach_weather(case, Path(source).parent)
    for position, condition in enumerate(case.conditions):
        try:
            case._built[condition.name] = _for_condition(case, raw, position)
        except CaseError as error:
            faults += _flat(error)
    if not faults:
        faults = start_faults(case, case._built)
    if not varied and not faults:
        faults = refused(case._built, case)
    raise_all(faults, source)
    return case


def _flat(error: CaseError) -> list[CaseError]:
    return [error, *error.others]


def _of_conditions(raw: dict[str, Any], known: CaseError) -> list[CaseError]:
    """What is wrong with the overrides of a case that is itself not valid, but for what follows from that."""
    conditions = raw.get("condition")
    faulty = [fault.key for fault in _flat(known) if fault.key]
    steady = {key: value for key, value in raw.items() if key not in ("episode", "control")}
    errors = []
    for position, entry in enumerate(conditions[:MOST] if isinstance(conditions, list) else []):
        overrides = {k: v for k, v in entry.items() if k in OVERRIDABLE} if isinstance(entry, dict) else {}
        plain = {k: v for k, v in entry.items() if k not in OVERRIDABLE} if overrides else {}
        try:
            if overrides:
                _read(overridden({**steady, "condition": [plain]}, overrides), "")
        except CaseError as error:
            key = dotted(("condition", position), raw)
            errors += [
                CaseError(fault.message, key=join_key(key, fault.key or ""))
                for fault in _flat(error)
                if not (fault.key or "").startswith(("condition", *faulty))
            ]
    return errors


def case_for(case: Case, condition: str) -> Case:
    """The case in one condition: its overrides applied and checked, `conditions` holding only that one.

    Raises CaseError where there is no condition of that name.
    """
    built = case._built.get(condition)
    if built is not None:
        return built
    names = [entry.name for entry in case.conditions]
    if condition not in names:
        message = f'there is no condition "{condition}"{nearest(condition, names)}; known: {", ".join(names)}'
        raise CaseError(message, file=case._source, key="condition")
    position = names.index(condition)
    if not case.conditions[position].overrides:
        return case.model_copy(update={"conditions": (case.conditions[position],), **WITHOUT_TIME})
    return _for_condition(case, resolved(case), position)


def with_overrides(case: Case, overrides: dict[str, Any]) -> Case:
    """The case with overrides laid over it, written as in a condition: {"tracer": {"T1": {"clock": 4}}}.

    Tables are merged key by key; a table in place of a list names the entries that change, a list replaces it.
    Raises CaseError where they fit nowhere or the result is not a valid case.
    """
    raw = case._raw if case._raw is not None else resolved(case)
    try:
        return parse_case(overridden(raw, overrides), source=case._source, varied=True)
    except CaseError as error:
        raise_all(_flat(error), case._source)
        raise


def _read(raw: dict[str, Any], source: str) -> Case:
    try:
        case = Case.model_validate(raw)
    except ValidationError as error:
        raise case_error(error, Case, raw, source) from None
    except RecursionError:
        raise CaseError("is nested too deeply", file=source) from None
    try:
        check(case)
    except CaseError as error:
        raise_all(_flat(error), source)
    return case


def _for_condition(case: Case, raw: dict[str, Any], position: int) -> Case:
    condition = case.conditions[position]
    alone = condition.model_copy(update={"overrides": {}})
    if not condition.overrides:
        built = case.model_copy(update={"conditions": (alone,), **WITHOUT_TIME})
    else:
        key = f'condition[{position + 1}] "{condition.name}"'
        plain = {k: v for k, v in raw["condition"][position].items() if k not in condition.overrides}
        try:
            # what belongs to time names other conditions and is checked with the whole case
            alone_raw = {key: value for key, value in raw.items() if key not in ("episode", "control")}
            merged = overridden({**alone_raw, "condition": [plain]}, condition.overrides)
            built = _read(merged, case._source)
        except CaseError as error:
            faults = [
                CaseError(f.message + _of_a_list(f, condition.overrides), key=join_key(key, f.key or ""))
                for f in _flat(error)
            ]
            raise_all(faults, case._source)
            raise
        built._raw = merged
    built._source = case._source
    return built


def _of_a_list(error: CaseError, overrides: dict[str, Any]) -> str:
    """What to say where a list of partial tables was given in a condition, as if they would be merged."""
    match = re.match(r"(?:insulation\.)?(tracer|sensor|layer|support)\[\d+\]", error.key or "")
    if match is None or not error.message.startswith("is missing"):
        return ""
    key = match[1]
    given = overrides.get("insulation", {}).get("layer") if key == "layer" else overrides.get(key)
    if not isinstance(given, list):
        return ""
    entry = "insulation.layer.1" if key == "layer" else f"{key}.NAME"
    return f" (a list given in a condition replaces the whole list; to change keys of one {key}, write {entry}.KEY)"


def turned(
    case: Case, condition: str, clock: float, state: str | None = None, tracer: str | None = None
) -> Case:
    """The case in one condition with its tracers turned so that the first (or the named one alone) is at a clock
    position, contents in a state if one is given. Raises CaseError where that cannot be."""
    narrowed = case_for(case, condition)
    turning = turning_tracers(narrowed, tracer)
    shift = clock - turning[0].clock
    changes: dict[str, dict[str, object]] = {
        "tracer": {t.name: {"clock": round((t.clock + shift) % 12.0, 9)} for t in turning}
    }
    if state is not None:
        changes["contents"] = {"state": state}
    return case_for(with_overrides(narrowed, changes), condition)


def turning_tracers(case: Case, tracer: str | None = None) -> list[Tracer]:
    """The tracers of a condition that turn. Raises CaseError where there is none."""
    if not case.tracers:
        raise CaseError("the case has no tracer to move", file=case._source, key="tracer")
    names = [t.name for t in case.tracers]
    if tracer is not None and tracer not in names:
        message = f'"{tracer}" is no tracer; accepted: {", ".join(names)}'
        raise CaseError(message, file=case._source, key="tracer")
    return [t for t in case.tracers if tracer in (None, t.name)]
