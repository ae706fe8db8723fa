"""Changes to a case as it is written: any key, by its dotted path, over one or all entries of a list table."""

import copy
import tomllib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

from pydantic import ValidationError

from sim.case import Case, CaseError, Curve, Output
from sim.case.errors import nearest
from sim.case.overrides import LIST_TABLES, WHOLE, overridden
from sim.case.resolve import unit_of, writer_of, written
from sim.case.series import Series
from sim.case.units import shown
from sim.case.validation_errors import case_error, declaration

Path = tuple[str, ...]


@dataclass(frozen=True)
class Relative:
    """A change of the case's own value: times a factor, plus a shift in SI."""

    factor: float = 1.0
    shift: float = 0.0


Change = tuple[Path, Any]  # the value as a case writes it, or Relative
COUNT: Path = ("tracer", "count")
EVERY = "*"
CLOCK_UNIT = "o'clock"  # as the schema writes it: the only unit that comes round again
Value = tuple[Path, Any, str, Callable[[Any], Any]]  # where, in SI, its unit, how the case writes it


def path_of(key: str) -> Path:
    """Steps of a dotted key, read as TOML reads it (quotes around a name with a full stop). Raises ValueError."""
    if key == "" or "\n" in key or "=" in key:
        raise ValueError("is not a key")
    quoted = ".".join('"*"' if part.strip() == EVERY else part for part in key.split("."))
    try:
        nested = tomllib.loads(f"{quoted} = 0")
    except tomllib.TOMLDecodeError:
        raise ValueError("is not a key: steps of letters, digits, - and _ joined by full stops") from None
    steps: list[str] = []
    inner: Any = nested
    while isinstance(inner, dict):
        step, inner = next(iter(inner.items()))
        steps.append(step)
    return tuple(steps)


def flattened(nested: dict[str, Any], before: Path = ()) -> list[Change]:
    """Changes of a nested dict; keys may themselves be dotted."""
    changes: list[Change] = []
    for key, value in nested.items():
        path = before + path_of(key)
        whole = path[-1] in (*WHOLE, "wet", "void")
        if isinstance(value, dict) and not whole:
            changes += flattened(value, path)
        else:
            changes.append((path, value))
    return changes


def edited(raw: dict[str, Any], changes: Iterable[Change]) -> dict[str, Any]:
    """The raw case with changes laid over it; relative ones act on what the others have set.

    Raises CaseError where an address leads nowhere, or where what a relative change acts on is not valid.
    """
    changes = list(changes)
    result = _set(raw, [c for c in changes if not isinstance(c[1], Relative)])
    relative = _gathered([c for c in changes if isinstance(c[1], Relative)])
    if not relative:
        return result
    try:
        case = Case.model_validate(result)
        moved = [
            (single, changed(value, unit, write, factor=by.factor, shift=by.shift))
            for path, by in relative.items()
            for single, value, unit, write in own_values(case, path)
        ]
    except ValidationError as error:
        raise case_error(error, Case, result, "") from None
    except ValueError as error:
        raise CaseError(str(error)) from None
    return _set(result, moved)


def _gathered(changes: list[Change]) -> dict[Path, Relative]:
    gathered: dict[Path, Relative] = {}
    for path, by in changes:
        before = gathered.get(path, Relative())
        gathered[path] = Relative(before.factor * by.factor, before.shift + by.shift)
    return gathered


def _set(raw: dict[str, Any], changes: list[Change]) -> dict[str, Any]:
    nested: dict[str, Any] = {}
    result = raw
    for path, value in sorted(changes, key=lambda change: change[0] != COUNT):
        if path == COUNT:
            result = with_tracers(result, value)
        elif path[0] == "condition":
            result = _in_condition(result, path, value)
        else:
            for single in expanded(result, path):
                inner = nested
                for step in single[:-1]:
                    inner = inner.setdefault(step, {})
                    if not isinstance(inner, dict):
                        message = "is set as a whole and in part at once; accepted: one of them"
                        raise CaseError(message, key=".".join(single))
                inner[single[-1]] = value
    return overridden(result, nested) if nested else result


def with_tracers(raw: dict[str, Any], clocks: list[float]) -> dict[str, Any]:
    """The raw case with one copy of its first tracer at each clock position, called T1, T2, ..."""
    if not isinstance(clocks, list) or not clocks:
        message = f"{shown(clocks)} is no number of tracers; accepted: whole numbers from 1 to 12, or clock positions"
        raise CaseError(message, key=".".join(COUNT))
    tracers = raw.get("tracer")
    if not isinstance(tracers, list) or not tracers or not isinstance(tracers[0], dict):
        raise CaseError("the case has no tracer to multiply", key="tracer")
    first = {k: v for k, v in tracers[0].items() if k != "over"}
    copies = [copy.deepcopy(first) | {"name": f"T{n}", "clock": c} for n, c in enumerate(clocks, start=1)]
    return {**raw, "tracer": copies}


