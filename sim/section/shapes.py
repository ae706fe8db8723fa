"""Arcs and straight segments: the curves that bound the regions of a section.

A curve is directed; `side` +1 is to its left. Angles are mathematical (from +x, counter-clockwise, rad).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from sim.basics import Array as Array


@dataclass(frozen=True)
class Segment:
    """Straight line from (x0, y0) to (x1, y1), metres."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def length(self) -> float:
        return float(np.hypot(self.x1 - self.x0, self.y1 - self.y0))

    def point(self, t: Array) -> Array:
        """Points at fractions t of the length, shape (n, 2)."""
        t = np.asarray(t, float)
        return np.stack([self.x0 + t * (self.x1 - self.x0), self.y0 + t * (self.y1 - self.y0)], axis=-1)

    def normal(self, t: Array) -> Array:
        """Unit normals to the left at fractions t, shape (n, 2)."""
        nx, ny = -(self.y1 - self.y0) / self.length, (self.x1 - self.x0) / self.length
        return np.broadcast_to(np.array([nx, ny]), (*np.shape(t), 2))

    def parameter(self, x: Array, y: Array) -> Array:
        """Fraction along the (extended) line of the foot of each point."""
        dx, dy = self.x1 - self.x0, self.y1 - self.y0
        return ((x - self.x0) * dx + (y - self.y0) * dy) / (dx * dx + dy * dy)

    def distance(self, points: Array) -> Array:
        """Distance of each point from the segment, m, shape (n,)."""
        t = np.clip(self.parameter(points[:, 0], points[:, 1]), 0.0, 1.0)
        foot = self.point(t)
        return np.hypot(points[:, 0] - foot[:, 0], points[:, 1] - foot[:, 1])

    def part(self, t0: float, t1: float) -> Segment:
        """The piece between two fractions."""
        (xa, ya), (xb, yb) = self.point(np.array([t0, t1]))
        return Segment(float(xa), float(ya), float(xb), float(yb))

    def moment(self) -> float:
        """Contribution to the enclosed area (Green's theorem), m2, counter-clockwise positive."""
        return 0.5 * (self.x0 * self.y1 - self.x1 * self.y0)


@dataclass(frozen=True)
class Arc:
    """Circular arc about (cx, cy) from angle a0 through a sweep (positive counter-clockwise), metres and rad."""

    cx: float
    cy: float
    radius: float
    a0: float
    sweep: float

    @property
    def length(self) -> float:
        return abs(self.sweep) * self.radius

    @property
    def closed(self) -> bool:
        return abs(abs(self.sweep) - 2 * np.pi) < 1e-12

    def point(self, t: Array) -> Array:
        """Points at fractions t of the length, shape (n, 2)."""
        a = self.a0 + np.asarray(t, float) * self.sweep
        return np.stack([self.cx + self.radius * np.cos(a), self.cy + self.radius * np.sin(a)], axis=-1)

    def normal(self, t: Array) -> Array:
        """Unit normals to the left at fractions t, shape (n, 2)."""
        a = self.a0 + np.asarray(t, float) * self.sweep
        inward = -np.sign(self.sweep)
        return np.stack([inward * np.cos(a), inward * np.sin(a)], axis=-1)

    def parameter(self, x: Array, y: Array) -> Array:
        """Fraction along the arc of each point's angle; outside 0..1 where the arc does not reach."""
        turn = np.mod((np.arctan2(y - self.cy, x - self.cx) - self.a0) * np.sign(self.sweep), 2 * np.pi)
        excess = 2 * np.pi - abs(self.sweep)
        turn = np.where(turn > abs(self.sweep) + excess / 2, turn - 2 * np.pi, turn)
        fraction: Array = turn / abs(self.sweep)
        return fraction

    def distance(self, points: Array) -> Array:
        """Distance of each point from the arc, m, shape (n,)."""
        x, y = points[:, 0], points[:, 1]
        radial = np.abs(np.hypot(x - self.cx, y - self.cy) - self.radius)
        if self.closed:
            return radial
        t = self.parameter(x, y)
        ends = self.point(np.array([0.0, 1.0]))
        to_ends = np.minimum(
            np.hypot(x - ends[0, 0], y - ends[0, 1]), np.hypot(x - ends[1, 0], y - ends[1, 1])
        )
        return np.where((t >= 0) & (t <= 1), radial, to_ends)

    def part(self, t0: float, t1: float) -> Arc:
        """The piece between two fractions (t1 may exceed 1 on a closed arc)."""
        return replace(self, a0=self.a0 + t0 * self.sweep, sweep=(t1 - t0) * self.sweep)

    def moment(self) -> float:
        """Contribution to the enclosed area (Green's theorem), m2, counter-clockwise positive."""
        (xa, ya), (xb, yb) = self.point(np.array([0.0, 1.0]))
        chord = self.cx * (yb - ya) - self.cy * (xb - xa)
        return float(0.5 * (self.radius**2 * self.sweep + chord))


