"""What a validation complains of, in the program's own words, with the key, what is wrong and what is accepted."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from .errors import MOST, CaseError, dotted, join_key, nearest
from .fields import Table
from .units import shown

if TYPE_CHECKING:
    from pydantic import ValidationError
    from pydantic.fields import FieldInfo


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
    return next((table for table in inner if table is not None), None)


def keys_of(model: type[Table]) -> list[str]:
    """Keys a table accepts, as they are written."""
    return [f.alias or n for n, f in model.model_fields.items() if not f.exclude] + list(model.further_keys)


def case_error(error: ValidationError, model: type[Table], data: Any, source: str) -> CaseError:
    """All complaints of a validation in our words, unknown keys first; a key that is only misspelt is not missing."""
    details = sorted(error.errors(include_url=False), key=lambda entry: entry["type"] != "extra_forbidden")
    misspelt = {_meant(entry["loc"], model) for entry in details if entry["type"] == "extra_forbidden"}
    details = [entry for entry in details if entry["type"] != "missing" or entry["loc"] not in misspelt]
    by_key: dict[str, CaseError] = {}
    for entry in details[:MOST]:
        location = list(entry["loc"])
        key = dotted(location, data)
        if entry["type"] == "case":
            key = join_key(key, str(entry["ctx"]["key"]))
        by_key.setdefault(key, CaseError(_in_words(entry, model, location), file=source, key=key or None))
    if len(details) > MOST:
        by_key[""] = CaseError(f"{len(details) - MOST} more faults are not listed", file=source)
    first, *others = by_key.values()
    return CaseError(first.message, file=source, key=first.key, others=others)


def _meant(location: Sequence[str | int], model: type[Table]) -> tuple[str | int, ...]:
    """Where the key lies that an unknown one is nearest to."""
    table = table_at(model, location[:-1])
    guess = nearest(location[-1], keys_of(table) if table is not None else ())
    return (*location[:-1], guess.partition('"')[2].partition('"')[0])


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
        if field is not None and table_in(field.annotation) is None and field.description:
            return f"{shown(first['input'])} is not a list; accepted: {field.description}"
        return f"{shown(first['input'])} is not a list of tables; accepted: [[{location[-1]}]]"
    if kind == "literal_error":
        expected = first["ctx"]["expected"].replace("'", '"')
        hint = nearest(first["input"], re.findall(r'"(.*?)"', expected))
        return f"{shown(first['input'])} is not one of the choices{hint}; accepted: {expected}"
    return str(first["msg"])
