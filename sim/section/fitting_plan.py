"""A section with the circles of a fitting's bodies along the pipe, and the layers in which it is repeated."""

from dataclasses import dataclass, fields
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np

from sim.case import Case, Fitting
from sim.section.bodies import Bodies, bodies_of
from sim.section.extrude import Layers
from sim.section.layout import Layout, place
from sim.section.pieces import OUTLINE
from sim.section.shapes import Arc, Array, PlaneCurve
from sim.section.support_plan import SOFT, WEDGE_IN_3D

ON = 1e-9  # of the outside's radius: a point so near a circle lies on it
CLOSE = 0.02  # of the insulation's thickness: a circle so near another one is that one
# cells over a gap beside a body's rim, and over the insulation, at fineness 1
RIM_CELLS, EDGE_CELLS = 4.0, 5.0
END_CELLS = 11.0  # layers per insulation thickness at a body's end, at fineness 1
BODY_CELLS = 5.0  # layers over a body's half length or a radius across at the least, at fineness 1
CUT_CELLS = 40.0  # the same where the line's insulation is cut beside a bare body
CUT_ROWS = (0.05, 0.2)  # of the insulation's thickness from there, rows of cells of their own along the pipe
GROWTH = 0.4  # layer thickness per distance from a body's end, at fineness 1
NEAR_REACH, FAR_REACH = 7.0, 0.10  # thickest layer: reach / NEAR_REACH + FAR_REACH z, at fineness 1
LONGEST = 6.0  # of a gap beside a circle, the length of a cell along it at the most
MARGIN = 2  # layers of the line's own beyond a fitting, that its cells are still made in space


@dataclass(frozen=True)
class FittingLayout(Layout):
    """A layout with the circles of bodies along the pipe."""

    bodies_along: Bodies | None = None

    @property
    def wedge_depth(self) -> float:
        return WEDGE_IN_3D

    @property
    def around(self) -> Bodies:
        """The fitting's bodies."""
        assert self.bodies_along is not None
        return self.bodies_along

    @cached_property
    def on_grid(self) -> Bodies:
        """The bodies as the mesh has them: circles that are nearly one of the plan's lie on it."""
        known = np.array([self.cover_radius, *self._radii(), *self.layer_radii])
        apart = CLOSE * (self.cover_radius - self.outer_radius) if self.drop == 0.0 else 0.0

        def nearest(radius: float) -> float:
            best = float(known[np.abs(known - radius).argmin()])
            return best if abs(best - radius) <= apart else radius

        return self.around.moved(nearest)

    def _radii(self) -> list[float]:
        """Radii of the bodies' circles inside the insulation, none near another."""
        apart = CLOSE * (self.cover_radius - self.outer_radius)
        taken = [self.outer_radius, self.cover_radius - abs(self.drop)]
        radii: list[float] = []
        for radius in sorted(c.radius for c in self.around.along):
            inside = self.outer_radius < radius < self.cover_radius - abs(self.drop)
            if inside and all(abs(radius - other) > apart for other in (*taken, *radii, *self.layer_radii)):
                radii.append(radius)
        return radii

    def part_circles(self) -> tuple[float, ...]:
        if self.drop != 0.0:
            return ()
        insulation, radii = self.cover_radius - self.outer_radius, set(self._radii())
        cuts = {min(b.metal.radius, self.cover_radius) for b in self.on_grid.bodies if b.cut}
        rows = {radius + side * at * insulation for radius in cuts for side in (-1, 1) for at in CUT_ROWS}
        known = [self.outer_radius, self.cover_radius, *radii]
        apart = 0.5 * CUT_ROWS[0] * insulation
        return tuple(
            radii | {r for r in rows if known[0] < r < known[1] and all(abs(r - k) > apart for k in known)}
        )

    def part_curves(self) -> list[tuple[PlaneCurve, int, bool]]:
        return [(Arc(0.0, 0.0, r, np.pi / 2, -2 * np.pi), OUTLINE, True) for r in self._radii()]

    @property
    def fewest(self) -> int:
        """Beside a thin gap the sites of a body's circle face those of the next: cells far longer than it is thin would
        not close."""
        if not self._radii() or self.drop != 0.0:
            return 0
        circles = np.unique([self.outer_radius, *self._radii(), *self.layer_radii])
        gaps = np.maximum(np.diff(circles), CLOSE * (self.cover_radius - self.outer_radius))
        turns = np.pi * circles[1:] / (LONGEST * gaps)
        return 2 * int(np.ceil(turns.max()))

    def parted(self, point: Array) -> bool:
        """A body's circle in the insulation has sites on both sides, although the plan is of one region there."""
        on = np.abs(np.hypot(*point[0]) - np.array([*self._radii(), np.inf])).min() < ON * self.cover_radius
        return bool(on) and self.regions[int(self.region_of(*point.T)[0])].kind in SOFT

    def near_parts(self, x: Array, y: Array) -> list[tuple[Array, float]]:
        r = np.hypot(x, y)
        insulation = self.cover_radius - self.layer_radii[0]
        return [
            (np.abs(r - radius), min(insulation / (2 * EDGE_CELLS), (self.cover_radius - radius) / RIM_CELLS))
            for radius in self._radii()
        ]


