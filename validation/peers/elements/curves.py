"""Straight and circular pieces in the plane, cut where they meet.

Points are complex numbers (x + iy, metres). The pieces that come out of `arrange` meet only at their ends, so
that a mesh generator can be given them as they are.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

SAME_POINT = 1e-11  # m; two points closer than this are one
QUARTER = np.pi / 2


@dataclass(frozen=True)
class Segment:
    """The straight line from `start` to `end`; `label` says what lies on it ("" for a plain interface)."""

    start: complex
    end: complex
    label: str = ""

    def at(self, t: float) -> complex:
        """Point at fraction t of the way."""
        return self.start + t * (self.end - self.start)

    @property
    def length(self) -> float:
        """Metres."""
        return abs(self.end - self.start)

    def fraction(self, point: complex) -> float:
        """Fraction of the way at which a point of the line lies."""
        return ((point - self.start) * (self.end - self.start).conjugate()).real / self.length**2

    def part(self, t0: float, t1: float) -> Segment:
        """The piece between two fractions."""
        return replace(self, start=self.at(t0), end=self.at(t1))


@dataclass(frozen=True)
class Arc:
    """Part of a circle, anticlockwise from the angle `start` through `sweep` (radians, 0 < sweep <= 2 pi)."""

    centre: complex
    radius: float
    start: float
    sweep: float
    label: str = ""

    def at(self, t: float) -> complex:
        """Point at fraction t of the sweep."""
        return self.centre + self.radius * np.exp(1j * (self.start + t * self.sweep))

    @property
    def length(self) -> float:
        """Metres."""
        return self.radius * self.sweep

    def fraction(self, point: complex) -> float:
        """Fraction of the sweep at which a point of the circle lies; below zero just before it."""
        angle = (np.angle(point - self.centre) - self.start) % (2 * np.pi)
        past_end = angle - self.sweep
        if past_end > 0 and 2 * np.pi - angle < past_end:
            angle -= 2 * np.pi
        return float(angle / self.sweep)

    def part(self, t0: float, t1: float) -> Arc:
        """The piece between two fractions."""
        return replace(self, start=self.start + t0 * self.sweep, sweep=(t1 - t0) * self.sweep)


Piece = Segment | Arc


def circle(centre: complex, radius: float, label: str = "") -> Arc:
    """A full circle."""
    return Arc(centre, radius, 0.0, 2 * np.pi, label)


def _line_circle(line: Segment, arc: Arc) -> list[complex]:
    direction = (line.end - line.start) / line.length
    foot = line.start + ((arc.centre - line.start) * direction.conjugate()).real * direction
    square = arc.radius**2 - abs(foot - arc.centre) ** 2
    half = np.sqrt(max(square, 0.0))
    return [] if square < -SAME_POINT * arc.radius else [foot - half * direction, foot + half * direction]


def _circle_circle(a: Arc, b: Arc) -> list[complex]:
    gap = abs(b.centre - a.centre)
    if gap < SAME_POINT or gap > a.radius + b.radius or gap < abs(a.radius - b.radius):
        return []
    direction = (b.centre - a.centre) / gap
    along = (gap**2 + a.radius**2 - b.radius**2) / (2 * gap)
    half = np.sqrt(max(a.radius**2 - along**2, 0.0))
    return [a.centre + direction * (along + 1j * half), a.centre + direction * (along - 1j * half)]


def _line_line(a: Segment, b: Segment) -> list[complex]:
    u, v = a.end - a.start, b.end - b.start
    cross = (u.conjugate() * v).imag
    if abs(cross) < 1e-12 * abs(u) * abs(v):
        return []
    return [a.start + u * ((b.start - a.start).conjugate() * v).imag / cross]


def crossings(a: Piece, b: Piece) -> list[complex]:
    """Points of the two supporting lines or circles in common (none where they coincide)."""
    if isinstance(a, Segment):
        return _line_line(a, b) if isinstance(b, Segment) else _line_circle(a, b)
    return _line_circle(b, a) if isinstance(b, Segment) else _circle_circle(a, b)


def _on(piece: Piece, point: complex) -> float | None:
    t = piece.fraction(point)
    slack = SAME_POINT / piece.length
    return t if -slack <= t <= 1 + slack and abs(piece.at(t) - point) < 10 * SAME_POINT else None


def arrange(pieces: Iterable[Piece], points: Iterable[complex] = ()) -> list[Piece]:
    """Cut pieces at every crossing, at every end that lies on another piece, and at the given points.

    Parts of circles that come out sweep at most a quarter turn.
    """
    given = list(pieces)
    marks = list(points) + [p.at(t) for p in given for t in (0.0, 1.0)]
    cuts: list[list[float]] = [[0.0, 1.0] for _ in given]
    for i, piece in enumerate(given):
        marked = list(marks)
        for j, other in enumerate(given):
            if i != j:
                marked += [z for z in crossings(piece, other) if _on(other, z) is not None]
        cuts[i] += [t for t in (_on(piece, z) for z in marked) if t is not None]
    result: list[Piece] = []
    for piece, at in zip(given, cuts, strict=True):
        slack = 20 * SAME_POINT / piece.length
        ordered = sorted(min(max(t, 0.0), 1.0) for t in at)
        distinct = [ordered[0]]
        for t in ordered[1:]:
            if t - distinct[-1] > slack:
                distinct.append(t)
        distinct[-1] = 1.0
        for t0, t1 in pairwise(distinct):
            turn = piece.sweep * (t1 - t0) if isinstance(piece, Arc) else 0.0
            steps = np.linspace(t0, t1, 1 + max(1, int(np.ceil(turn / QUARTER - 1e-9))))
            result += [piece.part(a, b) for a, b in pairwise(steps)]
    return result
