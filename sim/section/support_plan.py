"""A section with the footprints of a support's parts: pad, leg and insert as regions of the plan.

The plan tells every combination of base region and footprints apart, so that a cell is of the line's own material
where a part is absent along z, and of the part's where it is present.
"""

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.basics import IntArray
from sim.case import Case, Support
from sim.case.clock_face import clock_to_angle
from sim.section.layout import Layout, Region, place
from sim.section.pieces import OUTLINE, WET
from sim.section.shapes import Arc, Array, PlaneCurve, Segment, ray

PAD, LEG, INSERT, CLEARANCE = 1, 2, 4, 8  # bits of a region's footprints; CLEARANCE: beside a leg, no barrier
SOFT = ("void", "layer", "wet")  # what a part takes the place of
WEDGE_IN_3D = 0.03  # smallest cell in a round tracer's wedge, as a part of the contact's width
LEG_CELLS = 3.0  # across a leg, at fineness 1
INSULATION_CELLS = 5.0  # over the insulation beside a leg at the least, at fineness 1
PAD_CELLS = 1.0  # pad thicknesses per cell along its edges, at fineness 1
HIGH = 0.15  # of the insulation's thickness: a ring this high drains by its rim, which is a re-entrant corner
RIM_CELLS = 4.0  # cells over the gap between a high ring's rim and the outside, at fineness 1
RING = 2 * np.pi - 0.02  # an arc from here is a whole ring


@dataclass(frozen=True)
class Sector:
    """A part of an annulus about the pipe's axis: pad or insert. Angles in rad, lengths in m (z: half)."""

    clock_angle: float
    half_angle: float
    inner: float
    outer: float
    half_length: float

    def inside(self, x: Array, y: Array) -> NDArray[np.bool_]:
        r = np.hypot(x, y)
        turn = np.mod(np.arctan2(x, y) - self.clock_angle + np.pi, 2 * np.pi) - np.pi
        return (r < self.outer) & (r >= self.inner) & (np.abs(turn) < self.half_angle)

    @property
    def ring(self) -> bool:
        return 2 * self.half_angle >= RING


@dataclass(frozen=True)
class Strip:
    """A leg: |distance from the ray at clock_angle| < half_width, outside the pipe; half_length along z."""

    clock_angle: float
    half_width: float
    half_length: float

    @property
    def direction(self) -> tuple[float, float]:
        return float(np.sin(self.clock_angle)), float(np.cos(self.clock_angle))

    def aside(self, x: Array, y: Array) -> Array:
        """Signed distance from the ray's line, m."""
        ux, uy = self.direction
        return x * uy - y * ux

    def inside(self, x: Array, y: Array) -> NDArray[np.bool_]:
        ux, uy = self.direction
        return (np.abs(self.aside(x, y)) < self.half_width) & (x * ux + y * uy > 0)


