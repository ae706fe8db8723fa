"""The course of a quantity over an episode: a smooth curve through the ends of the steps, broken where it has a jump.

Slopes are those of a cubic through four neighbouring steps, held to three times the secants beside them where the
curve rises or falls throughout (Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238-246), so that a moment read
from it is of the order of the steps themselves and does not depend on the spacing of what is written.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.interpolate import PPoly

from sim.section.mesh import IntArray
from sim.section.shapes import Array

NEIGHBOURS = 4
STEEPEST = 3.0  # of the lesser secant beside it, for a slope
UNEVEN = 20.0  # times the shorter step beside it: a longer one takes no slope that the shorter's error may have made


@dataclass(frozen=True)
class Times:
    """Moments of an episode's records, s, not falling; a moment that stands twice is a jump: before it, and after it.

    first, last (n,): ends of the smooth stretch that each record belongs to.
    """

    at: Array
    first: IntArray
    last: IntArray

    @property
    def lasts(self) -> float:
        return float(self.at[-1])


def times(at: Array) -> Times:
    """The smooth stretches of a list of moments."""
    count = len(at)
    jump = np.flatnonzero(np.diff(at) <= 0.0)
    begin, end = np.append(0, jump + 1), np.append(jump, count - 1)
    which = np.repeat(np.arange(len(begin)), end - begin + 1)
    return Times(at, begin[which], end[which])


def slopes(times: Times, value: Array) -> Array:
    """Slope at every record (n,), per s."""
    at, count = times.at, len(value)
    near = np.clip(np.arange(count) - 1, times.first, np.maximum(times.last - NEIGHBOURS + 1, times.first))
    slope = np.zeros(count)
    for points in range(2, NEIGHBOURS + 1):
        length = times.last - times.first + 1
        of_length = np.flatnonzero(length >= points if points == NEIGHBOURS else length == points)
        if len(of_length):
            base = near[of_length] if points == NEIGHBOURS else times.first[of_length]
            slope[of_length] = _slope_of_polynomial(at, value, of_length, base, points)
    return _limited(times, value, slope)


def _slope_of_polynomial(at: Array, value: Array, here: IntArray, base: IntArray, points: int) -> Array:
    """Slope at records `here` of the polynomial through `points` records from `base` on (Lagrange)."""
    x = at[base[:, None] + np.arange(points)]
    y = value[base[:, None] + np.arange(points)]
    t = at[here]
    total = np.zeros(len(here))
    for j in range(points):
        others = [k for k in range(points) if k != j]
        below = np.prod([x[:, j] - x[:, k] for k in others], axis=0)
        above = sum(
            np.prod([t - x[:, k] for k in others if k != left] or [np.ones(len(t))], axis=0)
            for left in others
        )
        total += y[:, j] * above / below
    return total


def _limited(times: Times, value: Array, slope: Array) -> Array:
    step = np.diff(times.at)
    with np.errstate(divide="ignore", invalid="ignore"):
        secant = np.where(step > 0, np.diff(value) / np.where(step > 0, step, 1.0), 0.0)
    every = np.arange(len(value))
    left = np.append(0.0, secant)
    right = np.append(secant, 0.0)
    left = np.where(every == times.first, right, left)
    right = np.where(every == times.last, left, right)
    most = STEEPEST * np.minimum(np.abs(left), np.abs(right))
    rising = left * right > 0
    limited = np.sign(left) * np.clip(np.sign(left) * slope, 0.0, most)
    before, after = np.append(np.inf, step), np.append(step, np.inf)
    before = np.where(every == times.first, after, before)
    after = np.where(every == times.last, before, after)
    uneven = np.maximum(before, after) > UNEVEN * np.minimum(before, after)
    bound = np.where(uneven, most, STEEPEST * np.maximum(np.abs(left), np.abs(right)))
    turning = np.clip(slope, -bound, bound)
    return np.where(rising, limited, np.where((left == 0) | (right == 0), 0.0, turning))


@dataclass(frozen=True)
class Course:
    """One quantity over an episode. curve: the same as a piecewise cubic, without the jumps' moments twice."""

    times: Times
    value: Array
    curve: PPoly
    steps: bool = False

    def at(self, moment: Array | float) -> Array:
        """Value at moments (m,) s; at a jump the value before it."""
        moment = np.atleast_1d(np.asarray(moment, float))
        x = self.curve.x
        place = np.clip(np.searchsorted(x, moment, side="left") - 1, 0, len(x) - 2)
        part = moment - x[place]
        c = self.curve.c[:, place]
        values: Array = ((c[0] * part + c[1]) * part + c[2]) * part + c[3]
        value: Array = np.where(moment <= x[0], self.value[0], values)
        return value

    def extreme(
        self, side: Literal["min", "max"], begin: float = 0.0, end: float | None = None
    ) -> tuple[float, float]:
        """Least or largest value between two moments, and its first moment, s. NaN where there is no value."""
        end = self.times.lasts if end is None else end
        at = self.times.at
        inside = (at >= begin) & (at <= end)
        turns = (
            self.curve.derivative().roots(discontinuity=False, extrapolate=False) if not self.steps else []
        )
        turns = np.array([t for t in turns if begin < t < end])
        moments = np.concatenate([[begin, end], turns, at[inside]])
        values = np.concatenate([self.at(moments[: 2 + len(turns)]), self.value[inside]])
        if np.isnan(values).any():
            return float("nan"), float("nan")
        best = values.min() if side == "min" else values.max()
        return float(best), float(moments[values == best].min())

    def step(self, moment: float) -> float:
        """Length of the step that a moment lies in, s; 0 at an end of a smooth stretch."""
        x, at = self.curve.x, self.times.at
        if moment in at[self.times.first] or moment in at[self.times.last]:
            return 0.0
        after = int(np.clip(np.searchsorted(x, moment), 1, len(x) - 1))
        return float(x[after] - x[after - 1])

    def first(self, sign: int, allowed: float, begin: float = 0.0) -> tuple[float | None, float | None]:
        """First moment from `begin` on at which the value is past a limit, and the first after that at which it is not.

        sign: 1 where it must not fall below what is allowed, -1 where it must not rise above it. s; None: never.
        """
        if np.isnan(self.value).any():
            return None, None
        lasts = self.times.lasts
        roots = self.curve.solve(allowed, discontinuity=True, extrapolate=False)
        inner = np.unique([t for t in roots if begin < t < lasts and np.isfinite(t)])
        edges = np.concatenate([[begin], inner, [lasts]])
        broken = sign * (self.at(0.5 * (edges[1:] + edges[:-1])) - allowed) < 0
        if not broken.any():
            return None, None
        start = int(np.argmax(broken))
        after = np.flatnonzero(~broken[start:])
        return float(edges[start]), float(edges[start + after[0]]) if len(after) else None


def course(times: Times, value: Array, steps: bool = False) -> Course:
    """The curve through the records (n,) of a quantity; steps: a number such as a place on the clock, which jumps, and
    keeps its value up to the next record."""
    step = np.diff(times.at)
    real = np.flatnonzero(step > 0)
    span, old, new = step[real], value[real], value[real + 1]
    zero = np.zeros(len(real))
    if steps:
        c = np.array([zero, zero, zero, old])
    else:
        slope = slopes(times, value)
        a, b = slope[real], slope[real + 1]
        mean = (new - old) / span
        c = np.array([(a + b - 2 * mean) / span**2, (3 * mean - 2 * a - b) / span, a, old])
    return Course(times, value, PPoly(c, np.append(times.at[real], times.at[-1])), steps)
