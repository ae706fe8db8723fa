"""Tables of the case for supports: pad, leg and insert, and the families built of them."""

from __future__ import annotations

from math import pi
from types import SimpleNamespace
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, model_validator

from . import catalogue
from .catalogue import flanges, pipes
from .curve import constant
from .errors import refuse
from .fields import (
    Clock,
    Coefficient,
    ConductivityCurve,
    Density,
    Gap,
    Length,
    Name,
    OrText,
    PositiveCoefficient,
    Share,
    SpecificHeat,
    Switch,
    Table,
    Temperature,
    Text,
    declared,
    quantity,
)
from .line import Pipe
from .materials import Solid
from .units import rounded

Angle = Annotated[float, quantity("angle", 0.01, 2 * pi + 1e-9)]
Spacing = Annotated[float, quantity("length", 1e-3, 30.0)]
Family = Literal["shoe", "clamp", "hanger", "trunnion", "cradle", "flange", "parts"]
UNSAID = "assumed, no source"
UNSAID_METAL = "assumed, no source (weathered or painted steel), where the material gives none"
METAL_EMISSIVITY = 0.8
FULL = rounded(2 * pi)

# What a family is made of, where the case does not say: lengths in m, angles in rad, W/m2/K. All from memory.
_PAD = {
    "clock": 6.0,
    "arc": rounded(pi / 2),
    "thickness": 6e-3,
    "length": 0.150,
    "contact_conductance": 2000.0,
}
_LEG = {"clock": 6.0, "width": 10e-3, "length": 0.120, "exposed": 0.100, "end": "free"}
_INSERT: dict[str, Any] = {"clock": 6.0, "arc": rounded(2 * pi / 3), "length": 0.300}
_RING = _PAD | {"arc": FULL, "length": 0.050}
FAMILIES: dict[str, dict[str, dict[str, Any]]] = {
    "shoe": {"pad": _PAD, "leg": _LEG},
    "clamp": {"pad": _RING, "leg": _LEG | {"length": 0.050}},
    "hanger": {
        "pad": _RING | {"length": 0.040},
        "leg": _LEG | {"clock": 0.0, "width": 12e-3, "length": 9.4e-3, "exposed": 0.300},
    },
    "trunnion": {"leg": _LEG | {"width": 12e-3, "length": 0.100}},
    "cradle": {"insert": _INSERT},
    "flange": {"pad": _RING | {"thickness": 30e-3, "length": 0.050, "contact_conductance": 1e5}},
    "parts": {},
}
INSERT_STORE = SimpleNamespace(density=200.0, specific_heat=1000.0)  # kg/m3, J/kg/K, from memory
INSERT_CONDUCTIVITY = 0.12  # W/m/K, load-bearing insulation, from memory


def _solid(value: object) -> Any:
    if isinstance(value, str):
        return catalogue.solid(value)
    if isinstance(value, dict) and "conductivity" in value:  # density and heat matter only over time
        return {"density": "7850 kg/m3", "specific_heat": "500 J/kg/K"} | value
    return value


Metal = Annotated[Solid, BeforeValidator(_solid), OrText(*catalogue.SOLIDS)]


class Pad(Table):
    """A curved plate on the pipe; an arc of 360 degrees is a ring, cut clear of the tracers that pass it."""

    clock: Clock = declared(None, "clock position of the pad's middle", assumed=UNSAID)
    arc: Angle = declared(None, "how far it goes around the pipe; 360 deg for a ring", assumed=UNSAID)
    thickness: Length = declared(None, "thickness", assumed=UNSAID)
    length: Length = declared(None, "full length along the pipe", assumed=UNSAID)
    contact_conductance: PositiveCoefficient = declared(
        None, "contact conductance between pad and pipe", assumed=UNSAID
    )
    material: Metal | None = declared(None, "its own material; default the support's")


class Leg(Table):
    """A straight strip from the pad (or the pipe) outward through insulation and barrier."""

    clock: Clock = declared(None, "clock position", assumed=UNSAID)
    width: Length = declared(None, "width in the section's plane", assumed=UNSAID)
    length: Length = declared(None, "full length along the pipe", assumed=UNSAID)
    exposed: Length = declared(None, "length beyond the insulation, a fin", assumed=UNSAID)
    film_coefficient: Coefficient | None = declared(
        None,
        "film coefficient on the exposed part, radiation included; default from wind, air and its own size",
    )
    emissivity: Share | None = declared(
        None, "emissivity of the exposed part; default that of the material, else 0.8", assumed=UNSAID_METAL
    )
    material: Metal | None = declared(None, "its own material; default the support's")
    end: Literal["free", "held"] = declared(
        None, "end of the exposed part: free (adiabatic) or held (at end_temperature)", assumed=UNSAID
    )
    end_temperature: Temperature | None = declared(
        None, "temperature of the steelwork at a held end; default the ambient"
    )

    @model_validator(mode="after")
    def _held(self) -> Leg:
        if self.end_temperature is not None and self.end != "held":
            refuse('belongs to end = "held"; accepted: only with it', "end_temperature")
        if self.emissivity is not None and self.film_coefficient is not None:
            refuse("is part of film_coefficient; accepted: one of the two", "emissivity")
        return self


