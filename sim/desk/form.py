"""Every key of a case as rows of a form: where it is, what is written, what holds where nothing is."""

import json
from contextlib import suppress
from typing import Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from sim.case import Case
from sim.case.clock_face import parse_clock
from sim.case.errors import join_key
from sim.case.fields import Table
from sim.case.operation import OVERRIDABLE
from sim.case.resolve import resolved, unit_of
from sim.case.settings import is_text
from sim.case.validation_errors import table_in

OWN_GROUP = "the case"


def groups(raw: dict[str, Any], case: Case | None, condition: str | None) -> list[dict[str, Any]]:
    """Groups of rows in the order of the schema; of the conditions, only the one that is chosen, or all without one.

    case: None where the raw one cannot be read; its keys are shown all the same, and those that nothing knows.

    A group: {"name", "path" (of an entry of a list, which may be taken out), "copy" (what another one like it is
    written as, but for its name), "rows"}. A row: {"path", "key" (as messages name it), "label", "unit", "meaning",
    "text" (as written; "" where it is not), "now" (what holds then), "kind" (text, switch or value), "choices"}.
    """
    listed: list[dict[str, Any]] = [{"name": OWN_GROUP, "path": [], "copy": "", "rows": []}]
    _rows(Case, raw, {} if case is None else resolved(case), (), "", listed, condition)
    return [group for group in listed if group["rows"]]


def _rows(
    model: type[Table],
    raw: Any,
    filled: Any,
    path: tuple[str, ...],
    key: str,
    listed: list[Any],
    condition: str | None,
) -> None:
    """Rows of one table go into the last group made; tables within it become groups of their own."""
    rows = listed[-1]["rows"]
    inner = []
    for name, field in model.model_fields.items():
        if field.exclude:
            continue
        label = field.alias or name
        written, now = raw.get(label), filled.get(label) if isinstance(filled, dict) else None
        table, steps, place = table_in(field.annotation), (*path, label), join_key(key, label)
        if table is not None and (get_origin(field.annotation) is tuple or isinstance(written, list)):
            inner += _entries(table, written, now, steps, place, condition)
        elif table is not None and (isinstance(written, dict) or (written is None and field.default_factory)):
            inner.append((table, written or {}, now, steps, place, []))
        else:
            rows.append(_row(field, label, written, now, steps, place))
    known = {field.alias or name for name, field in model.model_fields.items()}
    if model.__name__ == "Condition":
        rows += _overrides(raw, path, key)
        known |= set(OVERRIDABLE)
    rows += [
        _free(raw[label], (*path, label), join_key(key, label), label, "unknown")
        for label in raw
        if label not in known
    ]
    for table, written, now, steps, place, entry in inner:
        copy = written_text(_another(written)) if entry else ""
        listed.append({"name": place, "path": list(entry), "copy": copy, "rows": []})
        _rows(table, written, now, steps, place, listed, condition)


def _entries(
    table: type[Table], written: Any, now: Any, path: tuple[str, ...], key: str, condition: str | None
) -> list[tuple[Any, ...]]:
    entries: list[tuple[Any, ...]] = []
    for n, entry in enumerate(written if isinstance(written, list) else []):
        name = entry.get("name") if isinstance(entry, dict) else None
        other = path == ("condition",) and condition is not None and name != condition
        if not isinstance(entry, dict) or other:
            continue
        twice = any(step == name for *_, (*_, step) in entries)
        step = name if isinstance(name, str) and name and not twice else str(n + 1)
        place = f"{key}[{n + 1}]" + (f' "{name[:40]}"' if isinstance(name, str) else "")
        filled = now[n] if isinstance(now, list) and n < len(now) else {}
        entries.append((table, entry, filled, (*path, step), place, (*path, step)))
    return entries


def _another(entry: dict[str, Any]) -> dict[str, Any]:
    """An entry of a list for another one like it: without its name, and on the other side of the pipe."""
    copy = {key: value for key, value in entry.items() if key not in ("name", "over")}
    with suppress(KeyError, ValueError):  # a position that is none is copied as it is
        copy["clock"] = round((parse_clock(copy["clock"]) + 6.0) % 12.0, 4)
    return copy


def _row(
    field: FieldInfo, label: str, written: Any, now: Any, path: tuple[str, ...], key: str
) -> dict[str, Any]:
    choices = _choices(field.annotation)
    kind = "switch" if field.annotation is bool else "text" if is_text(path) or choices else "value"
    if kind == "switch":
        choices = ["true", "false"]
    return {
        "path": list(path),
        "key": key,
        "label": label,
        "unit": unit_of(field),
        "meaning": field.description or "",
        "text": written_text(written),
        "now": written_text(now),
        "kind": kind,
        "choices": choices,
    }


def _choices(annotation: Any) -> list[str]:
    """The words that a key accepts, where it accepts no others."""
    options = [annotation, *get_args(annotation)]
    return [str(word) for one in options if get_origin(one) is Literal for word in get_args(one)]


def _overrides(raw: dict[str, Any], path: tuple[str, ...], key: str) -> list[dict[str, Any]]:
    """Rows of what a condition changes of the case."""
    rows: list[dict[str, Any]] = []

    def walk(value: Any, steps: tuple[str, ...]) -> None:
        if isinstance(value, dict):
            for name, inner in value.items():
                walk(inner, (*steps, name))
            return
        place = f"{key}.{'.'.join(steps)}"
        rows.append(_free(value, (*path, *steps), place, ".".join(steps), "changed in this condition"))

    for name in OVERRIDABLE:
        if name in raw:
            walk(raw[name], (name,))
    return rows


def _free(value: Any, path: tuple[str, ...], key: str, label: str, meaning: str) -> dict[str, Any]:
    """The row of a key that has no declaration at its place."""
    kind = "switch" if isinstance(value, bool) else "text" if is_text(path) else "value"
    choices = ["true", "false"] if kind == "switch" else []
    row = {"path": list(path), "key": key, "label": label, "unit": "", "meaning": meaning}
    return row | {"text": written_text(value), "now": "", "kind": kind, "choices": choices}


def written_text(value: Any, inside: bool = False) -> str:
    """A value as a person types it into one line: text plain, everything else as TOML."""
    if value is None:
        return ""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False) if inside else value
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        parts = (f"{_bare(k)} = {written_text(v, True)}" for k, v in value.items())
        return f"{{ {', '.join(parts)} }}" if value else "{}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(written_text(entry, True) for entry in value)}]"
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _bare(key: str) -> str:
    plain = key.replace("-", "").replace("_", "").isalnum() and key.isascii()
    return key if plain else json.dumps(key, ensure_ascii=False)
