"""Tables of the case for what covers the line: insulation, weather barrier, outside."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from . import catalogue
from .errors import refuse
from .fields import (
    Clock,
    Coefficient,
    Conductivity,
    ConductivityCurve,
    Density,
    Length,
    Share,
    SpecificHeat,
    Table,
    Text,
    declared,
    fraction,
)

_UNSAID = "from memory"


class Wet(Table):
    """A clock sector of a layer in which the insulation is wet."""

    from_clock: Clock = declared(..., "where the wet sector begins")
    to_clock: Clock = declared(..., "where it ends, going clockwise")
    factor: Annotated[float, fraction(1e-3, 1e4)] | None = declared(
        None, "what the layer's conductivity is multiplied by there"
    )
    conductivity: Conductivity | None = declared(None, "or its conductivity there")

    @model_validator(mode="after")
    def _sector(self) -> Wet:
        if self.from_clock % 12 == self.to_clock % 12:
            refuse(
                f"{self.to_clock:g} is where the sector begins; accepted: another one than from_clock"
                " (for a layer wet all round, give its conductivity)",
                "to_clock",
            )
        if (self.factor is None) == (self.conductivity is None):
            refuse("needs exactly one of: factor, conductivity", "factor")
        return self


class Void(Table):
    """What fills the space beside a tracer."""

    filling: Literal["air"] | None = declared(None, "air: conduction and radiation across the void")
    conductivity: Conductivity | None = declared(None, "or the conductivity of a heat-transfer compound")
    emissivity: Share = declared(0.9, "emissivity of the surfaces of an air void", assumed=_UNSAID)
    pipe_emissivity: Share = declared(
        None, "that of the pipe, and of a support's metal on it, where it differs"
    )
    tracer_emissivity: Share = declared(None, "that of the tracers' sheath, where it differs")
    insulation_emissivity: Share = declared(
        None, "that of the insulation, or of the foil on it, where it differs"
    )
    density: Density = declared(
        None, "density of a compound (matters only over time); that of air is its own", assumed=_UNSAID
    )
    specific_heat: SpecificHeat = declared(
        None, "specific heat of a compound (matters only over time)", assumed=_UNSAID
    )

    @model_validator(mode="after")
    def _one_filling(self) -> Void:
        self.complete(**{f"{of}_emissivity": self.emissivity for of in ("pipe", "tracer", "insulation")})
        if self.filling is not None and self.conductivity is not None:
            refuse('is given beside filling = "air"; accepted: one of filling, conductivity', "conductivity")
        if self.filling is None and self.conductivity is None:
            self.assume(filling="air")
        for key, value in (("density", 1500.0), ("specific_heat", 1300.0)):
            if self.filling is None and getattr(self, key) is None:
                self.assume(**{key: value})
            elif self.filling is not None and getattr(self, key) is not None:
                refuse("belongs to a compound; air has its own over temperature", key)
        return self


class Layer(Table):
    """One layer of insulation, inside first."""

    material: Text | None = declared(None, "catalogue name of the insulation")
    thickness: Length = declared(..., "thickness of the layer")
    conductivity: ConductivityCurve = declared(
        None, "conductivity: one value, a table over temperature or {polynomial = [...]} over degC"
    )
    density: Density = declared(None, "density (matters only over time)", assumed=_UNSAID)
    specific_heat: SpecificHeat = declared(None, "specific heat (matters only over time)", assumed=_UNSAID)
    wet: Wet | None = declared(None, "a wet sector: {from_clock, to_clock, factor} or {..., conductivity}")

    @model_validator(mode="after")
    def _properties(self) -> Layer:
        density, heat = 100.0, 1000.0
        if self.material is not None and (
            self.conductivity is None or catalogue.knows_insulation(self.material)
        ):
            entry = catalogue.insulation(self.material)
            density, heat = float(entry.density), float(entry.specific_heat)
            self.complete(conductivity=entry.conductivity)
        if self.conductivity is None:
            refuse("is missing; accepted: a material of the catalogue, or a conductivity", "conductivity")
        self.complete(density=density, specific_heat=heat)
        return self


class Insulation(Table):
    """The insulation around pipe and tracers."""

    fit: Literal["snug", "bridged", "oversize"] = declared(
        "snug",
        "snug (fills all), bridged (voids beside the tracers), oversize (a hanging shell with a larger bore)",
    )
    bore: Length | None = declared(None, "bore diameter of an oversize shell")
    void: Void = Field(
        default_factory=Void,
        description='what fills the voids: {filling = "air"} or {conductivity = "..."}',
        json_schema_extra={"unit": ""},
    )
    layers: tuple[Layer, ...] = declared((), "layers, inside first", alias="layer")

    @property
    def thickness(self) -> float:
        """Total thickness of the layers in metres."""
        return sum(layer.thickness for layer in self.layers)


class Barrier(Table):
    """The weather barrier: a thin sheet around the insulation."""

    thickness: Length = declared(..., "thickness of the sheet")
    material: Text | None = declared(None, "catalogue name of the barrier material")
    conductivity: Conductivity = declared(None, "conductivity, where no material is given")
    emissivity: Share = declared(
        None, "emissivity of its outer face; default that of the material, else 0.9", assumed=_UNSAID
    )
    density: Density = declared(None, "density (matters only over time)", assumed=_UNSAID)
    specific_heat: SpecificHeat = declared(None, "specific heat (matters only over time)", assumed=_UNSAID)

    @model_validator(mode="after")
    def _properties(self) -> Barrier:
        emissivity, density, heat = 0.9, 2700.0, 900.0
        if self.material is not None:
            entry = catalogue.barrier(self.material)
            emissivity, density, heat = entry.emissivity, entry.density, entry.specific_heat
            self.complete(conductivity=entry.conductivity)
        if self.conductivity is None:
            refuse(
                f"is missing; accepted: one of {', '.join(catalogue.BARRIERS)}, or a conductivity", "material"
            )
        self.complete(emissivity=emissivity, density=density, specific_heat=heat)
        return self


class Outside(Table):
    """The outside surface: a given coefficient, or films and radiation from the condition's weather."""

    coefficient: Coefficient | None = declared(
        None, "one coefficient to the ambient that replaces film and radiation"
    )
    emissivity: Share = declared(
        0.9, "emissivity of the bare surface where there is no barrier", assumed=_UNSAID
    )
