"""Fittings as solid cylinders along the pipe or across it: what lies at any point of space around one.

Axes as in docs/model.md; z = 0 is the middle of the fitting, a plane of symmetry: z >= 0 stands for both halves.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.basics import Array, IntArray
from sim.case import Case, Fitting
from sim.case.clock_face import clock_to_angle

AIR, CONTENTS, LINE, COVER, GAS, FIRST_BODY = (
    -2,
    -1,
    0,
    1,
    2,
    3,
)  # what a cell is made of: body n is FIRST_BODY + n


@dataclass(frozen=True)
class Cylinder:
    """Within `radius` of its axis, between two distances along it, m; clock_angle: of an axis across, rad."""

    along: bool
    clock_angle: float
    radius: float
    low: float
    high: float

    def frame(self, x: Array, y: Array, z: Array) -> tuple[Array, Array]:
        """Distance from the axis and place along it (from the pipe's axis, or from z = 0), m."""
        if self.along:
            return np.hypot(x, y), np.abs(z)
        ux, uy = np.sin(self.clock_angle), np.cos(self.clock_angle)
        return np.hypot(x * uy - y * ux, z), x * ux + y * uy

    def inside(self, x: Array, y: Array, z: Array) -> NDArray[np.bool_]:
        off, at = self.frame(x, y, z)
        return (off < self.radius) & (at >= self.low) & (at < self.high)


@dataclass(frozen=True)
class Body:
    """A body of a fitting: its metal, the cylinders of its cover (none where it is bare all over), its hollow.

    bare: whether a part of it is given as bare; filled: "contents", "gas" or "metal".
    """

    metal: Cylinder
    covers: tuple[Cylinder, ...]
    bare: bool
    hollow: Cylinder | None = None
    filled: str = "metal"

    @property
    def cut(self) -> bool:
        """Whether the line's insulation ends at its faces: a bare body along."""
        return self.bare and self.metal.along


@dataclass(frozen=True)
class Bodies:
    """A fitting's bodies about a line: inner and outer radius of its pipe and the outside of its insulation, m;
    drop: of the insulation's axis below the pipe's."""

    bodies: tuple[Body, ...]
    inner: float
    outer: float
    cover: float
    drop: float

    def made_of(self, x: Array, y: Array, z: Array) -> IntArray:
        """What lies at points (n,): a code of this module; LINE where it is the line's own."""
        r = np.hypot(x, y)
        code = np.where(np.hypot(x, y + self.drop) < self.cover, LINE, AIR)
        for body in self.bodies:
            if body.cut:
                between = (np.abs(z) >= body.metal.low) & (np.abs(z) < body.metal.high)
                code[between & (r >= self.outer)] = AIR
        for body in self.bodies:
            for cover in body.covers:
                code[cover.inside(x, y, z) & (r >= self.outer)] = COVER
        code[r < self.outer] = LINE
        for number, body in enumerate(self.bodies):
            code[body.metal.inside(x, y, z)] = FIRST_BODY + number
            if body.hollow is not None and body.filled != "metal":
                hollow = body.hollow.inside(x, y, z)
                code[hollow] = CONTENTS if body.filled == "contents" else GAS
        code[r < self.inner] = LINE
        return code

    @property
    def along(self) -> tuple[Cylinder, ...]:
        """All cylinders about the pipe's axis: metal, covers, hollows."""
        return tuple(c for c in self._all() if c.along)

    @property
    def across(self) -> tuple[Cylinder, ...]:
        """All cylinders about an axis across."""
        return tuple(c for c in self._all() if not c.along)

    def moved(self, to: Callable[[float], float]) -> Bodies:
        """The same with each radius about the pipe's axis as `to` makes it."""

        def widened(c: Cylinder) -> Cylinder:
            return replace(c, radius=to(c.radius)) if c.along else c

        return replace(
            self,
            bodies=tuple(
                replace(
                    b,
                    metal=widened(b.metal),
                    covers=tuple(widened(c) for c in b.covers),
                    hollow=None if b.hollow is None else widened(b.hollow),
                )
                for b in self.bodies
            ),
        )

    def _all(self) -> list[Cylinder]:
        every = []
        for body in self.bodies:
            every += [body.metal, *body.covers]
            if body.hollow is not None and body.filled != "metal":
                every.append(body.hollow)
        return every

    @property
    def half_length(self) -> float:
        """Of the stretch along the pipe that the fitting changes, m."""
        return max(c.high if c.along else c.radius for c in self._all())


def bodies_of(case: Case, fitting: Fitting) -> Bodies:
    """The bodies of a fitting of a case, SI."""
    from sim.section.layout import place

    layout = place(case)
    bodies = []
    thick = layout.cover_radius - layout.layer_radii[0]
    given = next((b.cover_thickness for b in fitting.body if b.cover_thickness > 0.0), thick)
    for b in fitting.body:
        turn = clock_to_angle(b.clock) if b.clock is not None else 0.0
        along = b.axis == "along"
        low = max(b.low, 0.0) if along else b.low
        metal = Cylinder(along, turn, b.diameter / 2, low, b.high)
        hollow = None
        if b.hollow is not None:
            h = b.hollow
            hollow = Cylinder(along, turn, h.diameter / 2, low if h.low is None else max(h.low, low), h.high)
        covers = []
        start = b.cover_from if b.cover_from is not None else -np.inf
        if b.cover_thickness > 0.0:
            t = b.cover_thickness
            first = max(start, low - t if along and low > 0.0 else low)
            covers.append(Cylinder(along, turn, metal.radius + t, first, b.high + t))
        elif b.cover_from is not None:
            covers.append(Cylinder(along, turn, metal.radius + given, low, min(b.cover_from, b.high)))
        bodies.append(
            Body(
                metal,
                tuple(covers),
                b.cover_thickness == 0.0,
                hollow,
                b.hollow.filled if b.hollow is not None else "metal",
            )
        )
    return Bodies(tuple(bodies), layout.inner_radius, layout.outer_radius, layout.cover_radius, layout.drop)
