"""What a solid and a fluid are: the properties the rest of the program asks for."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import model_validator

from .curve import GIVEN, Curve
from .errors import refuse
from .fields import (
    ConductivityCurve,
    Density,
    Share,
    SpecificHeat,
    Table,
    Temperature,
    Text,
    curve,
    declared,
)
from .freezing import Frozen, FrozenShare, LatentHeat

DensityCurve = Annotated[Curve, curve("density", 1e-3, 3e4)]
SpecificHeatCurve = Annotated[Curve, curve("specific heat", 10.0, 2e4)]
ViscosityCurve = Annotated[Curve, curve("viscosity", 1e-7, 1e6)]
ExpansionCurve = Annotated[Curve, curve("expansion", -0.1, 0.1)]


class Solid(Table):
    """A solid: conductivity over temperature (W/m/K), density (kg/m3), specific heat (J/kg/K), emissivity."""

    name: Text = declared(GIVEN, "name of the material")
    conductivity: ConductivityCurve = declared(
        ..., "thermal conductivity, one value or over temperature", "W/m/K"
    )
    density: Density = declared(..., "density (matters only over time)", "kg/m3")
    specific_heat: SpecificHeat = declared(..., "specific heat (matters only over time)", "J/kg/K")
    emissivity: Share | None = declared(None, "emissivity of its bare surface")
    source: Text = declared(GIVEN, "where the properties come from")


class Fluid(Table):
    """A fluid: conductivity, density, specific heat, dynamic viscosity, expansion over temperature (SI)."""

    name: Text = declared(GIVEN, "name of the fluid")
    phase: Literal["liquid", "gas"] = declared("liquid", "liquid or gas")
    conductivity: ConductivityCurve = declared(..., "thermal conductivity", "W/m/K")
    density: DensityCurve = declared(..., "density", "kg/m3")
    specific_heat: SpecificHeatCurve = declared(..., "specific heat at constant pressure", "J/kg/K")
    viscosity: ViscosityCurve = declared(..., "dynamic viscosity", "Pa*s")
    expansion: ExpansionCurve = declared(
        ..., "volumetric thermal expansion; negative for water below 4 degC", "1/K"
    )
    freezes_at: Temperature | None = declared(
        None, "temperature at which it begins to freeze; with latent_heat and frozen", "K"
    )
    latent_heat: LatentHeat | None = declared(None, "heat of freezing", "J/kg")
    frozen: Frozen | None = declared(None, "the solid it freezes to: {conductivity, specific_heat}")
    frozen_share: FrozenShare | None = declared(
        None, "share that is frozen over temperature, for brines: {at = [[temperature, share], ...]}"
    )
    source: Text = declared(GIVEN, "where the properties come from")

    @model_validator(mode="after")
    def _freezing(self) -> Fluid:
        given = {key for key in ("latent_heat", "frozen") if getattr(self, key) is not None}
        starts = self.freezes_at is not None or self.frozen_share is not None
        if not starts and not given:
            return self
        if not starts:
            refuse("is missing: a fluid that freezes needs freezes_at or frozen_share", "freezes_at")
        for key in ("latent_heat", "frozen"):
            if key not in given:
                refuse("is missing: a fluid that freezes needs latent_heat and frozen", key)
        if self.phase == "gas":
            refuse("belongs to a liquid; accepted: none for a gas", "freezes_at")
        share = self.frozen_share
        if share is not None and self.freezes_at is None:
            if share.values[-1] > 0.0:
                refuse(
                    "is missing: frozen_share does not reach 0, so it must be said where freezing begins",
                    "freezes_at",
                )
            self.assume(freezes_at=share.temperatures[share.values.index(0.0)])
        elif (
            share is not None
            and self.freezes_at is not None
            and any(
                s > 0.0 for t, s in zip(share.temperatures, share.values, strict=True) if t >= self.freezes_at
            )
        ):
            refuse("lies below a temperature at which frozen_share is above 0", "freezes_at")
        return self

    @property
    def freezes(self) -> bool:
        """Whether freezing data are given."""
        return self.frozen is not None
