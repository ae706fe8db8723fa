"""The plan mesh: Voronoi cells of the sites, as arrays of cells and faces."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.basics import IntArray as IntArray
from sim.basics import NotMeshed
from sim.section.bend import Bend
from sim.section.grid import grid
from sim.section.layout import OUTSIDE, Layout
from sim.section.pieces import Piece, exact_areas, interfaces
from sim.section.shapes import Array
from sim.section.sites import sites
from sim.section.sizing import BoreGrading, size_field
from sim.section.triangles import triangulation

COINCIDENT = 1e-12  # of the outside radius: sites nearer than this are one
LOST = 0.3  # error of a solid part's area from which the mesh is refused


@dataclass(frozen=True, eq=False)
class PlanMesh:
    """Voronoi cells of a section; a mesh is equal to itself alone.

    site (n, 2) m; cell_area (n,) m2; cell_region (n,); inner faces: face_cells (m, 2), face_length (m,),
    face_distance (m,) distance between the two sites, face_ends (m, 2) vertex numbers; cover faces (on the outside):
    cover_cell (b,), cover_length, cover_gap (site to face), cover_point (b, 2), cover_ends (b, 2);
    vertex (v, 2); area_error (n_regions,) relative. bend: what the section is swept around, None where it is straight.
    All that is asked of a metre of the axis (`cell_volume`, `face_area`, `cover_area`) is longer on a bend's outside.
    """

    layout: Layout
    pieces: tuple[Piece, ...]
    fineness: float
    site: Array
    cell_area: Array
    cell_region: IntArray
    face_cells: IntArray
    face_length: Array
    face_distance: Array
    face_ends: IntArray
    cover_cell: IntArray
    cover_length: Array
    cover_gap: Array
    cover_point: Array
    cover_ends: IntArray
    vertex: Array
    area_error: Array
    bend: Bend | None = None

    def __repr__(self) -> str:
        return f"<plan mesh of {self.cells} cells, fineness {self.fineness:g}>"

    @property
    def cells(self) -> int:
        return len(self.site)

    @cached_property
    def face_point(self) -> Array:
        """Where the line between a face's two sites crosses it, shape (m, 2)."""
        return 0.5 * (self.site[self.face_cells[:, 0]] + self.site[self.face_cells[:, 1]])

    def depth(self, points: Array) -> Array:
        """Length along the pipe of places (n, 2) for a metre of its axis, m, shape (n,); 1 where it is straight."""
        return np.ones(points.shape[:-1]) if self.bend is None else self.bend.depth(points)

    @cached_property
    def face_area(self) -> Array:
        """Area of each inner face for a metre of the axis, m2, shape (m,)."""
        return self.face_length * self.depth(self.vertex[self.face_ends].mean(axis=1))

    @cached_property
    def cover_area(self) -> Array:
        """Area of each cover face for a metre of the axis, m2, shape (b,)."""
        return self.cover_length * self.depth(self.cover_point)

    @cached_property
    def cell_volume(self) -> Array:
        """Volume of each cell for a metre of the axis, m3, shape (n,): its area times the depth at its centroid."""
        if self.bend is None:
            return self.cell_area
        area, volume = np.zeros(self.cells), np.zeros(self.cells)
        sides = [
            (self.face_cells[:, i], self.face_ends, 0.25 * self.face_length * self.face_distance)
            for i in (0, 1)
        ]
        sides.append((self.cover_cell, self.cover_ends, 0.5 * self.cover_length * self.cover_gap))
        for cell, ends, wedge in sides:
            middle = (self.site[cell] + self.vertex[ends].sum(axis=1)) / 3
            area += np.bincount(cell, wedge, self.cells)
            volume += np.bincount(cell, wedge * self.depth(middle), self.cells)
        return self.cell_area * volume / area

    @cached_property
    def kind(self) -> NDArray[np.str_]:
        """Kind of region of each cell, shape (n,)."""
        return np.array([region.kind for region in self.layout.regions])[self.cell_region]

    def of_kind(self, *kinds: str) -> NDArray[np.bool_]:
        """Whether a cell's region is of one of these kinds, shape (n,); much quicker than comparing words by cell."""
        return np.array([region.kind in kinds for region in self.layout.regions])[self.cell_region]

    @cached_property
    def index(self) -> IntArray:
        """Number within its kind of each cell's region, as in `Region.index`, shape (n,)."""
        return np.array([region.index for region in self.layout.regions])[self.cell_region]