def spread_clocks(count: int) -> list[float]:
    """Clock positions of `count` tracers evenly around the pipe, in mirrored pairs about 6 o'clock."""
    return [round((6.0 + 12.0 / count * (k - (count - 1) / 2)) % 12.0, 9) for k in range(count)]


def expanded(raw: dict[str, Any], path: Path) -> list[Path]:
    """The path, or one for each entry where it has *. Raises CaseError where there is no list at *."""
    if EVERY not in path:
        return [path]
    at = path.index(EVERY)
    table: Any = raw
    for step in path[:at]:
        table = table.get(step) if isinstance(table, dict) else None
    if at == 0 or path[at - 1] not in LIST_TABLES or not isinstance(table, list) or not table:
        raise CaseError("there is no list of tables at *", key=".".join(path))
    spread = [(*path[:at], str(n), *path[at + 1 :]) for n in range(1, len(table) + 1)]
    return [single for each in spread for single in expanded(raw, each)]


def _in_condition(raw: dict[str, Any], path: Path, value: Any) -> dict[str, Any]:
    conditions = [dict(entry) for entry in raw.get("condition", [])]
    names = [str(entry.get("name")) for entry in conditions]
    if len(path) < 3:
        raise CaseError(
            "is not a key of a condition; accepted: condition.<name or *>.<key>", key=".".join(path)
        )
    if path[1] != EVERY and path[1] not in names:
        message = f"there is no such condition{nearest(path[1], names)}; accepted: *, {', '.join(names)}"
        raise CaseError(message, key=".".join(path))
    for entry, name in zip(conditions, names, strict=True):
        if path[1] in (EVERY, name):
            _set_within(entry, path, value)
    return {**raw, "condition": conditions}


def _set_within(entry: dict[str, Any], path: Path, value: Any) -> None:
    """Set condition.<name>.<key> in a condition's raw table, whose tables are copied on the way and whose lists (they
    replace the case's) are changed entry by entry."""
    inner = entry
    for n, step in enumerate(path[2:-1], start=2):
        below = inner.get(step)
        if step in LIST_TABLES and isinstance(below, list):
            nested: Any = value
            for later in reversed(path[n + 1 :]):
                nested = {later: nested}
            try:
                inner[step] = overridden({step: below}, {step: nested})[step]
            except CaseError as error:
                raise CaseError(error.message, key=".".join((*path[:n], error.key or ""))) from None
            return
        inner[step] = dict(below) if isinstance(below, dict) else {}
        inner = inner[step]
    inner[path[-1]] = value


def own_values(case: Case, path: Path) -> list[Value]:
    """A key's values in a case, one for each entry where the path has *.

    Raises ValueError where the case has no such value to scale or shift.
    """
    entries: list[Value] = [((), case, "", float)]
    for step in path:
        entries = [inner for single, value, *_ in entries for inner in _below(single, value, step)]
    for single, value, *_ in entries:
        if isinstance(value, bool) or not isinstance(value, int | float | Curve | Output | Series):
            raise ValueError(f"{'.'.join(single)} has no number of its own in the case to scale or shift")
    return entries


def _below(single: Path, value: Any, step: str) -> list[Value]:
    if isinstance(value, tuple):
        names = [str(getattr(entry, "name", "")) for entry in value]
        if step == EVERY:
            return [
                ((*single, n if single[-1] == "condition" else str(i)), v, "", float)
                for i, (n, v) in enumerate(zip(names, value, strict=True), start=1)
            ]
        index = names.index(step) if step in names else int(step) - 1 if step.isdecimal() else -1
        if not 0 <= index < len(value):
            raise ValueError(f"there is no {'.'.join(single)} {step}{nearest(step, names)}")
        return [((*single, step), value[index], "", float)]
    model: Any = type(value)
    if not hasattr(model, "model_fields") or declaration(model, step) is None:
        known = [f.alias or n for n, f in getattr(model, "model_fields", {}).items() if not f.exclude]
        raise ValueError(f"unknown key{nearest(step, known)}; accepted: {', '.join(known)}")
    name = next(n for n, f in model.model_fields.items() if step == (f.alias or n))
    unit, writer = unit_of(model.model_fields[name]), writer_of(model, name)
    return [((*single, step), getattr(value, name), unit, float if writer is None else writer.write)]


def changed(
    value: Any, unit: str, write: Callable[[Any], Any], *, factor: float = 1.0, shift: float = 0.0
) -> Any:
    """A value of the case times a factor plus a shift (SI), as the case writes it: numbers, curves and outputs."""
    if isinstance(value, Output):
        power = None if value.power is None else value.power * factor + shift
        at = None if value.at is None else tuple((t, max(q * factor + shift, 0.0)) for t, q in value.at)
        return written(value.model_copy(update={"power": power, "at": at}))
    if isinstance(value, Curve | Series):
        first, *others = (v * factor for v in value.values)
        if not isinstance(value, Curve) or value.kind != "polynomial":
            others = [v + shift for v in others]
        return write(replace(value, values=(first + shift, *others)))
    moved = float(value) * factor + shift
    return write(moved % 12.0 if unit == CLOCK_UNIT else moved)