class Insert(Table):
    """Load-bearing insulation instead of the line's own, over an arc and a length."""

    clock: Clock = declared(None, "clock position of its middle", assumed=UNSAID)
    arc: Angle = declared(None, "how far it goes around the pipe", assumed=UNSAID)
    length: Length = declared(None, "full length along the pipe", assumed=UNSAID)
    material: Text | None = declared(None, "catalogue name of an insulation")
    conductivity: ConductivityCurve = declared(None, "or its conductivity", assumed=UNSAID)
    density: Density = declared(None, "density (matters only over time)", assumed=UNSAID)
    specific_heat: SpecificHeat = declared(None, "specific heat (matters only over time)", assumed=UNSAID)

    @model_validator(mode="after")
    def _property(self) -> Insert:
        if self.material is not None and self.conductivity is not None:
            refuse("is given beside material; accepted: one of the two", "conductivity")
        if self.material is not None:
            self.assume(conductivity=catalogue.insulation(self.material).conductivity)
        stored = INSERT_STORE if self.material is None else catalogue.insulation(self.material)
        self.complete(density=float(stored.density), specific_heat=float(stored.specific_heat))
        return self


def as_class(value: object) -> object:
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


class Support(Table):
    """One support of the line, in the middle of its own stretch: alone, or repeated every `spacing`."""

    name: Name = declared(..., "name of the support")
    family: Family = declared(
        "shoe", "shoe, clamp, hanger, trunnion, cradle, flange, or parts (only what is given below)"
    )
    flange_class: Annotated[Literal["150", "300"] | None, BeforeValidator(as_class)] = declared(
        None,
        "of a flange pair: 150 or 300 takes diameter and thickness of ASME B16.5 for the pipe's size; bolts left out",
    )
    material: Metal = declared(
        None, "material of pad and leg: catalogue name or {conductivity}; default carbon steel"
    )
    pad: Pad | None = declared(None, "the plate on the pipe")
    leg: Leg | None = declared(None, "the strip through the insulation")
    insert: Insert | None = declared(None, "load-bearing insulation")
    spacing: Spacing | None = declared(None, "distance to the next support; absent: alone on a long line")
    allowance: Gap = declared(0.0, "extra length of each tracer laid at the support")
    allowance_over: Length = declared(
        None, "length of line the extra tracer lies on; default the pad's", assumed="the pad's length"
    )
    allowance_on: Literal["pipe", "pad"] = declared(
        "pipe", "where the extra tracer lies: pipe (beside the tracers) or pad (spread over it)"
    )
    barrier_touches: Switch = declared(False, "the weather barrier touches the leg, instead of cut clear")

    barrier_gap: Length = declared(
        3e-3, "clear width between leg and weather barrier, where it is cut clear", assumed=UNSAID
    )

    @model_validator(mode="after")
    def _complete(self) -> Support:
        family = FAMILIES[self.family]
        if self.flange_class is not None and self.family != "flange":
            refuse('belongs to family = "flange"; accepted: only with it', "flange_class")
        self.complete(material=catalogue.solid("carbon steel"))
        kinds = {"pad": Pad, "leg": Leg, "insert": Insert}
        self.complete(**{key: kinds[key]() for key in family})
        if self.pad is not None:
            self.pad.complete(**family.get("pad", _PAD))
        if self.leg is not None:
            self.leg.complete(**family.get("leg", _LEG))
            if self.leg.emissivity is None and self.leg.film_coefficient is None:
                given = self.leg_material.emissivity
                self.leg.assume(emissivity=METAL_EMISSIVITY if given is None else given)
        if self.insert is not None:
            conductivity = constant(INSERT_CONDUCTIVITY, UNSAID)
            self.insert.complete(**family.get("insert", _INSERT), conductivity=conductivity)
        parts = [part for part in (self.pad, self.leg, self.insert) if part is not None]
        if not parts:
            refuse('has no parts; accepted: a pad, a leg or an insert with family = "parts"', "family")
        if self.allowance_on == "pad" and self.pad is None:
            refuse('"pad" needs a pad; accepted: "pipe"', "allowance_on")
        self.complete(allowance_over=parts[0].length)
        return self

    def size(self, pipe: Pipe) -> None:
        """Take the ring of a flange pair from its class, where the case does not give it. Refuses unknown sizes."""
        if self.flange_class is None or self.pad is None:
            return
        nps = pipes.nominal_size(pipe.size) if pipe.size is not None else None
        dimensions = flanges.flange(nps, self.flange_class) if nps is not None else None
        if dimensions is None:
            what = f'"{pipe.size}" is not tabled' if pipe.size is not None else "needs pipe.size"
            known = flanges.sizes_in_words(self.flange_class)
            refuse(f"{what}; accepted: {known}, or a pad of your own", "flange_class")
        diameter, thickness = dimensions
        sizes = {"thickness": (diameter - pipe.outer_diameter) / 2, "length": 2 * thickness}
        self.pad.assume(**{k: rounded(v) for k, v in sizes.items() if k not in self.pad.model_fields_set})
        if "allowance_over" not in self.model_fields_set:
            self.assume(allowance_over=self.pad.length)

    @property
    def pad_material(self) -> Solid:
        material = self.pad.material if self.pad is not None else None
        return material or self.material

    @property
    def leg_material(self) -> Solid:
        material = self.leg.material if self.leg is not None else None
        return material or self.material

    @property
    def length(self) -> float:
        """Full length of the longest part along the pipe, m."""
        return max(part.length for part in (self.pad, self.leg, self.insert) if part is not None)
