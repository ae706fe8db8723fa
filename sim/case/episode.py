"""Tables of the case for time: episodes that a line lives through, and controls that switch its tracers."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import PrivateAttr, model_validator

from .errors import CaseError, refuse
from .fields import (
    COLDEST,
    HOTTEST,
    Clock,
    Name,
    Share,
    Speed,
    Switch,
    Table,
    Temperature,
    Text,
    Written,
    declared,
    fraction,
    quantity,
)
from .series import LONGEST, ClockSeries, Series, ShareSeries, SpeedSeries, SwitchSeries, TemperatureSeries
from .sun_and_sky import SkyOverTime, SunOverTime, given
from .units import parse_quantity, shown, write_quantity
from .weather import Weather


def _moment(value: object) -> str:
    text = str(value)
    if not re.fullmatch(r"(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01]) ([01]\d|2[0-3]):[0-5]\d", text):
        refuse(f'{shown(value)} is no month, day and hour; accepted: such as "01-31 14:00"')
    return text


Moment = Annotated[str, Written(_moment, {"type": "string", "examples": ["01-31 14:00"]}, str)]
Duration = Annotated[float, quantity("time", 0.0, LONGEST)]
STEADY = "steady"
STEPS = 200  # values written of an episode where the case gives no spacing


class Change(Table):
    """A jump: what is given here holds from its moment on."""

    at: Duration = declared(..., "moment of the jump, from the episode's start")
    ambient: Temperature | None = declared(None, "ambient temperature from then on")
    wind: Speed | None = declared(None, "wind speed from then on")
    wind_from: Clock | None = declared(None, "clock position the wind blows from, from then on")
    supply: Annotated[float, fraction(0.0, 1.5)] | None = declared(
        None, "supply voltage as a fraction of nominal from then on; 0 is a power cut"
    )
    output: Literal["low", "nominal", "high"] | None = declared(
        None, "which end of each tracer's tolerance from then on"
    )
    contents_temperature: Temperature | None = declared(None, "temperature of flowing contents from then on")
    sun: SunOverTime | None = declared(None, "the sun from then on; of 0 W/m2 where it is gone")
    sky: SkyOverTime | None = declared(None, "the sky from then on")
    rain: Switch | None = declared(None, "whether rain keeps the outer surface wet from then on")

    @model_validator(mode="after")
    def _something(self) -> Change:
        if not (self.model_fields_set - {"at"}):
            keys = ", ".join(name for name in type(self).model_fields if name != "at")
            refuse(f"changes nothing; accepted: at least one of {keys}", "at")
        return self


class EpisodeLimits(Table):
    """Limits that only an episode can break."""

    hold: Duration | None = declared(
        None, "how long after the power is lost every lowest temperature allowed must at least hold"
    )
    warm_up: Duration | None = declared(None, "longest time allowed to warm up")
    frozen_share: Share | None = declared(None, "largest share of the liquid that may ever be frozen")


_TEMPERATURE = quantity("temperature", COLDEST, HOTTEST)


def _start(value: object) -> float | str:
    """A temperature in kelvin, or text: "steady", or the name of an earlier episode."""
    if not isinstance(value, str):
        return refuse(
            f'{shown(value)} is neither "steady", a temperature, nor the name of an earlier episode'
        )
    try:
        parse_quantity(value, "temperature")
    except ValueError:
        return value
    return float(_TEMPERATURE.parse(value))


def _write_start(value: float | str) -> str:
    return value if isinstance(value, str) else write_quantity(value, "temperature")


Start = Annotated[float | str, Written(_start, {"type": "string"}, _write_start)]


class Episode(Table):
    """A stretch of time that the line lives through."""

    name: Name = declared(..., "name of the episode")
    condition: Name = declared(..., "the condition whose values hold unless changed below")
    start: Start = declared(
        STEADY,
        '"steady" (the condition\'s steady field), a temperature that everything has, or the name of an earlier'
        " episode (its end)",
    )
    lasts: Duration = declared(..., "length of the episode")
    every: Duration = declared(
        None,
        "spacing of the values written; the steps of the computation are the program's own",
        assumed=f"a {STEPS}th of the episode",
    )
    control: tuple[Name, ...] = declared(
        (), "names of the controls in force; without one the tracers stay on"
    )
    support: Name | None = declared(
        None, "name of a support or a fitting: the field around it is followed, in three dimensions"
    )
    weather: Text | None = declared(
        None,
        "file of weather that drives ambient, wind, sky and (by bearing and absorptivity of the condition's sun) sun:"
        " EPW, or a CSV with named columns; beside the case file. What is given below goes before it",
    )
    weather_from: Moment | None = declared(
        None, "month, day and hour of the file's clock at which the episode starts; default its first"
    )
    ambient: TemperatureSeries | None = declared(None, "ambient temperature, over time where wanted")
    wind: SpeedSeries | None = declared(None, "wind speed, over time where wanted")
    wind_from: ClockSeries | None = declared(None, "clock position the wind blows from")
    supply: ShareSeries | None = declared(None, "supply voltage as a fraction of nominal")
    contents_temperature: TemperatureSeries | None = declared(None, "temperature of flowing contents")
    sun: SunOverTime | None = declared(None, "the sun on the outer surface, in place of the condition's")
    sky: SkyOverTime | None = declared(None, "the sky above, in place of the condition's")
    rain: SwitchSeries | None = declared(
        None, "rain, in which the sun and the sky do nothing; over time it changes at once"
    )
    warm_to: Temperature | None = declared(
        None, "temperature at which the line counts as warm; default design.maintain"
    )
    changes: tuple[Change, ...] = declared((), "jumps", alias="change")
    limits: EpisodeLimits | None = declared(None, "limits of this episode alone")

    _file: Weather | None = PrivateAttr(default=None)
    _offset: float = PrivateAttr(default=0.0)

    @property
    def series(self) -> tuple[Series, ...]:
        """Every number over time that it gives."""
        holders: list[Episode | Change] = [self, *self.changes]
        parts = [self, *(part for one in holders for part in (one.sun, one.sky) if part is not None)]
        return tuple(series for part in parts for _, series in given(part))

    @property
    def file(self) -> Weather | None:
        """The weather that drives it, where the case names a file."""
        return self._file

    @property
    def offset(self) -> float:
        """Where in the file it starts, s from the file's first moment."""
        return self._offset

    def attach(self, file: Weather) -> None:
        """Take a file's weather. Raises CaseError (with the key) where it does not hold the whole episode."""
        place = 0.0
        if self.weather_from is not None:
            month, day, hour = (int(part) for part in re.split("[- :]", self.weather_from)[:3])
            start = file.offset(month, day, hour + int(self.weather_from[-2:]) / 60)
            if start is None:
                raise CaseError(
                    f'is not in "{file.name}"; accepted: a moment that it holds', key="weather_from"
                )
            place = start
        covered = file.time[-1] - place
        if self.lasts > covered + 1.0:
            left = write_quantity(covered, "time")
            raise CaseError(
                f'is longer than "{file.name}" holds from there; accepted: at most {left}', key="lasts"
            )
        self._file, self._offset = file, place

    @model_validator(mode="after")
    def _spacing(self) -> Episode:
        if self.lasts <= 0.0:
            refuse('is no time at all; accepted: such as "48 h"', "lasts")
        if self.weather_from is not None and self.weather is None:
            refuse("does not belong without weather", "weather_from")
        if self.every is None:
            self.assume(every=self.lasts / STEPS)
        elif not 0.0 < self.every <= self.lasts:
            refuse("is not a part of the episode; accepted: above 0 and at most `lasts`", "every")
        elif self.lasts / self.every > 1e5:
            refuse("writes more than 100,000 values; accepted: a wider spacing", "every")
        return self


class Control(Table):
    """A thermostat, or a share of power, on a sensor or on the ambient temperature."""

    name: Name = declared(..., "name of the control")
    tracers: tuple[Name, ...] = declared((), "names of the tracers it switches; default all")
    sensor: Text = declared(..., 'name of the sensor it reads, or "ambient"')
    on_below: Temperature | None = declared(None, "it switches on when the reading falls below this")
    off_above: Temperature = declared(..., "it switches off (or gives no power) above this")
    full_below: Temperature | None = declared(
        None, "instead of on_below: full power below this, linear between it and off_above"
    )

    @model_validator(mode="after")
    def _band(self) -> Control:
        if (self.on_below is None) == (self.full_below is None):
            refuse("needs exactly one of: on_below (a thermostat), full_below (a share of power)", "on_below")
        key = "on_below" if self.full_below is None else "full_below"
        low = self.on_below if self.full_below is None else self.full_below
        assert low is not None
        if low >= self.off_above:
            above = write_quantity(self.off_above, "temperature")
            refuse(f"is not below off_above; accepted: less than {above}", key)
        return self