@dataclass(frozen=True)
class SupportLayout(Layout):
    """A layout with footprints. `footprints` (n_regions,) holds each region's bits; `lookup` (bases, 16) its number."""

    pad: Sector | None = None
    leg: Strip | None = None
    insert: Sector | None = None
    clearance: Strip | None = None
    footprints: tuple[int, ...] = ()
    lookup: tuple[tuple[int, ...], ...] = ()

    @property
    def wedge_depth(self) -> float:
        return WEDGE_IN_3D

    def region_of(self, x: Array, y: Array) -> IntArray:
        """Region number at each point, the footprints told apart."""
        x, y = np.asarray(x, float), np.asarray(y, float)
        base = super().region_of(x, y)
        bits = np.zeros(np.shape(x), np.int64)
        for bit, part in (
            (PAD, self.pad),
            (LEG, self.leg),
            (INSERT, self.insert),
            (CLEARANCE, self.clearance),
        ):
            if part is not None:
                bits += bit * part.inside(x, y)
        if self.pad is not None and self.leg is not None and self.leg.half_length <= self.pad.half_length:
            bits = np.where(bits & PAD, bits & ~LEG, bits)
        bits = np.where(bits & (PAD | LEG), bits & ~CLEARANCE, bits)
        return np.where(base < 0, base, np.array(self.lookup)[base, bits])

    @property
    def high_ring(self) -> bool:
        """Whether the pad is a ring so high that its rim wants cells of its own."""
        high = HIGH * (self.cover_radius - self.layer_radii[0])
        return self.pad is not None and self.pad.ring and self.pad.outer - self.pad.inner >= high

    def part_circles(self) -> tuple[float, ...]:
        """Radii about the pipe's axis on which the polar grid gets a row of its own."""
        return (self.pad.outer,) if self.pad is not None and self.drop == 0.0 else ()

    def part_curves(self) -> list[tuple[PlaneCurve, int, bool]]:
        """Curves that bound the footprints: (curve, rank, around_pipe)."""
        curves: list[tuple[PlaneCurve, int, bool]] = []
        if self.pad is not None:
            a, b = (self.pad.clock_angle + s * self.pad.half_angle for s in (-1, 1))
            span = 2 * np.pi if self.pad.ring else b - a
            curves.append((Arc(0.0, 0.0, self.pad.outer, np.pi / 2 - a, -span), OUTLINE, True))
            if not self.pad.ring:
                curves += [(ray(s, self.pad.inner, self.pad.outer), OUTLINE, False) for s in (a, b)]
        for strip in (self.leg, self.clearance):
            if strip is None:
                continue
            (ux, uy), w = strip.direction, strip.half_width
            for side in (-w, w):
                start = float(np.sqrt(self.outer_radius**2 - w**2))
                stop = self._reach(side * uy, -side * ux, ux, uy)
                x, y = side * uy, -side * ux
                line = Segment(x + start * ux, y + start * uy, x + stop * ux, y + stop * uy)
                curves.append((line, OUTLINE if strip is self.leg else WET, False))
        if self.insert is not None and not self.insert.ring:
            for sign in (-1, 1):
                angle = self.insert.clock_angle + sign * self.insert.half_angle
                stop = self._reach(0.0, 0.0, float(np.sin(angle)), float(np.cos(angle)))
                curves.append((ray(angle, self.outer_radius, stop), WET, False))
        return curves

    def _reach(self, x: float, y: float, ux: float, uy: float) -> float:
        """Distance along a unit direction from (x, y) to the cover's circle, m."""
        y = y + self.drop
        along = x * ux + y * uy
        return float(-along + np.sqrt(along**2 - (x * x + y * y) + self.cover_radius**2))

    def near_parts(self, x: Array, y: Array) -> list[tuple[Array, float]]:
        """(distance from a part (n,) m, cell size wanted there at fineness 1) for the mesh's size field."""
        near: list[tuple[Array, float]] = []
        if self.leg is not None:
            size = min(
                2 * self.leg.half_width / LEG_CELLS,
                (self.cover_radius - self.layer_radii[0]) / INSULATION_CELLS,
            )
            aside = np.maximum(np.abs(self.leg.aside(x, y)) - self.leg.half_width, 0.0)
            ux, uy = self.leg.direction
            short = np.maximum(self.outer_radius - (x * ux + y * uy), 0.0)
            near.append((np.hypot(aside, short), size))
        if self.pad is not None and self.high_ring:
            insulation, gap = self.cover_radius - self.layer_radii[0], self.cover_radius - self.pad.outer
            size = min(gap / RIM_CELLS, insulation / (2 * INSULATION_CELLS))
            near.append((np.abs(np.hypot(x, y) - self.pad.outer), size))
        elif self.pad is not None and not self.pad.ring:
            size = PAD_CELLS * (self.pad.outer - self.pad.inner)
            for sign in (-1, 1):
                angle = self.pad.clock_angle + sign * self.pad.half_angle
                near.append((ray(angle, self.pad.inner, self.pad.outer).distance(np.stack([x, y], -1)), size))
        return near


def place_support(case: Case, support: Support) -> SupportLayout:
    """Lay out the section with a support's footprints. Raises ValueError if parts cannot be placed."""
    base = place(case)
    radius = case.pipe.outer_radius
    pad = leg = insert = clearance = None
    if support.pad is not None:
        p = support.pad
        pad = Sector(clock_to_angle(p.clock), p.arc / 2, radius, radius + p.thickness, p.length / 2)
        if pad.ring:
            pad = replace(pad, half_angle=np.pi + 1e-9)
    if support.leg is not None:
        e = support.leg
        leg = Strip(clock_to_angle(e.clock), e.width / 2, e.length / 2)
        if case.barrier is not None and not support.barrier_touches:
            clearance = Strip(
                leg.clock_angle, leg.half_width + support.barrier_gap, leg.half_length + support.barrier_gap
            )
    if support.insert is not None:
        i = support.insert
        far = 4 * base.cover_radius
        insert = Sector(clock_to_angle(i.clock), i.arc / 2, radius, far, i.length / 2)
        if insert.ring:
            insert = replace(insert, half_angle=np.pi + 1e-9)
    regions: list[Region] = list(base.regions)
    footprints = [0] * len(regions)
    lookup: list[tuple[int, ...]] = []
    for number, region in enumerate(base.regions):
        row = [number] * 16
        if region.kind in SOFT:
            for bits in range(1, 16):
                row[bits] = len(regions)
                regions.append(region)
                footprints.append(bits)
        lookup.append(tuple(row))
    shared: dict[str, Any] = {f.name: getattr(base, f.name) for f in fields(Layout)} | {
        "regions": tuple(regions)
    }
    parts: dict[str, Any] = {"pad": pad, "leg": leg, "insert": insert, "clearance": clearance}
    return SupportLayout(**shared, **parts, footprints=tuple(footprints), lookup=tuple(lookup))
