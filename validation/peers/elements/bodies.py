"""Tracers in their places on a pipe, and where an oversize shell hangs (docs/model.md, parts 2, 3 and 8).

Points are complex numbers (x + iy, metres; 12 o'clock is +i, 3 o'clock +1).
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray


def direction(clock: float) -> complex:
    """Unit vector towards a clock position, hours clockwise from 12."""
    return complex(1j * np.exp(-2j * np.pi * clock / 12))


def clock_of(point: complex) -> float:
    """Clock position of a point seen from the origin, 0 <= clock < 12."""
    return float((-np.angle(point / 1j) * 12 / (2 * np.pi)) % 12)


@dataclass(frozen=True)
class Body:
    """A tracer in its place: `turn` is the direction from the pipe axis, angles are local to it."""

    round: bool
    turn: complex
    pipe_radius: float
    lifted: bool
    centre: float  # distance of a round tracer's centre from the pipe axis
    radius: float  # of a round tracer, or outer radius of a flat one
    base: float  # inner radius of a flat one
    half: float  # half angle of the contact (or footprint) on the pipe surface
    hull: float  # local angle on the pipe surface at which the common tangent touches

    @property
    def thickness(self) -> float:
        """Size of the smallest dimension, m."""
        return self.radius if self.round else self.radius - self.base

    def local(self, z: Any) -> Any:
        """The point in axes where the tracer sits on the positive real axis."""
        return z / self.turn

    def inside(self, z: NDArray[np.complex128]) -> NDArray[np.bool_]:
        """Points of the tracer's body, all of them outside the pipe."""
        w = self.local(z)
        if self.round:
            return (abs(w - self.centre) < self.radius) & (abs(w) > self.pipe_radius)
        return (abs(w) > self.base) & (abs(w) < self.radius) & (abs(np.angle(w)) < self.half)

    def beneath(self, z: NDArray[np.complex128]) -> NDArray[np.bool_]:
        """The air gap below a lifted flat tracer."""
        w = self.local(z)
        return (abs(w) > self.pipe_radius) & (abs(w) < self.base) & (abs(np.angle(w)) < self.half)

    def in_hull(self, z: NDArray[np.complex128]) -> NDArray[np.bool_]:
        """Points between the common tangents, the pipe and the tracer (the tracer's body included)."""
        w = self.local(z)
        if not self.round:  # each side by itself: the two may lie more than half a turn apart
            angle = abs(np.angle(w))
            under = abs(w) * np.cos(angle - self.hull) < self.pipe_radius
            return (
                (abs(w) > self.pipe_radius)
                & (angle < self.hull)
                & (under | (angle < self.half))
                & (abs(w) < self.radius)
            )
        below = ((w * np.exp(-1j * self.hull)).real < self.pipe_radius) & (
            (w * np.exp(1j * self.hull)).real < self.pipe_radius
        )
        foot = np.cos(self.hull)
        along = (w.real > self.pipe_radius * foot) & (w.real < self.centre + self.radius * foot)
        return below & along & (abs(w) > self.pipe_radius)

    def distance(self, z: complex) -> float:
        """Distance from the body's outline (zero or small inside), for sizes only."""
        w = self.local(z)
        if self.round:
            return abs(abs(w - self.centre) - self.radius)
        angle, r = float(np.angle(w)), abs(w)
        nearest = min(max(r, self.base), self.radius) * np.exp(1j * min(max(angle, -self.half), self.half))
        return float(abs(w - nearest))


def place(tracer: Any, pipe_radius: float) -> Body:
    """Put a tracer of the case on a pipe (docs/model.md, part 3)."""
    turn, lift = direction(tracer.clock), float(tracer.standoff or 0.0)
    if tracer.shape == "round":
        r = tracer.diameter / 2
        half_chord = (tracer.contact_width or 0.2 * tracer.diameter) / 2
        centre = np.sqrt(pipe_radius**2 - half_chord**2) + np.sqrt(r**2 - half_chord**2)
        if lift:
            centre = pipe_radius + lift + r
        hull = np.arccos((pipe_radius - r) / centre)
        half = np.arcsin(half_chord / pipe_radius)
        return Body(True, turn, pipe_radius, lift > 0, float(centre), r, 0.0, float(half), float(hull))
    base = pipe_radius + lift
    top, half = base + tracer.height, tracer.width / (2 * pipe_radius)
    hull = half + np.arccos(pipe_radius / top)
    return Body(False, turn, pipe_radius, lift > 0, 0.0, top, base, half, float(hull))


def bore_centre(case: Any, bodies: list[Body]) -> complex:
    """Centre of the bore: the shell hangs on the pipe, or on a tracer that reaches higher (docs/model.md, 3 and 8)."""
    insulation = case.insulation
    if insulation.fit != "oversize":
        return 0j
    bore = insulation.bore / 2
    lowest = -(bore - case.pipe.outer_radius)
    for body in bodies:
        if body.round:
            points = [body.centre * body.turn]
        else:
            points = [
                body.radius * body.turn * np.exp(1j * a) for a in np.linspace(-body.half, body.half, 41)
            ]
            if abs(np.angle(body.turn / 1j)) < body.half:
                points.append(1j * body.radius)
        room = bore - (body.radius if body.round else 0.0)
        for p in points:
            if abs(p.real) >= room:
                raise ValueError("a tracer does not fit under the bore")
            lowest = max(lowest, p.imag - np.sqrt(room**2 - p.real**2))
    return 1j * lowest
