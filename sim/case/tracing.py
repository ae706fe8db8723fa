"""Tables of the case for the tracers and for the foil over them."""

from __future__ import annotations

from typing import Annotated, Any, Literal, overload

import numpy as np
from pydantic import BeforeValidator, model_validator

from . import catalogue
from .curve import Array
from .errors import refuse
from .fields import (
    BondedCoefficient,
    Clock,
    Conductivity,
    Density,
    Gap,
    Length,
    Name,
    OrText,
    PositiveCoefficient,
    Power,
    SpecificHeat,
    Switch,
    Table,
    Written,
    declared,
    fraction,
    number,
    parse_pairs,
)
from .units import rounded, write_quantity

PRACTICE = "from memory"
COMPOSITE = "from memory (polymer with conductors of copper)"
CONTACT_WIDTH = 0.2  # of the diameter: an assumption where the case does not say

_PAIR = {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2}


def _output_table(value: object) -> tuple[tuple[float, float], ...]:
    kelvin, power = parse_pairs(value, "power per length", 0.0, 1e5)
    return tuple(zip(kelvin, power, strict=True))


def _write_output_table(rows: tuple[tuple[float, float], ...]) -> list[list[str]]:
    return [[write_quantity(t, "temperature"), write_quantity(q, "power per length")] for t, q in rows]


OutputTable = Annotated[
    tuple[tuple[float, float], ...],
    Written(_output_table, {"type": "array", "items": _PAIR, "minItems": 2}, _write_output_table),
]


class Output(Table):
    """Heat output per metre: fixed, scaled with the voltage, or a table over the pipe-wall temperature."""

    power: Power | None = declared(None, "output at nominal voltage, the same at every temperature")
    at: OutputTable | None = declared(
        None, "output over the pipe-wall temperature beneath the tracer: [[temperature, W/m], ...]", "K, W/m"
    )
    voltage_exponent: Annotated[float, number(0.0, 4.0)] = declared(
        2.0,
        "output ~ (supply fraction)^exponent; an output given as plain text does not depend on voltage",
        assumed="a fixed resistance, P ~ V^2; for a table the cautious choice at low voltage",
    )

    @model_validator(mode="after")
    def _one_of(self) -> Output:
        if (self.power is None) == (self.at is None):
            refuse('needs exactly one of: power = "25 W/m", or at = [["0 degC", "31 W/m"], ...]')
        return self

    @property
    def kind(self) -> Literal["fixed", "scaled", "table"]:
        """How the output behaves."""
        if self.at is not None:
            return "table"
        return "scaled" if self.voltage_exponent > 0.0 else "fixed"

    @property
    def temperatures(self) -> tuple[float, ...]:
        """Temperatures of the table in kelvin, strictly increasing; () where there is none."""
        return tuple(t for t, _ in self.at or ())

    @property
    def powers(self) -> tuple[float, ...]:
        """Outputs of the table in W/m at nominal voltage; () where there is none."""
        return tuple(q for _, q in self.at or ())

    def _voltage_factor(self, supply: float) -> float:
        return supply**self.voltage_exponent if supply > 0.0 else 0.0

    @overload
    def watts(self, wall_temperature: float, supply: float = 1.0) -> float: ...
    @overload
    def watts(self, wall_temperature: Array, supply: float = 1.0) -> Array: ...
    def watts(self, wall_temperature: float | Array, supply: float = 1.0) -> float | Array:
        """Output in W/m at a wall temperature in kelvin (float or array) and a supply, before tolerance.

        Outside its range a table holds the value at its end. With supply 0 the output is 0.
        """
        factor = self._voltage_factor(supply)
        kelvin = np.asarray(wall_temperature, dtype=float)
        if self.power is not None:
            result = np.full(kelvin.shape, self.power * factor)
        else:
            result = np.asarray(factor * np.interp(kelvin, self.temperatures, self.powers))
        return result if isinstance(wall_temperature, np.ndarray) else float(result)

    def slope(self, wall_temperature: float | Array, supply: float = 1.0) -> float | Array:
        """d(watts)/d(wall temperature) in W/m/K; 0 outside a table's range and for outputs without one."""
        kelvin = np.asarray(wall_temperature, dtype=float)
        result = np.zeros(kelvin.shape)
        if self.at is not None:
            x, y = np.array(self.at).T
            steps = np.diff(y) / np.diff(x)
            segment = np.clip(np.searchsorted(x, kelvin, side="right") - 1, 0, len(steps) - 1)
            inside = (kelvin >= x[0]) & (kelvin < x[-1])
            result = np.where(inside, steps[segment], 0.0) * self._voltage_factor(supply)
        return result if isinstance(wall_temperature, np.ndarray) else float(result)


