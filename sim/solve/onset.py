"""The moment at which contents begin to freeze ends a step, as a switching does: every course bends there."""

from sim.solve.stiff import State, Step, Stepper
from sim.solve.transient import Line

MOST_SEARCHES = 6  # trial steps towards it
NEAR = 0.01  # K of the coldest liquid from where it freezes, within which it is found
LEAST = 0.05  # of the step that is cut, for a trial


class Onset:
    """Cuts the step in which the coldest of the liquid reaches its freezing point."""

    def __init__(self, line: Line, stepper: Stepper) -> None:
        self.stepper = stepper
        self.groups = [g for g in line.store.plain.groups if g.freezes] if line.fluid is not None else []

    def cut(self, step: Step) -> tuple[Step, bool]:
        """The step, cut short where freezing begins within it; whether it was."""
        if not self.groups:
            return step, False
        low, above = 0.0, self._above(step.old)
        high, below = 1.0, self._above(step.new)
        if above <= NEAR or below >= -NEAR:
            return step, False
        span, best = step.new.time - step.old.time, step
        for _ in range(MOST_SEARCHES):
            part = low + (high - low) * above / (above - below)
            part = min(max(part, low + LEAST * (high - low)), high - LEAST * (high - low))
            trial = self.stepper.step(step.old, part * span)
            if trial is None:
                return step, False
            best, here = trial[0], self._above(trial[0].new)
            if abs(here) <= NEAR:
                break
            if here > 0.0:
                low, above = part, here
            else:
                high, below = part, here
        return best, True

    def _above(self, state: State) -> float:
        """How far the coldest of the liquid is above its freezing point, K; beyond it as its heat would have it."""
        enthalpy = [
            (float((state.enthalpy[g.node] / g.amount).min()), float(g.curve.capacity[-1]))
            for g in self.groups
        ]
        return min(stored / capacity for stored, capacity in enthalpy)
