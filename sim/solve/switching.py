"""The moments at which controls switch: a step is cut short where a reading within it passes its threshold."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sim.section.shapes import Array
from sim.solve.drive import AMBIENT, TRACED, Thermostat, hermite, lagged
from sim.solve.stiff import State, Step, Stepper
from sim.solve.transient import Line

MOST_SEARCHES = 8  # trial steps towards a switching moment
LOOKS = np.linspace(0.0, 1.0, 9)  # parts of a step at which a reading is looked at
HALVINGS = 30  # of the part in which it passes
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
        for _ in range(MOST_SEARCHES if self.controls else 0):
            span = step.new.time - step.old.time
            surfaces = [self._surface(thermostat, step) for thermostat in self.controls]
            parts = [_passing(t, s, span) for t, s in zip(self.controls, surfaces, strict=True)]
            if min(parts) > 1.0:
                soon = aimed is not None and _soon(aimed, surfaces[self.controls.index(aimed)], span)
                return self._taken(step, surfaces), aimed if soon else None
            first = int(np.argmin(parts))
            if (1.0 - parts[first]) * span <= TRACED:
                return self._taken(step, surfaces), self.controls[first]
            shorter = self.stepper.step(step.old, max(parts[first] * span, 0.5 * TRACED))
            if shorter is None:
                break
            step, aimed = shorter[0], self.controls[first]
        return self._taken(step, [self._surface(thermostat, step) for thermostat in self.controls]), None

    def _taken(self, step: Step, surfaces: list[Surface]) -> Step:
        """Take the readings to the end of a step."""
        span, new = step.new.time - step.old.time, step.new.time
        for thermostat, surface in zip(self.controls, surfaces, strict=True):
            thermostat.reading = lagged(thermostat.reading, surface, span, thermostat.time_constant)
        self.ends = {key: end for key, end in self.ends.items() if key[1] == new}
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


def _reading(thermostat: Thermostat, surface: Surface, span: float, part: float) -> float:
    """A control's reading at a part of a step."""
    return lagged(thermostat.reading, lambda x: surface(part * x), part * span, thermostat.time_constant)


def _passing(thermostat: Thermostat, surface: Surface, span: float) -> float:
    """Part of a step at which a control's reading first passes its threshold; infinite if it does not."""
    if not thermostat.switches:
        return np.inf

    def past(part: float) -> bool:
        return thermostat.past(_reading(thermostat, surface, span, part))

    beyond = [part for part in LOOKS[1:] if past(part)]
    if not beyond:
        return np.inf
    low, high = beyond[0] - LOOKS[1], beyond[0]
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if past(middle) else (middle, high)
    return float(high)


def _soon(thermostat: Thermostat, surface: Surface, span: float) -> bool:
    """Whether a reading short of its threshold passes it within what a moment is found to."""
    before = _reading(thermostat, surface, span, 1.0 - min(TRACED / span, 1.0))
    after = _reading(thermostat, surface, span, 1.0)
    return thermostat.past(after + (after - before))
