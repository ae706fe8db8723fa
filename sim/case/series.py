"""A number of the case over time: one value, or pairs of a moment and a value, linear between them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from numpy.typing import NDArray
from pydantic_core import PydanticCustomError

from .errors import refuse
from .fields import Written
from .units import KINDS, parse_fraction, parse_number, parse_quantity, shown, write_quantity

LONGEST = 10 * 366 * 86400.0  # s: an episode of more than ten years is surely a slip


@dataclass(frozen=True)
class Series:
    """Values (SI) at moments (s from the episode's start), linear between, the first and last held beyond them.

    period: of values that come round again (a clock position), which go the short way. steps: a value holds from its
    moment on up to the next.
    """

    times: tuple[float, ...]
    values: tuple[float, ...]
    period: float | None = None
    steps: bool = False

    def __call__(self, time: float | NDArray[np.float64]) -> Any:
        """Value at a moment or at an array of moments."""
        result: Any
        if self.steps:
            place = np.clip(np.searchsorted(self.times, time, side="right") - 1, 0, None)
            result = np.asarray(self.values)[place]
        elif self.period is not None:
            result = np.mod(
                np.interp(time, self.times, np.unwrap(self.values, period=self.period)), self.period
            )
        else:
            result = np.interp(time, self.times, self.values)
        return result if isinstance(time, np.ndarray) else float(result)

    @property
    def is_constant(self) -> bool:
        """True where time makes no difference."""
        return len(set(self.values)) == 1


def _moment(value: object, row: int) -> float:
    try:
        seconds = parse_quantity(value, "time")
    except ValueError as error:
        refuse(f"row {row}: {error}", "at")
    if not 0.0 <= seconds <= LONGEST:
        refuse(f"row {row}: {shown(value)} is outside what is accepted: 0 h to ten years", "at")
    return seconds


def _value(read: Callable[[object], float], value: object, row: int) -> float:
    try:
        return read(value)
    except PydanticCustomError as error:
        return refuse(f"row {row}: {(error.context or {})['message']}", "at")


def over_time(
    read: Callable[[object], float],
    write: Callable[[float], Any],
    example: str,
    *,
    period: float | None = None,
    steps: bool = False,
) -> Written:
    """A key that takes a value or {at = [[time, value], ...]}; read and write are those of one value.

    period, steps: as of `Series`.
    """

    def parse(value: object) -> Series:
        if isinstance(value, Series):
            return value
        if not isinstance(value, dict):
            return Series((0.0,), (read(value),), period, steps)
        if set(value) != {"at"} or not isinstance(value["at"], list | tuple) or not value["at"]:
            refuse(f'is not a value over time; accepted: {example}, or {{at = [["0 h", {example}], ...]}}')
        times: list[float] = []
        values: list[float] = []
        for row, pair in enumerate(value["at"], start=1):
            if not isinstance(pair, list | tuple) or len(pair) != 2:
                refuse(f'row {row} is not a pair; accepted: ["2 h", {example}]', "at")
            times.append(_moment(pair[0], row))
            values.append(_value(read, pair[1], row))
            if row > 1 and times[-1] <= times[-2]:
                refuse(
                    f"row {row}: {shown(pair[0])} is not after the row before; accepted: moments that increase",
                    "at",
                )
        return Series(tuple(times), tuple(values), period, steps)

    def written(series: Series) -> Any:
        if len(series.values) == 1:
            return write(series.values[0])
        rows = zip(series.times, series.values, strict=True)
        return {"at": [[write_quantity(t, "time"), write(v)] for t, v in rows]}

    kinds = ({"type": "boolean"},) if steps else ({"type": "string"}, {"type": "number"})
    one = {"anyOf": list(kinds)}
    either = {"anyOf": [{"type": "string"}, {"type": "number"}, {"type": "boolean"}]}
    pair = {"type": "array", "items": either, "minItems": 2, "maxItems": 2}
    table = {
        "type": "object",
        "properties": {"at": {"type": "array", "items": pair, "minItems": 1}},
        "required": ["at"],
        "additionalProperties": False,
    }
    return Written(parse, {"anyOf": [*one["anyOf"], table]}, written)


def quantity_over_time(kind: str, low: float, high: float) -> Written:
    """A quantity with its unit, or one over time, within [low, high] (SI)."""
    unit = KINDS[kind].si.replace("**", "")

    def read(value: object) -> float:
        try:
            number = parse_quantity(value, kind)
        except ValueError as error:
            refuse(str(error))
        if not low <= number <= high:
            refuse(f"{shown(value)} is outside what is accepted: {low:g} to {high:g} {unit}")
        return number

    return over_time(read, lambda value: write_quantity(value, kind), f'"{KINDS[kind].example}"')


def number_over_time(low: float, high: float, *, share: bool = False, period: float | None = None) -> Written:
    """A plain number (or a share, which may be a percentage), or one over time, within [low, high].

    period: as of `Series`.
    """
    reader = parse_fraction if share else parse_number

    def read(value: object) -> float:
        try:
            number = reader(value)
        except ValueError as error:
            refuse(str(error))
        if not low <= number <= high:
            refuse(f"{shown(value)} is outside what is accepted: {low:g} to {high:g}")
        return number

    return over_time(read, float, "1.0", period=period)


def _on_or_off(value: object) -> float:
    if isinstance(value, bool):
        return float(value)
    return refuse(f"{shown(value)} is not accepted; accepted: true or false")


TemperatureSeries = Annotated[Series, quantity_over_time("temperature", 0.01, 2000.0)]
IrradianceSeries = Annotated[Series, quantity_over_time("irradiance", 0.0, 2000.0)]
SpeedSeries = Annotated[Series, quantity_over_time("speed", 0.0, 100.0)]
ShareSeries = Annotated[Series, number_over_time(0.0, 1.5, share=True)]
PartSeries = Annotated[Series, number_over_time(0.0, 1.0, share=True)]
ClockSeries = Annotated[Series, number_over_time(0.0, 12.0, period=12.0)]
SwitchSeries = Annotated[Series, over_time(_on_or_off, bool, "true", steps=True)]
