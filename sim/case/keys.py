"""The keys of a case for people (a table) and for editors (a JSON schema), from the same declarations."""

from typing import Any

from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from .case import Case
from .errors import join_key
from .fields import Table
from .materials import Fluid, Solid
from .operation import OVERRIDABLE
from .overrides import LIST_TABLES, REMOVABLE
from .resolve import unit_of
from .validation_errors import table_in


def key_table() -> list[tuple[str, str, str, str]]:
    """(key, unit, default, meaning) of every key a case may have, in the order of the schema."""
    rows: list[tuple[str, str, str, str]] = []
    _rows(Case, "", rows)
    return rows


def _rows(model: type[Table], path: str, rows: list[tuple[str, str, str, str]]) -> None:
    for name, field in model.model_fields.items():
        if field.exclude:
            continue
        listed = "[]" if "tuple" in str(field.annotation) and table_in(field.annotation) is not None else ""
        key = join_key(path, (field.alias or name) + listed)
        inner = table_in(field.annotation)
        rows.append((key, unit_of(field), _default(field, inner), field.description or ""))
        if inner is not None:
            _rows(inner, key, rows)


def _default(field: FieldInfo, inner: type[Table] | None) -> str:
    if field.is_required():
        return "required"
    if field.default is PydanticUndefined or field.default in (None, ()):
        return "" if inner is None or inner in (Solid, Fluid) else "optional"
    if isinstance(field.default, bool):
        return "true" if field.default else "false"
    return f"{field.default:g}" if isinstance(field.default, float) else str(field.default)


def json_schema() -> dict[str, Any]:
    """JSON schema of a case file, for editors."""
    schema = Case.model_json_schema(by_alias=True)
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "coldspot case"
    condition = schema["$defs"]["Condition"]["properties"]
    condition.pop("overrides", None)
    for key in OVERRIDABLE:
        condition[key] = {
            "description": f"override of keys of {key} in this condition"
            + ("; a list replaces the whole list" if key in LIST_TABLES else "")
            + ("; false takes it out" if key in REMOVABLE else ""),
            "type": ["object", "array"]
            if key in LIST_TABLES
            else ["object", "boolean"]
            if key in REMOVABLE
            else "object",
        }
    for model in schema["$defs"].values():
        for entry in model.get("properties", {}).values():
            for internal in ("unit", "assumed"):
                entry.pop(internal, None)
            if "default" in entry and not isinstance(entry["default"], str | bool):
                entry.pop("default")
    return schema
