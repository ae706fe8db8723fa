"""What a number is measured in, and the limits that a case may set.

A temperature and a difference of temperatures differ in their zero; both are kelvin inside.
"""

from dataclasses import dataclass
from math import inf
from typing import Any, Literal

from sim.basics import ZERO_CELSIUS


@dataclass(frozen=True)
class Measure:
    """A kind of number. unit: as a person reads it; difference: unit of a band, a margin or a change.

    zero: the stored value that is shown as 0; period: of a number that comes round again (a clock position).
    """

    unit: str
    difference: str
    zero: float = 0.0
    period: float = inf

    @property
    def absolute(self) -> bool:
        """Whether it is a temperature, stored in K and shown in degC; a difference of temperatures is not."""
        return self.zero != 0.0

    def shown(self, value: float) -> float:
        """A stored value in `unit`."""
        return value - self.zero

    @property
    def display(self) -> tuple[float, str, str]:
        """What a stored value is divided by to be shown, its unit then, and that of a margin: times in hours."""
        return (3600.0, "h", "h") if self == TIME else (1.0, self.unit, self.difference)

    def apart(self, value: Any, other: Any) -> Any:
        """value less other (numbers or arrays), in `difference`; the short way round where there is a period."""
        gap = value - other
        return gap if self.period == inf else (gap + self.period / 2) % self.period - self.period / 2


TEMPERATURE = Measure("degC", "K", zero=ZERO_CELSIUS)
DIFFERENCE = Measure("K", "K")
PER_METRE = Measure("W/m", "W/m")
COEFFICIENT = Measure("W/m2/K", "W/m2/K")
HEAT = Measure("W", "W")
TRANSMITTANCE = Measure("W/K", "W/K")
LENGTH = Measure("m", "m")
HEAT_A_RADIAN = Measure("W/rad", "W/rad")
LENGTH_A_RADIAN = Measure("m/rad", "m/rad")
CLOCK = Measure("o'clock", "clock hours", period=12.0)
NUMBER = Measure("", "")
TIME = Measure("s", "s")
ENERGY = Measure("J/m", "J/m")
PER_VOLUME = Measure("J/m3", "J/m3")


@dataclass(frozen=True)
class Limit:
    """A limit of the case. sign: 1 where the value must not fall below it, -1 where it must not rise above it."""

    name: str
    sign: Literal[1, -1]
    subject: str
    measure: Measure = TEMPERATURE

    def words(self, of: str = "") -> str:
        """Before a value: "wall not above", "sheath of T1 not above"."""
        subject = f"{self.subject} of {of}" if of else self.subject
        return f"{subject} not {'below' if self.sign > 0 else 'above'}"

    @property
    def extreme(self) -> str:
        """In a sentence: "highest wall"."""
        return f"{'lowest' if self.sign > 0 else 'highest'} {self.subject}"

    def margin(self, value: float, allowed: float) -> float:
        """How far a value keeps clear of the limit, in `measure.difference`; negative where it misses it."""
        return self.sign * (value - allowed)


LIMITS = {
    limit.name: limit
    for limit in (
        Limit("contents_min", 1, "contents"),
        Limit("wall_min", 1, "wall"),
        Limit("wall_max", -1, "wall"),
        Limit("sheath_max", -1, "sheath"),
        Limit("barrier_max", -1, "outside surface"),
    )
}


EPISODE_LIMITS = {
    limit.name: limit
    for limit in (
        Limit("hold", 1, "time held after the power is lost", TIME),
        Limit("warm_up", -1, "time to warm up", TIME),
        Limit("frozen_share", -1, "frozen share", NUMBER),
    )
}
EVERY_LIMIT = LIMITS | EPISODE_LIMITS
