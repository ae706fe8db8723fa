"""How large the cells are, and where: one size field per section, scaled by one number, the fineness.

Three meshes of a convergence study differ in nothing but the fineness, so their refinement is systematic.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.section.layout import FlatBody, Layout, RoundBody
from sim.section.pieces import OUTLINE, PIPE, Piece
from sim.section.shapes import Array

FAR_CELLS = 48  # cells around the circumference, far from everything, at fineness 1
RADIAL_CELLS = 4  # rows through the insulation at fineness 1
BORE_CELLS = 5  # cells over the bore's radius at fineness 1
GROWTH = 0.55  # cell size per distance from what it resolves, at fineness 1
TRACER_CELLS = 5.0  # cells across a tracer's smaller dimension at fineness 1
WEDGE = 5e-4  # cell size at the end of a round tracer's contact, as a part of the contact's width
FINEST = 3e-6  # the same as a part of the section's radius: below it rounding spoils the triangulation
DEEP = 0.15  # within a contact's width of its end, cells grow as the distance to the power 1 - DEEP ...
STEEPEST = 0.45  # ... up to this size per distance
JUNCTION = 0.25  # cell size at other meetings of interfaces, as a part of the tracer's own
# the same where a foil leaves its tracer and where it meets the pipe: it converges slowly there
TANGENT = 0.02
LEVEL_END = 0.05  # cell size where a level meets the wall, as a part of the wall's thickness, at fineness 1


# radius, as a part of the bore's, within which a square lattice replaces the rows of a graded bore
LATTICE = 0.45
BORE_GROWTH = 0.45  # of cells that grow from the bore's wall: size per distance, at fineness 1


@dataclass(frozen=True)
class BoreGrading:
    """Cells of contents that move: size at the wall and in the middle as parts of the bore's radius, at fineness 1."""

    wall: float
    middle: float = 1 / 8

    def size(self, depth: Array, fineness: float) -> Array:
        """Cell size at depths below the wall (n,), parts of the radius."""
        return np.minimum(self.wall + BORE_GROWTH * depth, max(self.middle, self.wall)) / fineness

    def rows(self, fineness: float, deepest: float) -> Array:
        """Depths of the bounds of the rows of cells from the wall (0) to `deepest`, increasing."""
        depth = np.linspace(0.0, deepest, 4001)
        count = np.concatenate([[0.0], np.cumsum(np.diff(depth) / self.size(depth[1:], fineness))])
        rows = max(2, round(float(count[-1])))
        return np.interp(np.linspace(0.0, count[-1], rows + 1), count, depth)


@dataclass(frozen=True)
class SizeField:
    """Target cell size at any point, m: the least of `at[k] + growth * distance(points[k])`, bodies and far field.

    points: (n, 2) junctions; at: (n,) sizes there; wedge: (n,) contact width where a wedge ends there, else 0;
    body_size: (n_bodies,); growth: size per distance; far: angle per cell, rad; bore: cell size in the contents, m.
    All of them fall as 1 / fineness, but for the innermost part of a wedge, where the temperature goes with so low
    a power of the distance that depth matters most.
    """

    layout: Layout
    fineness: float
    points: Array
    at: Array
    wedge: Array
    body_size: Array
    growth: float
    far: float
    bore: float
    grading: BoreGrading | None = None

    def __call__(self, points: Array) -> Array:
        """Target size at each of (n, 2) points, shape (n,)."""
        x, y = points[:, 0], points[:, 1]
        r = np.hypot(x, y)
        radius = self.layout.inner_radius
        in_bore = r < radius * (1 - 1e-9)  # the bore's own circle counts as wall, whatever rounding
        bore = np.full(np.shape(r), self.bore)
        if self.grading is not None:
            bore = radius * self.grading.size(np.maximum(1 - r / radius, 0.0), self.fineness)
        size = np.where(in_bore, bore, r * self.far)
        for body, body_size in zip(self.layout.bodies, self.body_size, strict=True):
            size = np.minimum(size, body_size + self.growth * _outside_by(body, x, y))
        for apart, here in self.layout.near_parts(x, y):
            size = np.minimum(size, here / self.fineness + self.growth * apart)
        for junctions, deep in ((self.wedge > 0, True), (self.wedge == 0, False)):
            if junctions.any():
                size = np.minimum(size, self._from_points(x, y, junctions, deep).min(axis=0))
        return size

    def bore_rows(self) -> Array:
        """Heights of the rows of cells of a graded bore from the wall inwards, m."""
        assert self.grading is not None
        return np.diff(self.grading.rows(self.fineness, 1 - LATTICE)) * self.layout.inner_radius

    def _from_points(self, x: Array, y: Array, junctions: NDArray[np.bool_], deep: bool) -> Array:
        """Sizes that some of the junctions ask for, shape (points, n)."""
        points = self.points[junctions]
        apart = np.hypot(x - points[:, :1], y - points[:, 1:])
        growth: float | Array = self.growth
        if deep:
            steeper = np.maximum(self.wedge[junctions, None] / np.maximum(apart, 1e-30), 1.0) ** DEEP
            growth = np.minimum(self.growth * steeper, max(STEEPEST, self.growth))
        return self.at[junctions, None] + apart * growth


