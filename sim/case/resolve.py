"""The case written out again with every default filled in, and the list of what was assumed."""

from functools import lru_cache
from pathlib import Path
from typing import Any

from pydantic.fields import FieldInfo

from . import catalogue
from .case import Case
from .catalogue import flanges
from .covering import Barrier, Insulation, Layer, Outside, Void
from .curve import GIVEN, Curve
from .errors import join_key
from .fields import Table, Written
from .line import Contents, Pipe
from .materials import Fluid, Solid
from .operation import Condition
from .support import UNSAID as FAMILY
from .support import Insert
from .tracing import Output

UNSAID = "default of the program"


def resolved(case: Case) -> dict[str, Any]:
    """The case with every default filled in, as a plain nested dict of text with units.

    `parse_case` of it gives an equal case. Catalogue entries stand by name.
    """
    return written(case)


def to_toml(case: Case, *, anywhere: bool = False) -> str:
    """The resolved case as the text of a case file; anywhere: its weather files by their whole path."""
    import tomli_w

    raw = resolved(case)
    for episode in raw.get("episode", ()) if anywhere else ():
        if "weather" in episode:
            episode["weather"] = str((Path(case._source).parent / episode["weather"]).resolve())
    return "# The case with every default filled in.\n" + tomli_w.dumps(raw, multiline_strings=False)


def _write(value: Any) -> Any:
    if isinstance(value, Solid | Fluid) and _in_catalogue(value):
        return value.name
    if isinstance(value, Output) and value.kind == "fixed" and value.power is not None:
        return writer_of(Output, "power").write(value.power)  # type: ignore[union-attr]
    if isinstance(value, Table):
        return written(value)
    if isinstance(value, tuple):
        return [_write(entry) for entry in value]
    return value


def written(table: Table) -> dict[str, Any]:
    """One table of a case as a file gives it, with every default filled in."""
    result: dict[str, Any] = {}
    hidden = _hidden(table)
    for name, field in type(table).model_fields.items():
        value = getattr(table, name)
        if value is None or name in hidden or field.exclude:
            continue
        writer = writer_of(type(table), name)
        written = writer.write(value) if writer is not None else _write(value)
        if written not in ({}, []):
            result[field.alias or name] = written
    if isinstance(table, Condition):
        result.update(table.overrides)
    return result


def _hidden(table: Table) -> tuple[str, ...]:
    """Keys that follow from others, and would be refused beside them."""
    if isinstance(table, Pipe) and table.size is not None:
        return ("outer_diameter", "wall")
    if isinstance(table, Insert) and (table.material is not None or table.conductivity.source == FAMILY):
        return ("conductivity",)
    if isinstance(table, Layer) and _from_catalogue(table):
        return ("conductivity",)
    return ()


def _from_catalogue(layer: Layer) -> bool:
    known = layer.material is not None and catalogue.knows_insulation(layer.material)
    return known and catalogue.insulation(str(layer.material)).conductivity == layer.conductivity


def _in_catalogue(material: Solid | Fluid) -> bool:
    if material.source == GIVEN:
        return False
    known = catalogue.SOLIDS if isinstance(material, Solid) else catalogue.FLUIDS
    find = catalogue.solid if isinstance(material, Solid) else catalogue.fluid
    return material.name in known and find(material.name) == material


@lru_cache(maxsize=1024)
def writer_of(model: type[Table], name: str) -> Written | None:
    """How a key is read and written; None where it is a table, a choice or plain text."""
    return _writer_in(model.model_fields[name])


def unit_of(field: FieldInfo) -> str:
    """The unit of a key as the program holds it."""
    extra, writer = field.json_schema_extra, _writer_in(field)
    given = str(extra.get("unit", "")) if isinstance(extra, dict) else ""
    return given or (writer.unit if writer is not None else "")


def _writer_in(field: FieldInfo) -> Written | None:
    return next((m for m in field.metadata if isinstance(m, Written)), None) or _marker(field.annotation)


