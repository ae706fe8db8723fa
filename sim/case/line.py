"""Tables of the case for the line itself: the pipe and its contents."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, model_validator

from . import catalogue
from .catalogue import pipes
from .errors import nearest, refuse
from .fields import (
    Clock,
    Coefficient,
    Length,
    OrText,
    Share,
    Speed,
    Table,
    Temperature,
    Text,
    Written,
    declared,
    quantity,
)
from .materials import Fluid, Solid
from .units import rounded, shown


def _table(value: object) -> object:
    if not isinstance(value, dict | Table):
        refuse(f"{shown(value)} is neither a catalogue name nor a table of properties")
    return value


def _solid(value: object) -> Any:
    return catalogue.solid(value) if isinstance(value, str) else _table(value)


def _fluid(value: object) -> Any:
    return catalogue.fluid(value) if isinstance(value, str) else _table(value)


def _gas(value: object) -> Any:
    if isinstance(value, dict):
        return {"phase": "gas", **value}
    return _fluid(value)


SolidField = Annotated[Solid, BeforeValidator(_solid), OrText(*catalogue.SOLIDS)]
FluidField = Annotated[Fluid, BeforeValidator(_fluid), OrText(*catalogue.FLUIDS)]
Within = Annotated[float, quantity("time", 1.0, 1e6)]
GasField = Annotated[Fluid, BeforeValidator(_gas), OrText("air", "nitrogen", "methane")]


class Pipe(Table):
    """The pipe: a size and schedule of ASME B36.10M / B36.19M, or an outer diameter and wall."""

    size: Text | None = declared(None, 'nominal size, such as "DN 100" or "NPS 4"; with schedule')
    schedule: Text | None = declared(None, 'schedule, such as "40", "STD" or "10S"')
    outer_diameter: Length = declared(None, "outer diameter, where no size is given")
    wall: Length = declared(None, "wall thickness, where no size is given")
    material: SolidField = declared(..., "catalogue name, or {conductivity, density, specific_heat}")

    @model_validator(mode="after")
    def _dimensions(self) -> Pipe:
        if self.size is None:
            if self.schedule is not None:
                refuse('needs a size beside it, such as size = "DN 100"', "schedule")
            if self.outer_diameter is None:
                refuse(
                    "is missing; accepted: size and schedule, or outer_diameter and wall", "outer_diameter"
                )
            if self.wall is None:
                refuse("is missing; accepted: size and schedule, or outer_diameter and wall", "wall")
        else:
            for key in ("outer_diameter", "wall"):
                if getattr(self, key) is not None:
                    refuse(
                        "is given beside size; accepted: size and schedule, or outer_diameter and wall", key
                    )
            self._look_up(self.size)
        if self.wall >= self.outer_diameter / 2:
            refuse(
                f"{1e3 * self.wall:g} mm leaves no bore in an outer diameter of"
                f" {1e3 * self.outer_diameter:g} mm; accepted: less than {500 * self.outer_diameter:g} mm",
                "wall",
            )
        return self

    def _look_up(self, size: str) -> None:
        nps = pipes.nominal_size(size)
        schedules = pipes.schedules_of(nps) if nps is not None else []
        if nps is None or not schedules:
            refuse(f'"{size[:40]}" is not a pipe size; accepted: {pipes.sizes_in_words()}', "size")
        if self.schedule is None:
            refuse(f"is missing; accepted for {size}: {', '.join(schedules)}", "schedule")
        dimensions = pipes.dimensions(nps, self.schedule)
        if dimensions is None:
            hint = nearest(self.schedule, schedules)
            refuse(
                f'"{self.schedule[:40]}" is not a schedule of {size}{hint}; accepted: {", ".join(schedules)}',
                "schedule",
            )
        self.assume(outer_diameter=dimensions[0], wall=dimensions[1])

    @property
    def outer_radius(self) -> float:
        """Outer radius in metres."""
        return self.outer_diameter / 2

    @property
    def inner_radius(self) -> float:
        """Bore radius in metres."""
        return self.outer_radius - self.wall


class Contents(Table):
    """What is in the bore, and in which state."""

    state: Literal["flowing", "mixed", "still", "buoyant", "empty"] = declared(
        "still",
        "flowing (given temperature), mixed (one unknown temperature), still (conduction only),"
        " buoyant (natural convection resolved), empty (gas)",
    )
    fluid: FluidField = declared(
        "water",
        "catalogue name, or {conductivity, density, specific_heat, viscosity, expansion}",
        assumed="no fluid named in the case",
    )
    gas: GasField = declared(
        "air",
        "gas above the level, or in an empty bore; named as the fluid is",
        assumed="no gas named in the case",
    )
    fill: Share = declared(1.0, "level of the liquid as a share of the bore's height, 0 to 1")
    temperature: Temperature | None = declared(None, "bulk temperature of flowing contents")
    velocity: Speed | None = declared(None, "mean velocity of flowing contents")
    film_coefficient: Coefficient | None = declared(
        None, "film coefficient at the bore; 0 makes it adiabatic and switches its radiation off"
    )
    emissivity: Share = declared(
        0.8, "emissivity of the bore's surface", assumed="from memory (oxidised metal)"
    )

    average: bool = declared(
        False,
        "follow buoyant contents whose flow does not settle in time, and give their averages (minutes); else estimate",
    )
    average_within: Within | None = declared(
        None, "most time that the averages of one condition may take; as long as they need without it", "s"
    )
    average_holds: Literal["moments", "average"] = declared(
        "moments",
        "what limits hold of averages: the coldest and hottest moments (5th and 95th percentile), or the average",
    )

    model_config = Table.model_config | {"validate_default": True}


INCH = 0.0254
_MULTIPLE = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s*D")
_LENGTH = quantity("length", 1e-3, 1000.0)
_SCHEMA = {"type": "string", "examples": ["1.5 D", "152.4 mm"], "description": "a length, or a multiple of D"}


def _radius(value: object) -> float | str:
    """A length in m, or the text of a multiple of the nominal size."""
    match = _MULTIPLE.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        try:
            return float(_LENGTH.parse(value))
        except ValueError as error:
            refuse(f'{error}; or a multiple of the nominal size, such as "1.5 D"')
    if not 0.5 <= float(match[1]) <= 100.0:
        refuse(f"{shown(value)} is outside what is accepted: 0.5 D to 100 D")
    return f"{float(match[1]):g} D"


Radius = Annotated[
    float | str, Written(_radius, _SCHEMA, lambda v: v if isinstance(v, str) else _LENGTH.write(v))
]


class Elbow(Table):
    """A bend: the section swept around it."""

    radius: Radius = declared(
        "1.5 D",
        'radius of the bend to the pipe\'s axis: a length, or a multiple of the nominal size in inches ("1.5 D")',
        "m",
        assumed="long radius, ASME B16.9, from memory",
    )
    outside: Clock = declared(3.0, "clock position that faces away from the bend's centre")


def bend_radius(pipe: Pipe, elbow: Elbow) -> float | None:
    """Radius of a bend to the pipe's axis, m; None where it is a multiple of a size that the pipe does not have."""
    if isinstance(elbow.radius, float):
        return elbow.radius
    size = pipes.nominal_size(pipe.size) if pipe.size is not None else None
    return None if size is None else rounded(float(elbow.radius.removesuffix(" D")) * size * INCH)
