"""Field types of the schema: each turns what is written in the file into SI and knows its JSON schema."""

import unicodedata
from collections.abc import Callable
from math import inf
from typing import Annotated, Any, ClassVar

import numpy as np
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, GetCoreSchemaHandler, WithJsonSchema
from pydantic.json_schema import GetJsonSchemaHandler, JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from sim.basics import ZERO_CELSIUS

from .clock_face import parse_clock
from .curve import Curve, constant
from .errors import nearest, refuse
from .text import HIDDEN, seen, steers
from .units import (
    KINDS,
    parse_fraction,
    parse_number,
    parse_quantity,
    range_as_written,
    rounded,
    shown,
    write_quantity,
)

ACCEPTED_CURVE = (
    "one value, a table [[temperature, value], ...], or {polynomial = [...], range = [low, high]}"
)
# K. Nothing traced is colder than the first; "5 K" in a case is a slip for 5 degC.
COLDEST, HOTTEST = 100.0, 2000.0
# Where a polynomial of the user's gives no range of its own.
POLYNOMIAL_RANGE = (173.15, 773.15)


class Table(BaseModel):
    """Base of every table of the case: immutable, and an unknown key is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)
    further_keys: ClassVar[tuple[str, ...]] = ()

    def assume(self, **values: Any) -> None:
        """Set values that follow from others, without counting them as given in the case."""
        self.__dict__.update(values)

    def complete(self, **values: Any) -> None:
        """Assume those of the values whose keys are not given."""
        self.assume(**{key: value for key, value in values.items() if getattr(self, key) is None})


class Written:
    """Marks a float (or Curve) field: how its written form becomes SI, the JSON schema of that form, the SI unit."""

    def __init__(
        self,
        parse: Callable[[object], Any],
        schema: JsonSchemaValue,
        write: Callable[[Any], Any] = float,
        unit: str = "",
    ) -> None:
        self.parse = parse
        self.schema = schema
        self.write = write
        self.unit = unit

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.parse)

    def __get_pydantic_json_schema__(
        self, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return dict(self.schema)


def _within(value: float, low: float, high: float) -> float:
    if not low <= value <= high:
        refuse(f"{value:g} is outside what is accepted: {low:g} to {high:g}")
    return value


def within(written: object, kind: str, low: float, high: float, what: str = "") -> float:
    """The SI value of a quantity as written, within [low, high] SI; refused in the unit it is written in."""
    try:
        value = parse_quantity(written, kind)
    except ValueError as error:
        refuse(f"{what}{error}")
    if not low <= value <= high:
        accepted = range_as_written(str(written), kind, low, high)
        refuse(f"{what}{shown(written)} is outside what is accepted: {accepted}{_meant(written, kind)}")
    return value


def _meant(written: object, kind: str) -> str:
    """A question where a temperature in kelvin reads like one in degC."""
    number = str(written).replace("K", "").strip()
    return f'; did you mean "{number} degC"?' if kind == "temperature" and str(written).endswith("K") else ""


def quantity(kind: str, low: float, high: float) -> Written:
    """A quantity with its unit, as an SI float within [low, high]."""

    def parse(value: object) -> float:
        return within(value, kind, low, high)

    names = ", ".join(KINDS[kind].accepted)
    schema = {"type": "string", "examples": [KINDS[kind].example], "description": f"{kind}: {names}"}
    return Written(parse, schema, lambda value: write_quantity(value, kind), KINDS[kind].unit)


def word_or(word: str, meaning: float, kind: str, low: float, high: float) -> Written:
    """A quantity within [low, high], or a word for one more value (SI)."""
    plain = quantity(kind, low, high)
    return Written(
        lambda value: meaning if value == word else float(plain.parse(value)),
        {"anyOf": [plain.schema, {"const": word}]},
        lambda value: word if value == meaning else plain.write(value),
        plain.unit,
    )


def _plain(reader: Callable[[object], float], low: float, high: float) -> Callable[[object], float]:
    def parse(value: object) -> float:
        try:
            number = reader(value)
        except ValueError as error:
            refuse(f"{error}; accepted: {low:g} to {high:g}")
        return _within(number, low, high)

    return parse


def fraction(low: float, high: float) -> Written:
    """A plain number or a percentage as text, within [low, high]."""
    plain = {"type": "number", "minimum": low, "maximum": high}
    return Written(_plain(parse_fraction, low, high), {"anyOf": [plain, {"type": "string", "pattern": "%"}]})


def _hours(value: object) -> float:
    try:
        return parse_clock(value)
    except ValueError as error:
        refuse(str(error))


_FACE: JsonSchemaValue = {"type": "string", "pattern": "^[0-9]{1,2}:[0-5][0-9]", "examples": ["4:30"]}
CLOCK_SCHEMA: JsonSchemaValue = {"anyOf": [{"type": "number", "minimum": 0.0, "maximum": 12.0}, _FACE]}


def number(low: float, high: float) -> Written:
    """A plain number within [low, high]."""
    return Written(_plain(parse_number, low, high), {"type": "number", "minimum": low, "maximum": high})


def _text(value: object) -> str:
    if not isinstance(value, str):
        refuse(f"{shown(value)} is not text")
    if not seen(value).strip():
        refuse("is empty; accepted: some text")
    if len(value) > 200:
        refuse("is longer than 200 characters")
    if steers(value, allowed="\n\t"):
        refuse("holds a control character; accepted: printable text")
    return value


_NO_LETTER = ("Cc", "Cs", "Co", "Cn", "Zl", "Zp")


def _name(value: object) -> str:
    text = _text(value)
    bad = any(c in '/\\:*?"<>|' or unicodedata.category(c) in _NO_LETTER for c in text)
    bad = bad or steers(text) or HIDDEN.search(text) is not None
    if bad or text != text.strip() or text.startswith(".") or text.endswith(".") or len(text) > 60:
        refuse(
            f"{shown(text)} cannot be a name (it becomes part of file names); accepted: 1 to 60 characters,"
            ' without / \\ : * ? " < > |, control or invisible characters, no blank or full stop at either end'
        )
    return text


def switch(value: object) -> bool:
    """True or false as written."""
    if not isinstance(value, bool):
        refuse(f"{shown(value)} is not accepted; accepted: true or false")
    return value


_STRING = WithJsonSchema({"type": "string"})
Text = Annotated[str, BeforeValidator(_text), _STRING]
Name = Annotated[str, BeforeValidator(_name), _STRING]
Switch = Annotated[bool, BeforeValidator(switch), WithJsonSchema({"type": "boolean"})]
Length = Annotated[float, quantity("length", 1e-6, 10.0)]
Gap = Annotated[float, quantity("length", 0.0, 10.0)]
Temperature = Annotated[float, quantity("temperature", COLDEST, HOTTEST)]
Difference = Annotated[float, quantity("temperature difference", 0.0, 500.0)]
Power = Annotated[float, quantity("power per length", 0.0, 1e5)]
Conductivity = Annotated[float, quantity("conductivity", 1e-4, 1e4)]
Coefficient = Annotated[float, quantity("heat transfer coefficient", 0.0, 1e7)]
PositiveCoefficient = Annotated[float, quantity("heat transfer coefficient", 1e-3, 1e7)]
BondedCoefficient = Annotated[float, word_or("bonded", inf, "heat transfer coefficient", 20.0, 1e7)]
Speed = Annotated[float, quantity("speed", 0.0, 100.0)]
Density = Annotated[float, quantity("density", 1e-3, 3e4)]
SpecificHeat = Annotated[float, quantity("specific heat", 10.0, 2e4)]
Clock = Annotated[float, Written(_hours, CLOCK_SCHEMA, unit="o'clock")]
Share = Annotated[float, fraction(0.0, 1.0)]


def parse_pairs(
    value: object, kind: str, low: float, high: float
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """(kelvin, SI values within [low, high]) of a table [["0 degC", "31 W/m"], ...] over rising temperatures."""
    if not isinstance(value, list | tuple):
        refuse(f'{shown(value)} is not a table; accepted: pairs [["0 degC", "{KINDS[kind].example}"], ...]')
    if len(value) < 2:
        refuse("a table over temperature needs at least two rows")
    kelvin: list[float] = []
    values = []
    for row, pair in enumerate(value, start=1):
        if not isinstance(pair, list | tuple) or len(pair) != 2:
            refuse(f'row {row} is not a pair; accepted: ["0 degC", "{KINDS[kind].example}"]')
        kelvin.append(within(pair[0], "temperature", 0.01, HOTTEST, f"row {row}: "))
        values.append(within(pair[1], kind, low, high, f"row {row}: "))
        if row > 1 and kelvin[-1] <= kelvin[-2]:
            refuse(
                f"row {row}: the temperatures of a table must strictly increase; {shown(pair[0])} does not"
            )
    return tuple(kelvin), tuple(values)


def parse_curve(value: object, kind: str, low: float, high: float) -> Curve:
    """A Curve from one value, a table or a polynomial over degC; its values lie within [low, high]."""
    if isinstance(value, Curve):
        return value
    if isinstance(value, str):
        return constant(within(value, kind, low, high))
    if isinstance(value, list | tuple):
        kelvin, values = parse_pairs(value, kind, low, high)
        return Curve("table", values, kelvin, kelvin[0], kelvin[-1])
    if not isinstance(value, dict):
        try:
            parse_quantity(value, kind)
        except ValueError as error:
            refuse(f"{error}; or {ACCEPTED_CURVE}")
    assert isinstance(value, dict)
    curve = _parse_polynomial(value)
    smallest, largest = curve.extremes()
    if not (low <= smallest and largest <= high):
        at, unit = curve.farthest_outside(low, high), KINDS[kind].unit
        refuse(
            f"{curve(at):.4g} {unit} at {write_quantity(round(at, 2), 'temperature')} is outside what is accepted:"
            f" {low:g} to {high:g} {unit} over the whole range ({curve.low - ZERO_CELSIUS:.4g} to"
            f" {curve.high - ZERO_CELSIUS:.4g} degC; range = [...] narrows it)"
        )
    return curve


def _parse_polynomial(value: dict[str, Any]) -> Curve:
    for key in value:
        if key not in ("polynomial", "range"):
            refuse(f"unknown key{nearest(key, ('polynomial', 'range'))}; accepted: {ACCEPTED_CURVE}", key)
    coefficients = value.get("polynomial")
    if not isinstance(coefficients, list | tuple) or not 1 <= len(coefficients) <= 8:
        refuse("is not a list of 1 to 8 plain numbers (SI over degC, lowest power first)", "polynomial")
    numbers = []
    for coefficient in coefficients:
        try:
            numbers.append(parse_number(coefficient))
        except ValueError as error:
            refuse(
                f"{error}; accepted: 1 to 8 plain numbers (SI over degC, lowest power first)", "polynomial"
            )
    low, high = POLYNOMIAL_RANGE
    if "range" in value:
        ends = value["range"]
        if not isinstance(ends, list | tuple) or len(ends) != 2:
            refuse('is not a pair of temperatures; accepted: range = ["-50 degC", "200 degC"]', "range")
        try:
            low, high = (parse_quantity(end, "temperature") for end in ends)
        except ValueError as error:
            refuse(str(error), "range")
        if not 0.0 < low < high <= 2000.0:
            refuse("must go from a lower to a higher temperature within 0 to 2000 K", "range")
    with np.errstate(all="ignore"):
        return Curve("polynomial", tuple(numbers), low=rounded(low), high=rounded(high))


def curve(kind: str, low: float, high: float) -> Written:
    """A property over temperature, as a Curve."""
    example = KINDS[kind].example
    pair = {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2}
    coefficients = {"type": "array", "items": {"type": "number"}, "minItems": 1, "maxItems": 8}
    schema = {
        "anyOf": [
            {"type": "string", "examples": [example], "description": ", ".join(KINDS[kind].accepted)},
            {"type": "array", "items": pair, "minItems": 2},
            {
                "type": "object",
                "properties": {"polynomial": coefficients, "range": pair},
                "required": ["polynomial"],
                "additionalProperties": False,
            },
        ]
    }
    return Written(
        lambda value: parse_curve(value, kind, low, high),
        schema,
        lambda value: write_curve(value, kind),
        KINDS[kind].unit,
    )


def write_curve(value: Curve, kind: str) -> Any:
    """The written form of a Curve: text, pairs, or a polynomial with its range."""
    if value.kind == "constant":
        return write_quantity(value.values[0], kind)
    if value.kind == "table":
        rows = zip(value.temperatures, value.values, strict=True)
        return [[write_quantity(t, "temperature"), write_quantity(v, kind)] for t, v in rows]
    ends = [write_quantity(value.low, "temperature"), write_quantity(value.high, "temperature")]
    return {"polynomial": list(value.values), "range": ends}


ConductivityCurve = Annotated[Curve, curve("conductivity", 1e-4, 1e4)]


class OrText:
    """Marks a table that may also be written as text (a catalogue name, a quantity) for the JSON schema."""

    def __init__(self, *examples: str) -> None:
        self.examples = examples

    def __get_pydantic_json_schema__(
        self, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return {"anyOf": [{"type": "string", "examples": list(self.examples)}, handler(core)]}


def declared(
    default: Any, meaning: str, unit: str = "", *, assumed: str = "", alias: str | None = None
) -> Any:
    """A key of the case: default, meaning, unit where its type has none or another, and the source of the default where
    it is an assumption."""
    extra: dict[str, Any] = {"unit": unit} | ({"assumed": assumed} if assumed else {})
    return Field(default, description=meaning, json_schema_extra=extra, alias=alias)
