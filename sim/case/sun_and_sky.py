"""Tables of the case for the sun and the sky above the line."""

from __future__ import annotations

import datetime
from importlib.util import find_spec
from typing import Annotated, Literal

from pydantic import model_validator

from .errors import refuse
from .fields import Clock, Share, Table, Temperature, Written, declared, number, quantity
from .series import ClockSeries, IrradianceSeries, PartSeries, Series, TemperatureSeries
from .units import shown

NO_PVLIB = 'needs pvlib, which is not installed: pip install "coldspot[weather]"'
BERDAHL, CLARK = "Berdahl and Martin", "Clark and Allen"


def has_pvlib() -> bool:
    """Whether the sun's position can be computed here."""
    return find_spec("pvlib") is not None


def _date(value: object) -> str:
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value.isoformat()
    try:
        return datetime.date.fromisoformat(str(value)).isoformat()
    except ValueError:
        refuse(f'{shown(value)} is not a date; accepted: such as "2026-06-21"')


Date = Annotated[str, Written(_date, {"type": "string", "format": "date"}, str)]
Irradiation = Annotated[float, quantity("irradiance", 0.0, 2000.0)]


class Sun(Table):
    """The sun on the outer surface: an irradiance from one side, or a clear day at a place."""

    absorptivity: Share = declared(..., "share of the sun's radiation that the outer surface absorbs")
    irradiance: Irradiation | None = declared(
        None, "irradiance of the sun's beam on a surface that faces it, in the section's plane"
    )
    clock: Clock | None = declared(None, "clock position that faces the sun")
    diffuse: Irradiation = declared(0.0, "besides, irradiance of the whole sky on level ground")
    reflected: Irradiation = declared(0.0, "besides, what the ground sends back up")
    date: Date | None = declared(None, "or a clear day: its date")
    hour: Annotated[float, number(0.0, 24.0)] | None = declared(
        None, "hour of that day, UTC; without a longitude, mean solar time", "h"
    )
    latitude: Annotated[float, number(-90.0, 90.0)] | None = declared(None, "latitude, north positive", "deg")
    longitude: Annotated[float, number(-180.0, 180.0)] = declared(0.0, "longitude, east positive", "deg")
    altitude: Annotated[float, number(-400.0, 6000.0)] = declared(0.0, "height above the sea", "m")
    bearing: Annotated[float, number(0.0, 360.0)] | None = declared(
        None, "direction in which the line runs (of the flow; 3 o'clock is on its right), from north", "deg"
    )
    albedo: Share = declared(
        0.2, "share of the sun's radiation that the ground sends back", assumed="common practice, no source"
    )

    @model_validator(mode="after")
    def _one_way(self) -> Sun:
        ways = {"irradiance": ("clock",), "date": ("hour", "latitude", "bearing")}
        if (self.irradiance is None) == (self.date is None):
            refuse("needs exactly one of: irradiance (with clock), date (with hour, latitude, bearing)")
        way = "irradiance" if self.date is None else "date"
        for key in ways[way]:
            if getattr(self, key) is None:
                refuse(f"is missing beside {way}", key)
        others = (
            ("date", "hour", "latitude", "longitude", "altitude", "bearing", "albedo")
            if way == "irradiance"
            else ("clock", "diffuse", "reflected")
        )
        for key in others:
            if _off_default(self, key):
                refuse(f"does not belong beside {way}", key)
        if way == "date" and not has_pvlib():
            refuse(f"{NO_PVLIB}; accepted: irradiance and clock", "date")
        return self


class Sky(Table):
    """The sky that the outer surface sees: a temperature, or the moisture of the air and the cloud."""

    temperature: Temperature | None = declared(
        None, "radiant temperature of the sky; the ground and all else are at the ambient"
    )
    dew_point: Temperature | None = declared(None, "or the dew point of the air, for a correlation")
    cloud: Share = declared(0.0, "share of the sky that is covered by cloud")
    correlation: Literal["Clark and Allen", "Berdahl and Martin"] = declared(
        CLARK,
        "correlation from the dew point: Clark and Allen (with Walton's cloud), Berdahl and Martin (clear)",
    )

    @model_validator(mode="after")
    def _one_way(self) -> Sky:
        if (self.temperature is None) == (self.dew_point is None):
            refuse("needs exactly one of: temperature, dew_point", "temperature")
        for key in ("cloud", "correlation"):
            if self.temperature is not None and _off_default(self, key):
                refuse("does not belong beside temperature; accepted: with dew_point", key)
        if self.correlation == BERDAHL and self.cloud > 0.0:
            refuse(f"does not belong to {BERDAHL}, which is for a clear sky; accepted: {CLARK}", "cloud")
        return self


class SunOverTime(Table):
    """The sun on the outer surface in an episode, from one side; each number may be over time."""

    absorptivity: PartSeries = declared(
        ..., "share of the sun's radiation that the outer surface absorbs, over time where wanted"
    )
    irradiance: IrradianceSeries = declared(
        ..., "irradiance of the sun's beam on a surface that faces it, over time where wanted"
    )
    clock: ClockSeries = declared(..., "clock position that faces the sun; between two the short way round")
    diffuse: IrradianceSeries | None = declared(
        None, "besides, irradiance of the whole sky on level ground; default none"
    )
    reflected: IrradianceSeries | None = declared(
        None, "besides, what the ground sends back up; default none"
    )

    def at(self, time: float) -> Sun:
        """The sun of a moment, s."""
        return Sun.model_construct(**{key: series(time) for key, series in given(self)})


class SkyOverTime(Table):
    """The sky that the outer surface sees in an episode; each number may be over time."""

    temperature: TemperatureSeries | None = declared(
        None, "radiant temperature of the sky, over time where wanted"
    )
    dew_point: TemperatureSeries | None = declared(
        None, "or the dew point of the air, for the correlation of Clark and Allen"
    )
    cloud: PartSeries | None = declared(
        None, "beside dew_point, share of the sky that is covered by cloud; default none"
    )

    @model_validator(mode="after")
    def _one_way(self) -> SkyOverTime:
        if (self.temperature is None) == (self.dew_point is None):
            refuse("needs exactly one of: temperature, dew_point", "temperature")
        if self.temperature is not None and self.cloud is not None:
            refuse("does not belong beside temperature; accepted: with dew_point", "cloud")
        return self

    def at(self, time: float) -> Sky:
        """The sky of a moment, s."""
        return Sky.model_construct(**{key: series(time) for key, series in given(self)})


def given(table: Table) -> list[tuple[str, Series]]:
    """(key, series) of every number over time that a table gives."""
    every = ((key, getattr(table, key)) for key in type(table).model_fields)
    return [(key, value) for key, value in every if isinstance(value, Series)]


def _off_default(table: Table, key: str) -> bool:
    return bool(getattr(table, key) != type(table).model_fields[key].default)
