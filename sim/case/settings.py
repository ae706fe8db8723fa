"""Changes of a case key by key, as the file gives it: on the raw case, and on the document that an editor saves."""

import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Any, get_origin

from pydantic.fields import FieldInfo

from .case import Case
from .errors import CaseError, join_key, nearest
from .fields import Table
from .load import parse_case
from .operation import OVERRIDABLE
from .overrides import entry_index
from .toml import read_toml
from .units import shown
from .validation_errors import declaration, table_in

Setting = tuple[tuple[str, ...], str]
"""Steps of a key, entries of a list by name or position, and the text of its value; an empty one takes the key out."""


def value_of(text: str) -> Any:
    """What a text stands for: a value of TOML where it is one (4, true, "text", {a = 1}), else itself."""
    try:
        return tomllib.loads(f"value = {text}")["value"] if "\n" not in text else text
    except (tomllib.TOMLDecodeError, ValueError, RecursionError):
        return text


def is_text(path: tuple[str, ...]) -> bool:
    """Whether the schema takes nothing but text at a path, so that 40 there is "40"."""
    field = _declared(path)
    if field is None:
        return False
    parts = getattr(field.annotation, "__args__", ())  # of Text | None
    return str in (field.annotation, *(getattr(part, "__origin__", None) for part in parts))


def _declared(path: tuple[str, ...]) -> FieldInfo | None:
    """The declaration of a key; None where the schema has none, or the path leads to an entry of a list."""
    model: type[Table] | None = Case
    rest = list(path[2:] if path[0] == "condition" and path[2:3] and path[2] in OVERRIDABLE else path)
    field = None
    while rest and model is not None:
        field = declaration(model, rest.pop(0))
        if field is None:
            return None
        model = table_in(field.annotation)
        if _is_list(field) and rest:
            del rest[0]
            field = field if rest else None
    return None if rest else field


def _is_list(field: FieldInfo | None) -> bool:
    annotation = field.annotation if field is not None else None
    return get_origin(annotation) is tuple and table_in(annotation) is not None


def lay(document: Any, settings: Iterable[Setting]) -> None:
    """Change a raw case, or a document of it that keeps comments, in place; one setting after the other.

    Raises CaseError where a key leads nowhere. Whether the values are valid is for `parse_case` to say.
    """
    for path, text in settings:
        table, place = document, ""
        for n, step in enumerate(path[:-1]):
            if isinstance(table, dict) and step not in table:
                if text == "":
                    raise CaseError("is not given: there is nothing to take out", key=".".join(path))
                # a condition changes entries of the case's lists by a table in their place
                first_entry = (
                    n == len(path) - 2 and path[0] != "condition" and _is_list(_declared(path[: n + 1]))
                )
                table[step] = [_entry(path[-1], value_of(text), place)] if first_entry else {}
                if first_entry:
                    break
            table, place = _below(table, step, place)
        else:
            _put(table, path, text, place)


def load_set(path: str | Path, settings: Iterable[Setting]) -> Case:
    """A case file with changes laid over it. Raises CaseError as `load_case` does, and where a key leads nowhere."""
    raw = read_toml(path, "case")
    try:
        lay(raw, settings)
    except CaseError as error:
        raise CaseError(error.message, file=str(path), key=error.key) from None
    return parse_case(raw, source=str(path))


def _below(table: Any, step: str, place: str) -> tuple[Any, str]:
    inside = join_key(place, step)
    if isinstance(table, list):
        return table[_known(table, step, place)], inside
    if not isinstance(table, dict):
        raise CaseError(f"{shown(table)} is one value and has no key {step}; accepted: all of it", key=place)
    return table[step], inside


def _known(entries: list[Any], step: str, place: str) -> int:
    """The position of an entry by its name or position."""
    at = entry_index(entries, step)
    if at is None:
        names = [str(e["name"]) for e in entries if isinstance(e, dict) and "name" in e]
        message = (
            f"there is no such entry{nearest(step, names)}; accepted: {', '.join(names) or 'none'}, or 1 to"
        )
        raise CaseError(f"{message} {len(entries)}", key=join_key(place, step))
    return at


def _put(table: Any, steps: tuple[str, ...], text: str, place: str) -> None:
    step = steps[-1]
    inside = join_key(place, step)
    if isinstance(table, list):
        if text == "":
            del table[_known(table, step, place)]
            return
        at = entry_index(table, step)
        entry = _entry(step, value_of(text), place)
        if at is None:
            table.append(entry)
        else:
            table[at] = entry
    elif not isinstance(table, dict):
        raise CaseError(f"{shown(table)} is one value and has no key {step}; accepted: all of it", key=place)
    elif text == "":
        if step not in table:
            raise CaseError("is not given: there is nothing to take out", key=inside)
        del table[step]
    else:
        value = value_of(text)
        table[step] = text if is_text(steps) and not isinstance(value, str) else value


def _entry(name: str, value: Any, place: str) -> dict[str, Any]:
    """A new entry of a list: its keys, under the name by which it is addressed where it has none of its own."""
    if not isinstance(value, dict):
        raise CaseError(
            f"{shown(value)} is no entry; accepted: {{key = value, ...}}", key=join_key(place, name)
        )
    return dict(value) if "name" in value or name.isdecimal() else {"name": name, **value}