def place_fitting(case: Case, fitting: Fitting) -> FittingLayout:
    """Lay out the section with the circles of a fitting's bodies. Raises ValueError if parts cannot be placed."""
    base = place(case)
    shared: dict[str, Any] = {f.name: getattr(base, f.name) for f in fields(Layout)}
    return FittingLayout(**shared, bodies_along=_merged(bodies_of(case, fitting)))


def _merged(bodies: Bodies) -> Bodies:
    """The bodies with circles that are nearly one beyond the insulation made one, the least of them."""
    apart = CLOSE * (bodies.cover - bodies.outer)
    beyond = sorted({c.radius for c in bodies.along if c.radius > bodies.cover + apart})
    first: dict[float, float] = {}
    for radius in beyond:
        last = first[max(first)] if first else -np.inf
        first[radius] = radius if radius - last > apart else last
    return bodies.moved(lambda radius: first.get(radius, radius))


def fitting_layers(layout: FittingLayout, length: float, reach: float, fineness: float) -> Layers:
    """Layers over 0..length, m, with edges at the ends of bodies along and of their covers.

    Each has its site, edges lie midway between sites, so that the faces of cells made in space lie on them. reach:
    distance over which the pipe's temperature decays, m. Thickness falls as 1 / fineness.
    """
    around = layout.around
    insulation = layout.cover_radius - layout.layer_radii[0]
    ends = sorted({0.0, length} | {z for c in around.along for z in (c.low, c.high) if 0.0 < z < length})
    ends = [0.0, *(b for a, b in pairwise(ends) if b - a > 1e-3 * insulation)]
    ends[-1] = length
    across = max((c.radius for c in around.across), default=0.0)
    corners = np.array(ends[1:-1] or [around.half_length])
    # beside a bare body the cut insulation loses most in the last millimetres
    bare = {z for b in around.bodies if b.cut for z in (b.metal.low, b.metal.high)}
    smallest = insulation / np.array([CUT_CELLS if z in bare else END_CELLS for z in corners])

    def size(z: Array) -> Array:
        wanted = (smallest + GROWTH * np.abs(z[:, None] - corners)).min(axis=1)
        wanted = np.minimum(wanted, reach / NEAR_REACH + FAR_REACH * z)
        if across > 0.0:
            wanted = np.minimum(wanted, across / BODY_CELLS + GROWTH * np.maximum(z - across, 0.0))
        thickness: Array = wanted / fineness
        return thickness

    sites = []
    for low, high in pairwise(ends):
        first, last = (0.5 * size(np.array([z]))[0] for z in (low, high))
        first, last = (min(d, 0.25 * (high - low)) for d in (first, last))
        z = np.linspace(low + first, high - last, 600)
        density = 1.0 / size(z)
        total = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(z))])
        count = max(1, round(float(total[-1])))
        sites.append(np.interp(np.linspace(0.0, total[-1], count + 1), total, z))
    site = np.concatenate(_mirrored(sites, ends))
    edge = np.concatenate([[0.0], 0.5 * (site[1:] + site[:-1]), [length]])
    return Layers(edge, np.zeros(len(site), np.int64), site)


def _mirrored(sites: list[Array], ends: list[float]) -> list[Array]:
    """The sites of each interval, the two beside an end as far from it."""
    for k, end in enumerate(ends[1:-1]):
        near = min(end - sites[k][-1], sites[k + 1][0] - end)
        sites[k][-1], sites[k + 1][0] = end - near, end + near
    return sites


def block(layout: FittingLayout, layers: Layers) -> int:
    """Number of layers from z = 0 that a fitting changes, with a margin of the line's own."""
    far = layout.around.half_length
    return min(int(np.searchsorted(layers.edge, far * (1 + 1e-9))) + MARGIN, layers.count - 1)
