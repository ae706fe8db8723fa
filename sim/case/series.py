"""A number of the case over time: one value, or pairs of a moment and a value, linear between them."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from numpy.typing import NDArray
from pydantic_core import PydanticCustomError

from .errors import refuse
from .fields import Written, fraction, number, quantity, switch
from .units import KINDS, parse_quantity, shown, write_quantity

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


def over_time(one: Written, example: str, *, period: float | None = None, steps: bool = False) -> Written:
    """A key that takes one value or {at = [[time, value], ...]}. period, steps: as of `Series`."""
    read, write = one.parse, one.write

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

    kinds = [{"type": "boolean"}] if steps else [{"type": "string"}, {"type": "number"}]
    either = {"anyOf": [{"type": "string"}, {"type": "number"}, {"type": "boolean"}]}
    pair = {"type": "array", "items": either, "minItems": 2, "maxItems": 2}
    table = {
        "type": "object",
        "properties": {"at": {"type": "array", "items": pair, "minItems": 1}},
        "required": ["at"],
        "additionalProperties": False,
    }
    return Written(parse, {"anyOf": [*kinds, table]}, written, "o'clock" if period == 12.0 else one.unit)


def _quantities(kind: str, low: float, high: float) -> Written:
    return over_time(quantity(kind, low, high), f'"{KINDS[kind].example}"')


TemperatureSeries = Annotated[Series, _quantities("temperature", 0.01, 2000.0)]
IrradianceSeries = Annotated[Series, _quantities("irradiance", 0.0, 2000.0)]
SpeedSeries = Annotated[Series, _quantities("speed", 0.0, 100.0)]
ShareSeries = Annotated[Series, over_time(fraction(0.0, 1.5), "1.0")]
PartSeries = Annotated[Series, over_time(fraction(0.0, 1.0), "1.0")]
ClockSeries = Annotated[Series, over_time(number(0.0, 12.0), "1.0", period=12.0)]
SwitchSeries = Annotated[
    Series, over_time(Written(lambda value: float(switch(value)), {}, bool), "true", steps=True)
]
