"""What a solid and a fluid are: the properties the rest of the program asks for."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import model_validator

from .curve import GIVEN, Curve
from .errors import refuse
from .fields import (
    Conductivity,
    ConductivityCurve,
    Density,
    Share,
    SpecificHeat,
    Table,
    Temperature,
    Text,
    Written,
    curve,
    declared,
    quantity,
)
from .units import parse_fraction, parse_quantity, rounded, shown, write_quantity

DensityCurve = Annotated[Curve, curve("density", 1e-3, 3e4)]
SpecificHeatCurve = Annotated[Curve, curve("specific heat", 10.0, 2e4)]
ViscosityCurve = Annotated[Curve, curve("viscosity", 1e-7, 1e6)]
ExpansionCurve = Annotated[Curve, curve("expansion", -0.1, 0.1)]


class Solid(Table):
    """A solid: conductivity over temperature (W/m/K), density (kg/m3), specific heat (J/kg/K), emissivity."""

    name: Text = declared(GIVEN, "name of the material")
    conductivity: ConductivityCurve = declared(..., "thermal conductivity, one value or over temperature")
    density: Density = declared(..., "density (matters only over time)")
    specific_heat: SpecificHeat = declared(..., "specific heat (matters only over time)")
    emissivity: Share | None = declared(None, "emissivity of its bare surface")
    source: Text = declared(GIVEN, "where the properties come from")


LatentHeat = Annotated[float, quantity("latent heat", 1.0, 1e7)]


class Frozen(Table):
    """The solid that a fluid freezes to; its density is the liquid's, so nothing moves as it freezes."""

    conductivity: Conductivity = declared(..., "conductivity of the frozen fluid")
    specific_heat: SpecificHeat = declared(..., "specific heat of the frozen fluid")


def _parse_share(value: object) -> Curve:
    if isinstance(value, Curve):
        return value
    example = '{at = [["-5 degC", 0.3], ["-2 degC", 0]]}'
    if not isinstance(value, dict) or set(value) != {"at"} or not isinstance(value["at"], list | tuple):
        refuse(f"is not a frozen share over temperature; accepted: {example}")
    rows: list[tuple[float, float]] = []
    for row, pair in enumerate(value["at"], start=1):
        if not isinstance(pair, list | tuple) or len(pair) != 2:
            refuse(f"row {row} is not a pair; accepted: {example}")
        try:
            rows.append((parse_quantity(pair[0], "temperature"), parse_fraction(pair[1])))
        except ValueError as error:
            refuse(f"row {row}: {error}")
        if not 0.0 <= rows[-1][1] <= 1.0 or not 0.0 < rows[-1][0] <= 2000.0:
            refuse(
                f"row {row}: {shown(pair[1])} at {shown(pair[0])} is not a share (0 to 1) at a temperature"
            )
    if len(rows) < 2:
        refuse(f"needs at least two rows; accepted: {example}")
    rows.sort()
    for (colder, more), (warmer, less) in pairwise(rows):
        if warmer <= colder:
            refuse("gives two shares at one temperature; accepted: one row a temperature")
        if less > more:
            refuse(
                "rises with the temperature, so that the heat stored would fall as the fluid warms;"
                f" accepted: less frozen where it is warmer, such as {example}"
            )
    kelvin, shares = zip(*rows, strict=True)
    return Curve("table", shares, kelvin, rounded(kelvin[0]), rounded(kelvin[-1]), source=GIVEN)


def _write_share(curve: Curve) -> dict[str, Any]:
    rows = zip(curve.temperatures, curve.values, strict=True)
    return {"at": [[write_quantity(t, "temperature"), share] for t, share in rows]}


_PAIR = {
    "type": "array",
    "items": {"anyOf": [{"type": "string"}, {"type": "number"}]},
    "minItems": 2,
    "maxItems": 2,
}
FrozenShare = Annotated[
    Curve,
    Written(
        _parse_share,
        {
            "type": "object",
            "properties": {"at": {"type": "array", "items": _PAIR, "minItems": 2}},
            "required": ["at"],
            "additionalProperties": False,
        },
        _write_share,
    ),
]


class Fluid(Table):
    """A fluid: conductivity, density, specific heat, dynamic viscosity, expansion over temperature (SI)."""

    name: Text = declared(GIVEN, "name of the fluid")
    phase: Literal["liquid", "gas"] = declared("liquid", "liquid or gas")
    conductivity: ConductivityCurve = declared(..., "thermal conductivity")
    density: DensityCurve = declared(..., "density")
    specific_heat: SpecificHeatCurve = declared(..., "specific heat at constant pressure")
    viscosity: ViscosityCurve = declared(..., "dynamic viscosity")
    expansion: ExpansionCurve = declared(..., "volumetric thermal expansion; negative for water below 4 degC")
    freezes_at: Temperature | None = declared(
        None, "temperature at which it begins to freeze; with latent_heat and frozen"
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
        return self.frozen is not None
