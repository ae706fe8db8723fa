"""One clear message for whatever is wrong with a case: the file, the key, what is wrong, what is accepted."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, NoReturn

from pydantic_core import PydanticCustomError

from .units import shown
from .words import printable

if TYPE_CHECKING:
    from pydantic import ValidationError
    from pydantic.fields import FieldInfo

    from .fields import Table


class CaseError(Exception):
    """A case that cannot be used. `str(error)` is the whole message on one line.

    Attributes: message (what is wrong and what is accepted), file (or None), key (dotted path, or None).
    """

    def __init__(self, message: str, *, file: str | None = None, key: str | None = None) -> None:
        self.message = printable(message)
        self.file = file
        self.key = None if key is None else printable(key)
        whole = ": ".join(part for part in (printable(file or ""), self.key, self.message) if part)
        super().__init__(whole)


def refuse(message: str, key: str = "") -> NoReturn:
    """Raise the validation error that carries `message` unchanged; `key` is a key within it."""
    raise PydanticCustomError("case", "{message}", {"message": printable(message), "key": key})


def nearest(word: object, known: Iterable[str]) -> str:
    """'; did you mean "x"?' for the nearest known word, or '' where nothing is near."""
    by_lower = {name.lower(): name for name in known}
    found = difflib.get_close_matches(str(word)[:80].lower(), by_lower, n=1, cutoff=0.55)
    return f'; did you mean "{by_lower[found[0]]}"?' if found else ""


def join_key(parent: str, child: str) -> str:
    """Dotted path of a child key."""
    return f"{parent}.{child}" if parent and child else parent or child


def dotted(location: Iterable[str | int], data: Any) -> str:
    """Dotted path of a place in the raw case; entries of list tables are counted from 1 and named.

    ("tracer", 1, "clock") becomes 'tracer[2] "T2".clock'.
    """
    path = ""
    for step in location:
        if isinstance(step, int):
            path += f"[{step + 1}]"
            data = data[step] if isinstance(data, list | tuple) and step < len(data) else None
            if isinstance(data, dict) and isinstance(data.get("name"), str):
                path += f' "{data["name"][:40]}"'
        else:
            path = join_key(path, step[:60])
            data = data.get(step) if isinstance(data, dict) else None
    return path


def table_at(model: type[Table], location: Iterable[str | int]) -> type[Table] | None:
    """The schema's table at a location, or None where the location is not inside one of its tables."""
    current: type[Table] | None = model
    for step in location:
        if isinstance(step, int):
            continue
        field = declaration(current, step) if current is not None else None
        current = table_in(field.annotation) if field is not None else None
    return current


def declaration(model: type[Table], key: str) -> FieldInfo | None:
    """The declaration of a key of a table."""
    return next((f for n, f in model.model_fields.items() if key == (f.alias or n)), None)


def table_in(annotation: Any) -> type[Table] | None:
    """The table class inside an annotation such as tuple[Tracer, ...] or Foil | None."""
    if isinstance(annotation, type) and hasattr(annotation, "model_fields"):
        return annotation
    inner = (table_in(part) for part in getattr(annotation, "__args__", ()))
    return next((found for found in inner if found is not None), None)


def keys_of(model: type[Table]) -> list[str]:
    """Keys a table accepts, as they are written."""
    return [f.alias or n for n, f in model.model_fields.items() if not f.exclude] + list(model.further_keys)


def case_error(error: ValidationError, model: type[Table], data: Any, source: str) -> CaseError:
    """The most telling complaint of the validation in our words, and how many more there are."""
    details = error.errors(include_url=False)
    # A misspelt key is also a missing one: its own complaint says more.
    first = next((entry for entry in details if entry["type"] == "extra_forbidden"), details[0])
    location = list(first["loc"])
    key = dotted(location, data)
    if first["type"] == "case":
        key = join_key(key, str(first["ctx"]["key"]))
    message = _in_words(first, model, location)
    if len(details) > 1:
        message += f" (and {len(details) - 1} more)"
    return CaseError(message, file=source, key=key or None)


def _in_words(first: Any, model: type[Table], location: Sequence[str | int]) -> str:
    kind = first["type"]
    if kind == "case":
        return str(first["ctx"]["message"])
    table = table_at(model, location[:-1])
    field = declaration(table, str(location[-1])) if table is not None and location else None
    if kind == "extra_forbidden":
        keys = keys_of(table) if table is not None else []
        return f"unknown key{nearest(location[-1], keys)}; accepted: {', '.join(keys)}"
    if kind == "missing":
        meaning = f"; accepted: {field.description}" if field is not None else ""
        return f"is missing{meaning}"
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return f"{shown(first['input'])} is not a table; accepted: [table] or {{key = value}}"
    if kind in ("tuple_type", "list_type"):
        name = location[-1]
        return f"{shown(first['input'])} is not a list of tables; accepted: [[{name}]]"
    if kind == "literal_error":
        expected = first["ctx"]["expected"].replace("'", '"')
        hint = nearest(first["input"], re.findall(r'"(.*?)"', expected))
        return f"{shown(first['input'])} is not one of the choices{hint}; accepted: {expected}"
    return str(first["msg"])
