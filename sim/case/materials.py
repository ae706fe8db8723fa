"""What a solid and a fluid are: the properties the rest of the program asks for."""

from __future__ import annotations

from typing import Annotated, Literal

from .curve import GIVEN, Curve
from .fields import (
    ConductivityCurve,
    Density,
    Share,
    SpecificHeat,
    Table,
    Text,
    curve,
    declared,
)

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
    source: Text = declared(GIVEN, "where the properties come from")
