"""The moments at which controls switch: a step is cut short where a reading within it passes its threshold."""

from collections.abc import Callable

import numpy as np

from sim.section.shapes import Array
from sim.solve.drive import AMBIENT, TRACED, Thermostat, followed, hermite, passing
from sim.solve.stiff import State, Step, Stepper
from sim.solve.transient import Line

MOST_SEARCHES = 8  # trial steps towards a switching moment
LOOKS = np.linspace(0.0, 1.0, 9)  # parts of a step at which the ambient is looked at
Surface = Callable[[Array], Array]  # what a sensor without delay reads, K, at fractions of a step


class Watch:
    """Follows the controls' readings from step to step, which it keeps in them."""

    def __init__(self, line: Line, stepper: Stepper, controls: list[Thermostat]) -> None:
        self.line, self.stepper, self.controls = line, stepper, controls
        self.ends: dict[tuple[str, float], tuple[float, float]] = {}

    def forget(self) -> None:
        """After a jump or a switching: readings go on, but with other slopes."""
        self.ends.clear()

    def cut(self, step: Step) -> tuple[Step, Thermostat | None]:
        """The step, cut short at the first switching moment within it, and the control that switches there."""
        aimed: Thermostat | None = None
        for search in range(MOST_SEARCHES):
            span = step.new.time - step.old.time
            surfaces = [self._surface(thermostat, step) for thermostat in self.controls]
            readings = [
                followed(t.reading, s, span, t.time_constant)
                for t, s in zip(self.controls, surfaces, strict=True)
            ]
            parts = [
                passing(t.past, r, s, span, t.time_constant) if t.switches else np.inf
                for t, r, s in zip(self.controls, readings, surfaces, strict=True)
            ]
            if not parts or min(parts) > 1.0 or search == MOST_SEARCHES - 1:
                soon = aimed is not None and _soon(aimed, readings[self.controls.index(aimed)], span)
                return self._taken(step, readings, surfaces), aimed if soon else None
            first = int(np.argmin(parts))
            if (1.0 - parts[first]) * span <= TRACED:
                return self._taken(step, readings, surfaces), self.controls[first]
            shorter = self.stepper.step(step.old, max(parts[first] * span, 0.5 * TRACED))
            if shorter is None:
                return self._taken(step, readings, surfaces), None
            step, aimed = shorter[0], self.controls[first]
        raise AssertionError

    def _taken(self, step: Step, readings: list[Array], surfaces: list[Surface]) -> Step:
        """Take the readings to the end of a step."""
        for thermostat, reading, surface in zip(self.controls, readings, surfaces, strict=True):
            thermostat.read(float(reading[-1]), float(surface(np.ones(1))[0]), step.new.time)
        self.ends = {key: end for key, end in self.ends.items() if key[1] == step.new.time}
        return step

    def _surface(self, thermostat: Thermostat, step: Step) -> Surface:
        """A cubic through the readings and their slopes at a step's ends; of the ambient straight between moments."""
        old, new = step.old.time, step.new.time
        if thermostat.control.sensor == AMBIENT:
            ambient = [self.line.drive.condition(old + part * (new - old)).ambient for part in LOOKS]
            return lambda part: np.interp(part, LOOKS, ambient)
        # the line is as the step left it: its end first
        after = self._end(thermostat, step.new, step.rate)
        before = self._end(thermostat, step.old, None)
        return lambda part: hermite(part, (before[0], after[0]), (before[1], after[1]), new - old)

    def _end(self, thermostat: Thermostat, state: State, rate: Array | None) -> tuple[float, float]:
        """Reading and its slope, K/s, at the end of a step; rate (nodes,): of the enthalpy there, if it is known."""
        key, line = (thermostat.control.sensor, state.time), self.line
        if key in self.ends and rate is None:
            return self.ends[key]
        if rate is None:
            rate = line.rate(state.time, state.temperature, state.enthalpy)
        assert line.balance is not None
        capacity = line.store.capacity(state.enthalpy, state.temperature)
        moving = np.where(capacity > 0, rate / np.where(capacity > 0, capacity, 1.0), 0.0)
        here = line.surface_reading(thermostat, state.time, state.temperature, line.balance)
        ahead = line.surface_reading(thermostat, state.time, state.temperature + moving, line.balance)
        self.ends[key] = here, ahead - here
        return self.ends[key]


def _soon(thermostat: Thermostat, readings: Array, span: float) -> bool:
    """Whether a reading short of its threshold passes it within what a moment is found to."""
    before, after = float(readings[-2]), float(readings[-1])
    return thermostat.past(after + (after - before) * TRACED * (len(readings) - 1) / span)
