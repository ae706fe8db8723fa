"""One clear message for whatever is wrong with a case: which file, which key, what is wrong, what is accepted."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, NoReturn

from pydantic_core import PydanticCustomError

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError


class CaseError(Exception):
    """A case that cannot be used. `str(error)` is the whole message on one line.

    Attributes: message (what is wrong and what is accepted), file (or None), key (dotted path, or None).
    """

    def __init__(self, message: str, *, file: str | None = None, key: str | None = None) -> None:
        self.message = message
        self.file = file
        self.key = key
        super().__init__(": ".join(part for part in (file, key, message) if part))


def refuse(message: str, key: str = "") -> NoReturn:
    """Raise the validation error that carries `message` unchanged; `key` names a sub-key of the value at hand."""
    raise PydanticCustomError("case", "{message}", {"message": message, "key": key})


def nearest(word: object, known: Iterable[str]) -> str:
    """'; did you mean "x"?' for the nearest known word, or '' where nothing is near."""
    by_lower = {name.lower(): name for name in known}
    found = difflib.get_close_matches(str(word).lower(), by_lower, n=1, cutoff=0.55)
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
        inside = data is not None
        if isinstance(step, int):
            path += f"[{step + 1}]"
            data = data[step] if inside and isinstance(data, list | tuple) and step < len(data) else None
            if isinstance(data, dict) and isinstance(data.get("name"), str):
                path += f' "{data["name"][:40]}"'
        else:
            path = join_key(path, step)
            data = data.get(step) if isinstance(data, dict) else None
    return path


def known_keys(model: type[BaseModel], location: Iterable[str | int]) -> list[str]:
    """Keys of the table at a location, from the schema's own declarations; [] where it is not a table of ours."""
    from pydantic import BaseModel as Base

    current: type[BaseModel] | None = model
    for step in location:
        if isinstance(step, int):
            continue
        if current is None:
            return []
        field = next((f for n, f in current.model_fields.items() if step in (n, f.alias)), None)
        current = _table_in(field.annotation, Base) if field is not None else None
    return [] if current is None else [f.alias or n for n, f in current.model_fields.items() if not f.exclude]


def _table_in(annotation: Any, base: type) -> Any:
    """The model class inside an annotation such as tuple[Model, ...] or Model | None."""
    if isinstance(annotation, type) and issubclass(annotation, base):
        return annotation
    for part in getattr(annotation, "__args__", ()):
        found = _table_in(part, base)
        if found is not None:
            return found
    return None


def case_error(error: ValidationError, model: type[BaseModel], data: Any, source: str) -> CaseError:
    """The first of pydantic's complaints in our words, and how many more there are."""
    details = error.errors(include_url=False)
    first = details[0]
    location = [step for step in first["loc"] if isinstance(step, str | int)]
    kind, context = first["type"], first.get("ctx", {})
    key = dotted(location, data)
    if kind == "case":
        key = join_key(key, str(context["key"]))
        message = str(context["message"])
    elif kind == "extra_forbidden":
        keys = known_keys(model, location[:-1])
        message = f"unknown key{nearest(location[-1], keys)} known here: {', '.join(keys)}".replace(
            "key known", "key; known"
        )
    elif kind == "missing":
        message = "is missing"
    elif kind in ("model_type", "model_attributes_type", "dict_type"):
        message = "is not a table of keys; write it as a [table] or {key = value}"
    elif kind in ("tuple_type", "list_type"):
        message = f"is not a list of tables; write [[{key}]]"
    elif kind == "literal_error":
        from .units import shown

        message = f"{shown(first['input'])} is not accepted; accepted: {context['expected']}"
    else:
        message = first["msg"]
    if len(details) > 1:
        message += f" (and {len(details) - 1} more)"
    return CaseError(message, file=source, key=key or None)
