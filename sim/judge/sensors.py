"""What a sensor on the pipe reads, and how far that is from what it is meant to guard."""

from dataclasses import dataclass

from sim.solve.at_rest import SectionResult
from sim.solve.convergence import Banded
from sim.solve.measures import CLOCK

QUARTER = 3.0  # hours of the clock: 90 degrees between sensor and tracer, common practice, no source


@dataclass(frozen=True)
class SensorReading:
    """One sensor: reading (banded, K), reading less the coldest contents and wall, K, nearest tracer, hours away."""

    name: str
    clock: float
    reading: Banded
    above_contents: float
    above_wall: float
    nearest_tracer: str | None
    hours_away: float
    keeps_distance: bool


def clock_distance(a: float, b: float) -> float:
    """Hours between two clock positions, 0 to 6."""
    return abs(CLOCK.apart(a, b))


def read_sensors(result: SectionResult) -> tuple[SensorReading, ...]:
    """All sensors of a case in one condition."""
    readings = []
    for sensor in result.case.sensors:
        reading = result.quantities[f"sensors.{sensor.name}.reading"]
        apart = {t.name: clock_distance(sensor.clock, t.clock) for t in result.case.tracers}
        nearest = min(apart, key=lambda name: apart[name], default=None)
        hours = apart[nearest] if nearest is not None else 6.0
        readings.append(
            SensorReading(
                sensor.name,
                sensor.clock,
                reading,
                reading.value - result.value("contents.min"),
                reading.value - result.value("wall.min"),
                nearest,
                hours,
                hours >= QUARTER - 1e-9,
            )
        )
    return tuple(readings)