def _marker(annotation: Any) -> Written | None:
    for mark in getattr(annotation, "__metadata__", ()):
        if isinstance(mark, Written):
            return mark
    parts = getattr(annotation, "__args__", ())
    return next((marker for marker in map(_marker, parts) if marker is not None), None)


def assumptions(case: Case) -> list[tuple[str, str, str]]:
    """(key, value, source) of what the case does not give: assumed, or taken from the catalogue."""
    rows: list[tuple[str, str, str]] = []
    _assumed(case, "", case, rows)
    return rows


def _assumed(table: Table, path: str, case: Case, rows: list[tuple[str, str, str]]) -> None:
    for name, field in type(table).model_fields.items():
        value = getattr(table, name)
        key = join_key(path, field.alias or name)
        if value is None or field.exclude or name == "title" or _idle(table, name, case):
            continue
        if isinstance(value, Solid | Fluid):
            _material(value, key, rows)
        elif isinstance(value, Table):
            _assumed(value, key, case, rows)
        elif isinstance(value, tuple) and value and isinstance(value[0], Table):
            for position, entry in enumerate(value, start=1):
                label = f' "{entry.name}"' if hasattr(entry, "name") else ""
                _assumed(entry, f"{key}[{position}]{label}", case, rows)
        elif name not in table.model_fields_set and not _looked_up(table, name) and value != ():
            extra = field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
            source = (
                _source(table, name) or _of_flange(table, name, case) or str(extra.get("assumed", UNSAID))
            )
            rows.append((key, _shown(table, name, value), source))


def _material(value: Solid | Fluid, key: str, rows: list[tuple[str, str, str]]) -> None:
    if value.source != GIVEN:
        words = value.conductivity.in_words("W/m/K")
        rows.append((key, f"{value.name}, conductivity {words}", value.source))


def _looked_up(table: Table, name: str) -> bool:
    return isinstance(table, Pipe) and name in ("outer_diameter", "wall")


def _idle(table: Table, name: str, case: Case) -> bool:
    """Keys that make no difference to this case, and would only lengthen the list."""
    contents, insulation = case.contents, case.insulation
    states = {contents.state} | {str(c.overrides.get("contents", {}).get("state")) for c in case.conditions}
    if isinstance(table, Contents):
        gas_there = "empty" in states or contents.fill < 1.0
        return (name in ("gas", "emissivity") and not gas_there) or (name == "fluid" and states == {"empty"})
    if isinstance(table, Insulation) and name == "void":
        return insulation.fit == "snug" and not any(tracer.standoff > 0.0 for tracer in case.tracers)
    if isinstance(table, Void) and name.endswith("emissivity"):
        each = table.pipe_emissivity, table.tracer_emissivity, table.insulation_emissivity
        return table.filling is None or (
            name == "emissivity" and None not in each and table.emissivity not in each
        )
    if isinstance(table, Outside) and name == "emissivity":
        return case.barrier is not None or case.outside.coefficient is not None
    return False


def _source(table: Table, name: str) -> str | None:
    """Source of a value that was taken from the catalogue."""
    value = getattr(table, name)
    if isinstance(value, Curve):
        return value.source
    if isinstance(table, Barrier) and table.material is not None and name in ("conductivity", "emissivity"):
        return catalogue.barrier(table.material).source
    return None


def _of_flange(table: Table, name: str, case: Case) -> str | None:
    """Source of a ring's size that was taken from its flange's class."""
    classed = any(support.pad is table and support.flange_class for support in case.supports)
    return flanges.SOURCE if classed and name in ("thickness", "length") else None


def _shown(table: Table, name: str, value: Any) -> str:
    if isinstance(value, Curve):
        return value.in_words("W/m/K")
    writer = writer_of(type(table), name)
    written = writer.write(value) if writer is not None else value
    if isinstance(written, bool):
        return "true" if written else "false"
    return f"{written:g}" if isinstance(written, float) else str(written)