def _output(value: object) -> Any:
    if isinstance(value, str):
        return {"power": value, "voltage_exponent": 0.0}
    if isinstance(value, dict | Output):
        return value
    return refuse(
        'is not an output; accepted: "25 W/m", {power = "25 W/m"} or {at = [["0 degC", "31 W/m"], ...]}'
    )


OutputField = Annotated[Output, BeforeValidator(_output), OrText("25 W/m")]


class Tracer(Table):
    """One electric tracer on the pipe."""

    name: Name = declared(..., "name of the tracer")
    clock: Clock = declared(..., 'clock position looking along the flow, 0 to 12 or such as "4:30"')
    shape: Literal["round", "flat"] = declared(..., "round (with diameter) or flat (with width and height)")
    diameter: Length | None = declared(None, "diameter of a round tracer")
    width: Length | None = declared(None, "width of a flat tracer, measured on the pipe surface")
    height: Length | None = declared(None, "height of a flat tracer")
    output: OutputField = declared(
        ..., 'heat output: "25 W/m", {power, voltage_exponent} or {at, voltage_exponent}', "W/m"
    )
    tolerance: Annotated[float, fraction(0.0, 0.999)] = declared(
        0.0, "tolerance of the output, a fraction; used by output low and high"
    )
    on: Switch = declared(True, "false leaves the tracer in place, unpowered")
    body_conductivity: Conductivity = declared(0.3, "conductivity of the tracer's body", assumed=PRACTICE)
    body_density: Density = declared(
        1500.0, "density of the tracer's body (matters only over time)", assumed=COMPOSITE
    )
    body_specific_heat: SpecificHeat = declared(
        1400.0, "specific heat of the tracer's body (matters only over time)", assumed=COMPOSITE
    )
    contact_width: Length | None = declared(
        None, "chord along which a round tracer touches; default 0.2 of its diameter", assumed=PRACTICE
    )
    contact_conductance: PositiveCoefficient = declared(
        400.0, "conductance of the contact with what lies beneath", assumed=PRACTICE
    )
    standoff: Gap = declared(0.0, "air gap between the pipe and a lifted tracer")
    over: Name | None = declared(None, "name of the tracer this one is stacked on, at the same clock")

    @model_validator(mode="after")
    def _shape_and_sizes(self) -> Tracer:
        needed = ("diameter",) if self.shape == "round" else ("width", "height")
        foreign = ("width", "height") if self.shape == "round" else ("diameter", "contact_width")
        for key in needed:
            if getattr(self, key) is None:
                refuse(f"is missing: a {self.shape} tracer needs {' and '.join(needed)}", key)
        for key in foreign:
            if getattr(self, key) is not None:
                refuse(f"does not belong to a {self.shape} tracer; accepted: {', '.join(needed)}", key)
        if self.shape == "round" and self.contact_width is None:
            assert self.diameter is not None
            self.assume(contact_width=rounded(CONTACT_WIDTH * self.diameter))
        return self

    @property
    def rise(self) -> float:
        """Height of the body itself in metres: diameter or height."""
        size = self.diameter if self.shape == "round" else self.height
        assert size is not None
        return size


class Foil(Table):
    """A thin conducting sheet over the tracers and along the tangents down to the pipe."""

    thickness: Length = declared(..., "thickness of the foil")
    contact_conductance: BondedCoefficient = declared(
        400.0,
        'conductance of its contact with the sheath and the pipe; "bonded" for a contact without resistance',
        assumed="from memory, as a tracer's own contact: 0.06 mm of air under a tape that is pressed on by hand",
    )
    conductivity: Conductivity = declared(
        catalogue.SOLIDS["aluminium"].conductivity.values[0],
        "conductivity of the foil",
        assumed="aluminium, EN ISO 10456",
    )
    density: Density = declared(
        2700.0, "density of the foil (matters only over time)", assumed="aluminium, from memory"
    )
    specific_heat: SpecificHeat = declared(
        900.0, "specific heat of the foil (matters only over time)", assumed="aluminium, from memory"
    )
