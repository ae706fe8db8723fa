"""Extra tracer that is just enough: the least length with which every point around a support reaches a temperature.

Where conductances are constant the temperatures are straight lines over the length of extra tracer, so each point's own
root follows from two fields, and the answer is the last point's: it is exact wherever the cold spot moves to. Where
they are not, the same step is repeated inside a bracket that starts at zero.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, isfinite, isinf

import numpy as np

from sim.heat.network import Network
from sim.section.shapes import Array
from sim.solve.interruption import with_extra
from sim.solve.multigrid import Multigrid
from sim.solve.steady import NotConverged, Solution, solve

LONGEST = 20.0  # m of extra tracer, beyond which none is sought
CLOSE = 0.003  # of the allowance: a step so small needs no further field
STEPS = 12  # fields at most for one answer
UNSETTLED = 3  # fields at most that do not settle, each of which costs as much as several that do
NEAR = 0.9  # of a length whose field did not settle: nothing is sought between
GROWTH = 10.0  # longest step beyond what was tried, in lengths tried
# of the last step: where the next is shorter the search closes in, and the longest is not asked
CLOSING = 0.5
SMALLEST = 1e-4  # K: what is short by less is no dip
Points = Callable[[Solution], Array]


@dataclass(frozen=True)
class Enough:
    """length: m, infinite if it cannot be reached, then `reason` says why; per_kelvin: m more a kelvin asked more."""

    length: float
    reason: str = ""
    per_kelvin: float = 0.0


class Trials:
    """Fields with lengths of extra tracer, each solved once. points: name -> what is read from a field, (n,) K."""

    def __init__(self, network: Network, alone: Solution, points: dict[str, Points], grid: Multigrid) -> None:
        self.network, self.points, self.grid = network, points, grid
        self.temperature: dict[float, Array] = {0.0: alone.temperature}
        self.read: dict[float, dict[str, Array]] = {0.0: {name: at(alone) for name, at in points.items()}}

    def solve(self, length: float) -> Solution:
        """The field with a length of extra tracer, m, started on the straight line through the two nearest."""
        near = sorted(self.temperature, key=lambda known: abs(known - length))[:2]
        start = self.temperature[near[0]]
        if len(near) == 2:
            share = (length - near[0]) / (near[1] - near[0])
            start = np.maximum(start + share * (self.temperature[near[1]] - start), 0.5 * start)
        return solve(with_extra(self.network, length), start, self.grid)

    def at(self, length: float, name: str) -> Array:
        """What is read at a length, (n,) K. Raises NotConverged."""
        if length not in self.read:
            values = self.solve(length)
            self.temperature[length] = values.temperature
            self.read[length] = {name: at(values) for name, at in self.points.items()}
        return self.read[length][name]

    def enough(self, name: str, target: float, start: float) -> Enough:
        """The least length with which all points of a name are at `target`, K, or warmer; start: a first guess, m.

        The answer depends neither on what is installed nor, but for `CLOSE`, on the guess.
        """
        if target - float(self.at(0.0, name).min()) <= SMALLEST:
            return Enough(0.0)
        warm = {length: float(read[name].min()) >= target for length, read in self.read.items()}
        above = min((length for length in warm if warm[length]), default=inf)
        below = max(length for length in warm if length < above)
        guess = max(start, 1e-3)
        if len(warm) > 1:  # fields of an earlier search
            guess = self._next(name, target, below if isinf(above) else above, below, above)[0]
        misses, asked, last = 0, False, 0.0
        failed = [inf]  # lengths whose field did not settle
        for _ in range(STEPS):
            guess = min(guess, LONGEST)
            if guess >= min(failed):
                guess = 0.5 * (below + min(failed)) if below > 0.0 else 0.25 * min(failed)
            try:
                lowest = float(self.at(guess, name).min())
            except NotConverged:
                failed.append(guess)
                if len(failed) > UNSETTLED or below >= NEAR * guess:
                    break
                continue
            misses += lowest < target
            below, above = (below, min(above, guess)) if lowest >= target else (max(below, guess), above)
            better, slope = self._next(name, target, guess, below, above)
            if abs(better - guess) <= CLOSE * guess:
                return Enough(better, "", slope)
            closing_in, last = abs(better - guess) < CLOSING * abs(guess - last), guess
            if misses >= 2 and not closing_in and not asked and isinf(min(failed)) and isinf(above):
                asked = True
                above = self._longest(name, target)
                below = LONGEST if isinf(above) and LONGEST in self.read else below
            if below >= min(LONGEST, NEAR * min(failed)):
                break
            guess = better
        short = target - float(self.at(below, name).min())
        reason = f"{below:.3g} m of extra tracer still leave it {short:.2g} K short"
        if isfinite(min(failed)):
            reason += f", and the field with {min(failed):.3g} m did not settle"
        return Enough(inf, reason)

    def _longest(self, name: str, target: float) -> float:
        """`LONGEST` if the target is reached with it, else infinity. More of it makes no place colder, so that what it
        cannot reach no length can."""
        try:
            return LONGEST if float(self.at(LONGEST, name).min()) >= target else inf
        except NotConverged:
            return inf

    def _next(self, name: str, target: float, one: float, below: float, above: float) -> tuple[float, float]:
        """Where the last point reaches the target, m, and m a kelvin: on the straight line through the field `one` and
        the nearest other, or through the bracket's ends where that leaves the bracket."""
        other = min((length for length in self.read if length != one), key=lambda length: abs(length - one))
        length, slope = self._line(name, target, one, other)
        if isfinite(above) and not below <= length <= above:
            length, slope = self._line(name, target, below, above)
        return min(max(length, below), above, GROWTH * max(below, 1e-2)), slope

    def _line(self, name: str, target: float, one: float, other: float) -> tuple[float, float]:
        """The last point's root on straight lines through two fields, m (infinite if there is none); m a kelvin."""
        here = self.at(one, name)
        rise = (self.at(other, name) - here) / (other - one)
        with np.errstate(divide="ignore", invalid="ignore"):
            further = np.where(rise > 0.0, (target - here) / rise, np.where(here < target, inf, -inf))
        last = int(np.argmax(further))
        return one + float(further[last]), 1.0 / float(rise[last]) if rise[last] > 0.0 else inf