def _circumcentres(points: Array, triangles: IntArray) -> Array:
    a, b, c = (points[triangles[:, i]] for i in range(3))
    ab, ac = b - a, c - a
    cross = 2 * (ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        ab2, ac2 = (ab**2).sum(1), (ac**2).sum(1)
        ux = (ac[:, 1] * ab2 - ab[:, 1] * ac2) / cross
        uy = (ab[:, 0] * ac2 - ac[:, 0] * ab2) / cross
    centre: Array = a + np.stack([ux, uy], axis=-1)
    flat = ~np.isfinite(centre).all(axis=1)
    centre[flat] = ((a + b + c) / 3)[flat]
    return centre


def voronoi(points: Array) -> tuple[Array, IntArray, IntArray]:
    """Voronoi faces of bounded length: vertices (v, 2), site pairs (m, 2), vertex pairs (m, 2)."""
    corner, beyond = triangulation(points)
    vertex = _circumcentres(points, corner)
    triangle = np.repeat(np.arange(len(corner)), 3)
    other = beyond.ravel()
    pair = np.stack([corner.ravel(), corner[:, [1, 2, 0]].ravel()], axis=-1)
    once = triangle < other
    return vertex, pair[once], np.stack([triangle[once], other[once]], axis=-1)


def _arc_length(layout: Layout, end: Array) -> Array:
    """Length of the outside's circle between the ends (n, 2, 2) of faces along it, m.

    Where interfaces crowd a face may lie askew; what it covers of the circle is what the outside sees of it.
    """
    turn = np.arctan2(end[..., 0], end[..., 1] + layout.drop)
    apart = np.abs(turn[:, 1] - turn[:, 0])
    length: Array = layout.cover_radius * np.minimum(apart, 2 * np.pi - apart)
    return length


def _apart(points: Array, nearest: float) -> Array:
    """Sites (n, 2) without those that coincide with an earlier one to `nearest`, m: their face would have no width."""
    for shift in (0.0, 0.5):  # two grids, so that no pair hides on either side of a line of both
        _, first = np.unique(np.round(points / nearest + shift), axis=0, return_index=True)
        points = points[np.sort(first)]
    return points


def bent(mesh: PlanMesh, bend: Bend) -> PlanMesh:
    """The mesh of a section swept around a bend. Raises NotMeshed if the section reaches the bend's centre."""
    reach = mesh.layout.cover_radius + mesh.layout.drop * float(np.cos(bend.outside))
    if reach >= bend.radius:
        raise NotMeshed(
            f"the section reaches {1e3 * reach:.4g} mm from the pipe's axis, and the bend's centre is at"
            f" {1e3 * bend.radius:.4g} mm"
        )
    return replace(mesh, bend=bend)


def plan_mesh(layout: Layout, fineness: float, grading: BoreGrading | None = None) -> PlanMesh:
    """Mesh a section at a fineness (1 coarse, 3 the default); `grading` for contents that move.

    Raises NotMeshed if the mesh is not closed.
    """
    pieces = interfaces(layout)
    size = size_field(layout, pieces, fineness, grading)
    points = _apart(sites(layout, pieces, grid(layout, size)), COINCIDENT * layout.cover_radius)
    region = layout.region_of(points[:, 0], points[:, 1])
    vertex, pair, ends = voronoi(points)
    length = np.hypot(*(vertex[ends[:, 0]] - vertex[ends[:, 1]]).T)
    gap = np.hypot(*(points[pair[:, 0]] - points[pair[:, 1]]).T)
    open_face = length > 1e-6 * gap
    met = np.zeros(len(points), bool)
    met[pair[open_face]] = True
    inside = (region != OUTSIDE) & met
    number = np.cumsum(inside) - 1
    both = inside[pair].all(axis=1) & open_face
    cover = (inside[pair].sum(axis=1) == 1) & open_face
    if not cover.any():
        raise NotMeshed("the section's mesh has no outside; its insulation is too thin to be meshed")
    cell = np.where(inside[pair[cover, 0]], pair[cover, 0], pair[cover, 1])
    ghost = pair[cover].sum(axis=1) - cell
    cover_triangle = np.bincount(number[cell], 0.25 * length[cover] * gap[cover], int(inside.sum()))
    cover_length = np.bincount(number[cell], _arc_length(layout, vertex[ends[cover]]), int(inside.sum()))
    # a cell that also sees a neighbour's mirror image has one cover face all the same, its own
    widest = np.lexsort((-length[cover], cell))
    widest_of_cell = widest[np.concatenate([[True], np.diff(cell[widest]) != 0])]
    cover, cell, ghost = np.flatnonzero(cover)[widest_of_cell], cell[widest_of_cell], ghost[widest_of_cell]
    site = points[inside]
    cells = number[pair[both]]
    triangle = 0.25 * length[both] * gap[both]
    area = cover_triangle.astype(float)
    for side in (0, 1):
        area += np.bincount(cells[:, side], triangle, len(site))
    return PlanMesh(
        layout,
        pieces,
        fineness,
        site,
        area,
        region[inside],
        cells,
        length[both],
        gap[both],
        ends[both],
        number[cell],
        cover_length[number[cell]],
        0.5 * gap[cover],
        0.5 * (points[cell] + points[ghost]),
        ends[cover],
        vertex,
        _area_error(layout, pieces, np.bincount(region[inside], area, len(layout.regions))),
    )


def _area_error(layout: Layout, pieces: tuple[Piece, ...], meshed: NDArray[Any]) -> Array:
    """Relative error of each region's area (n_regions,), of areas meshed, m2. Raises NotMeshed where large."""
    exact = exact_areas(layout, pieces)
    with np.errstate(divide="ignore", invalid="ignore"):
        area_error: Array = np.where(exact > 0, (meshed - exact) / exact, 0.0)
    if abs(meshed.sum() / (np.pi * layout.cover_radius**2) - 1) > 0.02:
        raise NotMeshed("the section's mesh does not close; its parts are too thin or too close to be meshed")
    for part, error in zip(layout.regions, area_error, strict=True):
        if part.kind in ("wall", "tracer") and abs(error) > LOST:
            key = f'tracer[{part.index + 1}] "{part.name}"' if part.kind == "tracer" else "pipe.wall"
            raise NotMeshed(
                f"{key}: its mesh has {1 + error:.2g} of its true area; it is too thin or too close to another part"
                " to be meshed; accepted: a greater fineness (--fineness), or more room"
            )
    return area_error
