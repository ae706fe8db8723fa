"""What the tracers give in a long stretch of weather: by the wall beneath them, and by what their controls read."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sim.basics import ZERO_CELSIUS
from sim.case import Case
from sim.heat.tracer import tracer_slope, tracer_watts
from sim.section.shapes import Array

STEPS = 8  # of Newton's to outputs that give themselves, and halvings of one
SETTLED = 1e-4  # W/m


@dataclass(frozen=True)
class Outputs:
    """Full output of each tracer, W/m (tracers,), by the wall beneath it; follows: those that change with it."""

    case: Case
    fixed: Array
    follows: tuple[int, ...]

    def at(self, wall: Array) -> Array:
        """At temperatures (tracers,) K."""
        if not self.follows:
            return self.fixed
        watts, condition = self.fixed.copy(), self.case.conditions[0]
        for k in self.follows:
            watts[k] = float(tracer_watts(self.case.tracers[k], condition, wall[k]))
        return watts

    def slope(self, wall: Array) -> Array:
        """Derivative by the temperature, W/m/K."""
        condition = self.case.conditions[0]
        return np.array(
            [float(tracer_slope(t, condition, w)) for t, w in zip(self.case.tracers, wall, strict=True)]
        )


def outputs_of(case: Case) -> Outputs:
    """Of a case narrowed to its condition, whose supply stays as it is."""
    fixed = [float(tracer_watts(t, case.conditions[0], ZERO_CELSIUS)) for t in case.tracers]
    follows = tuple(k for k, t in enumerate(case.tracers) if t.output.at is not None)
    return Outputs(case, np.array(fixed), follows)


def settled(given: Callable[[Array], tuple[Array, Array]], watts: Array) -> tuple[Array, Array]:
    """Outputs (n,) that give themselves, and what else is given there: Newton's steps with differences, halved where
    they lead away."""
    answer = given(watts)
    for _ in range(STEPS):
        off = answer[0] - watts
        if np.abs(off).max() < SETTLED:
            break
        slope = np.empty((len(watts), len(watts)))
        for k in range(len(watts)):
            more = watts.copy()
            more[k] += 0.5 * off[k] if abs(off[k]) > SETTLED else SETTLED
            slope[:, k] = (given(more)[0] - answer[0]) / (more[k] - watts[k])
        step = np.linalg.solve(np.eye(len(watts)) - slope, off)
        for _ in range(STEPS):
            trial = given(watts + step)
            if np.abs(trial[0] - watts - step).max() < np.abs(off).max():
                break
            step = 0.5 * step
        watts, answer = watts + step, trial
    return answer