def _outside_by(body: RoundBody | FlatBody, x: Array, y: Array) -> Array:
    """Distance outside a tracer's body (0 inside), m; for a flat one in unrolled coordinates."""
    if isinstance(body, RoundBody):
        return np.maximum(np.hypot(x - body.cx, y - body.cy) - body.radius, 0.0)
    r = np.hypot(x, y)
    turn = np.abs(np.mod(np.arctan2(x, y) - body.clock_angle + np.pi, 2 * np.pi) - np.pi)
    aside = np.maximum(turn - body.half_angle, 0.0) * body.inner
    off = np.maximum(np.maximum(body.inner - r, r - body.outer), 0.0)
    return np.hypot(aside, off)


def size_field(
    layout: Layout, pieces: tuple[Piece, ...], fineness: float, grading: BoreGrading | None = None
) -> SizeField:
    """Build the size field of a section.

    Beside the contact of a round tracer the insulation ends in a sharp wedge, across which much of the heat may
    flow, the more the nearer the corner; there the cells shrink with the distance from it over three decades. Other
    junctions get a milder refinement.
    """
    body_size = np.array([_thickness(b) / TRACER_CELLS for b in layout.bodies])
    places = [
        *_contact_ends(layout, pieces, fineness),
        *_foil_ends(layout, fineness),
        *(_level_ends(layout, fineness) if grading is None else ()),
    ]
    corner = np.array([point for point, _, _ in places]).reshape(-1, 2)
    size_at = np.array([size for _, size, _ in places])
    wedge_at = np.array([width for _, _, width in places])
    if len(size_at):
        order = np.lexsort((size_at, np.round(corner[:, 1], 9), np.round(corner[:, 0], 9)))
        corner, size_at, wedge_at = corner[order], size_at[order], wedge_at[order]
        first = np.concatenate([[True], np.hypot(*np.diff(corner, axis=0).T) > 1e-8])
        corner, size_at, wedge_at = corner[first], size_at[first], wedge_at[first]
    return SizeField(
        layout,
        fineness,
        corner,
        size_at,
        wedge_at,
        body_size / fineness,
        GROWTH / fineness,
        2 * np.pi / root_count(layout, fineness),
        layout.inner_radius / BORE_CELLS / fineness,
        grading,
    )


Junction = tuple[
    Array, float, float
]  # place (2,), cell size there, contact width where a wedge ends there, else 0


def _contact_ends(layout: Layout, pieces: tuple[Piece, ...], fineness: float) -> Iterator[Junction]:
    """Where tracers' contacts end, and where a flat one's sides meet others."""
    kinds = [r.kind for r in layout.regions]
    for piece in pieces:
        if piece.rank not in (PIPE, OUTLINE):
            continue
        sides = [n for n in (piece.left, piece.right) if n >= 0]
        bodies = [layout.regions[n].index for n in sides if kinds[n] == "tracer"]
        if not bodies:
            continue
        contact = all(kinds[n] in ("wall", "tracer") for n in sides) and len(sides) == 2
        touching = [b for b in layout.bodies if b.index in bodies]
        wedged = any(isinstance(b, RoundBody) for b in touching)
        if wedged and not contact:
            continue
        width = piece.curve.length if wedged else 0.0
        finest = max((layout.wedge_depth or WEDGE) * width, FINEST * layout.cover_radius)
        size = finest if wedged else JUNCTION * min(_thickness(b) for b in touching) / TRACER_CELLS / fineness
        for end in piece.curve.point(np.array([0.0, 1.0])):
            yield end, size, width


def _foil_ends(layout: Layout, fineness: float) -> Iterator[Junction]:
    """Where a foil leaves its tracers and meets the pipe."""
    for hull in layout.hulls if layout.foil else ():
        for tangent_point in (*hull.shoulders, *hull.feet):
            yield np.array(tangent_point), TANGENT * _thickness(hull.body) / TRACER_CELLS / fineness, 0.0


def _level_ends(layout: Layout, fineness: float) -> Iterator[Junction]:
    """Where a level meets the wall, of contents that are not graded."""
    if layout.wedge_depth is None and abs(layout.level) < layout.inner_radius:
        half = float(np.sqrt(layout.inner_radius**2 - layout.level**2))
        end = np.array([half, layout.level])
        across = (
            layout.outer_radius / layout.inner_radius
        )  # the bore's cells follow those of the pipe's outside
        for corner_at in (end, end * [-1, 1], end * across, end * [-across, across]):
            yield corner_at, LEVEL_END * (layout.outer_radius - layout.inner_radius) / fineness, 0.0


def root_count(layout: Layout, fineness: float) -> int:
    """Cells around the circumference before any local refinement."""
    return max(round(FAR_CELLS * fineness), layout.fewest)


def _thickness(body: RoundBody | FlatBody) -> float:
    return 2 * body.radius if isinstance(body, RoundBody) else body.outer - body.inner