PlaneCurve = Segment | Arc


def ray(angle: float, inner: float, outer: float, drop: float = 0.0) -> Segment:
    """From an inner to an outer radius, m, at an angle from 12 o'clock, clockwise, about an axis `drop` below the
    pipe's."""
    sx, sy = float(np.sin(angle)), float(np.cos(angle))
    return Segment(inner * sx, inner * sy - drop, outer * sx, outer * sy - drop)


def _circle_circle(a: Arc, b: Arc) -> list[tuple[float, float]]:
    dx, dy = b.cx - a.cx, b.cy - a.cy
    gap = float(np.hypot(dx, dy))
    if gap < 1e-12 or gap > a.radius + b.radius or gap < abs(a.radius - b.radius):
        return []
    along = (gap**2 + a.radius**2 - b.radius**2) / (2 * gap)
    half = float(np.sqrt(max(a.radius**2 - along**2, 0.0)))
    ux, uy = dx / gap, dy / gap
    mx, my = a.cx + along * ux, a.cy + along * uy
    return [(mx - half * uy, my + half * ux), (mx + half * uy, my - half * ux)]


def _line_circle(s: Segment, c: Arc) -> list[tuple[float, float]]:
    ux, uy = (s.x1 - s.x0) / s.length, (s.y1 - s.y0) / s.length
    along = (c.cx - s.x0) * ux + (c.cy - s.y0) * uy
    fx, fy = s.x0 + along * ux, s.y0 + along * uy
    miss = float(np.hypot(fx - c.cx, fy - c.cy))
    if miss > c.radius * (1 + 1e-9):
        return []
    half = float(np.sqrt(max(c.radius**2 - miss**2, 0.0)))
    return [(fx - half * ux, fy - half * uy), (fx + half * ux, fy + half * uy)]


def _line_line(a: Segment, b: Segment) -> list[tuple[float, float]]:
    ax, ay, bx, by = a.x1 - a.x0, a.y1 - a.y0, b.x1 - b.x0, b.y1 - b.y0
    cross = ax * by - ay * bx
    if abs(cross) < 1e-14 * a.length * b.length:
        return []
    t = ((b.x0 - a.x0) * by - (b.y0 - a.y0) * bx) / cross
    return [(a.x0 + t * ax, a.y0 + t * ay)]


def crossings(a: PlaneCurve, b: PlaneCurve) -> list[tuple[float, float]]:
    """Points common to both curves (end points included within 1e-9 of a length)."""
    if isinstance(a, Arc) and isinstance(b, Arc):
        points = _circle_circle(a, b)
    elif isinstance(a, Segment) and isinstance(b, Segment):
        points = _line_line(a, b)
    else:
        line, circle = (a, b) if isinstance(a, Segment) else (b, a)
        assert isinstance(line, Segment)
        assert isinstance(circle, Arc)
        points = _line_circle(line, circle)
    shared = []
    for x, y in points:
        on_both = True
        for curve in (a, b):
            slack = 1e-9 / curve.length
            t = float(curve.parameter(np.array(x), np.array(y)))
            on_both &= (isinstance(curve, Arc) and curve.closed) or -slack <= t <= 1 + slack
        if on_both:
            shared.append((x, y))
    return shared


def split(curve: PlaneCurve, points: list[tuple[float, float]]) -> list[PlaneCurve]:
    """The curve cut at the given points on it; cuts nearer than 1e-9 m to an end or to each other are one."""
    slack = 1e-9 / curve.length
    cuts = sorted(float(curve.parameter(np.array(x), np.array(y))) for x, y in points)
    if isinstance(curve, Arc) and curve.closed:
        cuts = sorted(c % 1.0 for c in cuts)
        merged = [c for i, c in enumerate(cuts) if i == 0 or c - cuts[i - 1] > slack]
        if len(merged) > 1 and merged[0] + 1 - merged[-1] < slack:
            merged.pop()
        if not merged:
            return [curve]
        return [curve.part(a, b) for a, b in zip(merged, [*merged[1:], merged[0] + 1], strict=True)]
    bounds = [0.0]
    for c in cuts:
        if c - bounds[-1] > slack and 1 - c > slack:
            bounds.append(c)
    bounds.append(1.0)
    return [curve.part(a, b) for a, b in pairwise(bounds)]
