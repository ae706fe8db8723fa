"""Sites in space about a fitting, beyond those of the section's plan repeated in layers.

Each cylinder's surface lies midway between two rings of sites on its own polar grid: about the axis of the bodies
across, and about the pipe's where bodies along stand out of the insulation.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from sim.basics import Array
from sim.section.bodies import Bodies, Cylinder
from sim.section.fitting_plan import END_CELLS, GROWTH

AROUND = 18.0  # sites over half a turn about an axis across, at fineness 1
# of a cell: less than that between the insulation and a body's rim is no room for a ring of sites
TIGHT = 0.7
LARGEST = 1 / 4  # spacing as a part of the largest radius, at fineness 1


@dataclass(frozen=True)
class Grid:
    """A polar grid: radii and places along the axis of its sites, m, ascending; spacing beyond the last ones, m."""

    radius: Array
    place: Array
    beyond: float


def between(
    ends: list[float], smallest: float, largest: float, fineness: float, saddles: list[float] | None = None
) -> Array:
    """Sites between ends: graded to each, those beside an inner end as far from it on either side; one beyond.

    saddles: places to which they are graded, too.
    """
    corners = np.array(ends[1:])
    near = np.array([*ends[1:], *(saddles or [])])

    def size(x: Array) -> Array:
        apart = np.abs(x[:, None] - near).min(axis=1)
        spacing: Array = np.minimum(smallest + GROWTH * apart, largest) / fineness
        return spacing

    beside = 0.5 * size(corners)
    width = np.diff(np.array(ends))
    beside = np.minimum(beside, 0.25 * width)
    beside[:-1] = np.minimum(beside[:-1], 0.25 * width[1:])
    places = []
    for k, (low, high) in enumerate(pairwise(ends)):
        first = low + (beside[k - 1] if k else 0.5 * float(size(np.array([low]))[0]))
        first = min(first, low + 0.25 * (high - low))
        x = np.linspace(first, high - beside[k], 400)
        density = 1.0 / size(x)
        total = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(x))])
        count = max(1, round(float(total[-1])))
        places.append(np.interp(np.linspace(0.0, total[-1], count + 1), total, x))
    return np.concatenate([*places, [ends[-1] + beside[-1]]])


def _apart(values: set[float], least: float) -> list[float]:
    """Values ascending, of those nearer than `least` to the one before only the first."""
    kept: list[float] = []
    for value in sorted(values):
        if not kept or value - kept[-1] > least:
            kept.append(value)
    return kept


def across_grid(
    cylinders: tuple[Cylinder, ...], about: set[float], outer: float, insulation: float, fineness: float
) -> Grid:
    """The polar grid of bodies across of one axis, from where the first leaves the pipe of an outer radius, m.

    about: radii of the cylinders along, whose surfaces those across meet in saddles.
    """
    smallest = min(insulation / END_CELLS, min(c.radius for c in cylinders) / 3)
    least = 0.3 * smallest
    widest = max(c.radius for c in cylinders)
    # a body wider than the pipe has its low end beside it
    largest = widest * LARGEST
    start = np.sqrt(outer**2 - widest**2) if widest < outer else min(c.low for c in cylinders) - 2 * smallest
    radii = [0.0, *_apart({c.radius for c in cylinders}, least)]
    levels = {x for c in cylinders for x in (c.low, c.high) if x > start + least}
    radius = between(radii, smallest, largest, fineness)
    saddles = [
        np.sqrt(max(a**2 - part * c.radius**2, 0.0)) for a in about for c in cylinders for part in (0, 1)
    ]
    place = between([start, *_apart(levels, least)], smallest, largest, fineness, saddles)
    return Grid(radius, place, float(place[-1] - place[-2]))


def across_sites(bodies: Bodies, fineness: float) -> tuple[Array, Array]:
    """Sites of all bodies across for z > 0, (n, 3) m, and the reach (n,) m in which no site of the plan may stay."""
    points, reach = [np.zeros((0, 3))], [np.zeros(0)]
    insulation = bodies.cover - bodies.outer
    axes: dict[float, list[Cylinder]] = {}
    for c in bodies.across:
        axes.setdefault(c.clock_angle, []).append(c)
    for angle, cylinders in sorted(axes.items(), key=lambda axis: max(c.radius for c in axis[1])):
        metal = tuple(b.metal for b in bodies.bodies if not b.metal.along and b.metal.clock_angle == angle)
        grid = across_grid(
            tuple(cylinders), {c.radius for c in bodies.along}, bodies.outer, insulation, fineness
        )
        count = max(8, round(AROUND * fineness))
        turn = (np.arange(count) + 0.5) * np.pi / count
        half = 0.5 * np.pi / count
        true = np.sqrt(half / np.tan(half))  # so that the polygon has the circle's area
        r, t, s = (a.ravel() for a in np.meshgrid(grid.radius * true, turn, grid.place, indexing="ij"))
        ux, uy = np.sin(angle), np.cos(angle)
        aside, z = r * np.cos(t), r * np.sin(t)
        point = np.stack([s * ux + aside * uy, s * uy - aside * ux, z], axis=1)
        wide = np.interp(grid.radius, grid.radius, np.gradient(grid.radius))
        spacing = np.repeat(wide, count * len(grid.place))
        row = np.tile(np.gradient(grid.place), len(grid.radius) * count)
        profile = _profile(metal, s, row)
        every = _profile(tuple(cylinders), s, row)
        far = np.hypot(point[:, 0], point[:, 1])
        beside = r < profile + spacing
        outside = far > _line_reach(bodies, z) * (1 + 1e-9)
        keep = (far > bodies.outer + 0.5 * spacing) & (beside | (outside & (r < every + spacing)))
        keep |= (s > max(c.high for c in cylinders)) & (r < every.max() + spacing) & outside
        # beside those of a narrower body of another axis there is no room
        before = np.concatenate(points)
        keep &= staying(point, cKDTree(before) if len(before) else None, np.concatenate(reach), bodies.outer)
        points.append(point[keep])
        reach.append(0.75 * np.maximum(np.maximum(spacing, row), 2 * half * r)[keep])
    return np.concatenate(points), np.concatenate(reach)


def _profile(cylinders: tuple[Cylinder, ...], place: Array, beyond: Array) -> Array:
    """Largest radius of cylinders at places along their axis, m; 0 where there is none.

    beyond: distance from its ends up to which each counts, m, that an end too has sites on its other side.
    """
    radius = np.zeros(len(place))
    for c in cylinders:
        radius = np.where(
            (place >= c.low - beyond) & (place < c.high + beyond), np.maximum(radius, c.radius), radius
        )
    return radius


def _line_reach(bodies: Bodies, z: Array) -> Array:
    """Radius of the outside of all that lies about the pipe's axis at places along it, m."""
    reach = np.full(len(z), bodies.cover)
    for body in bodies.bodies:
        c = body.metal
        if c.along and body.bare and not body.covers:
            reach[(z >= c.low) & (z < c.high)] = bodies.outer
    for c in bodies.along:
        here = (z >= c.low) & (z < c.high)
        reach[here] = np.maximum(reach[here], c.radius)
    return reach


def rings(bodies: Bodies, images: Array, fineness: float) -> Array:
    """Sites of the plan about the pipe's axis beyond the insulation, (n, 2) m: none where no body along stands out.

    images (m, 2): mirror images of the cells beneath the insulation's outside, one ring sites' angles for all.
    """
    insulation = bodies.cover - bodies.outer
    least = 0.02 * insulation
    radii = _apart({c.radius for c in bodies.along if c.radius > bodies.cover + least}, least)
    if not radii:
        return np.zeros((0, 2))
    turn = np.arctan2(*images.T)
    one = np.unique(np.round(turn, 7), return_index=True)[1]
    away, turn = np.hypot(*images[one].T), turn[one]
    rows, smallest = [away], insulation / END_CELLS
    if radii[0] - away.max() < TIGHT * smallest / fineness:  # no room between: the images' own images
        rows.append(2 * radii[0] - away)
        radii = [float(rows[-1].max()), *radii[1:]]
    else:
        radii = [float(away.max()), *radii]
    if len(radii) > 1:
        further = between(radii, smallest, bodies.cover * LARGEST, fineness)
        rows += [np.full(len(away), r) for r in further]
    r = np.array(rows[1:])  # the first are there
    return np.stack([r * np.sin(turn), r * np.cos(turn)], axis=-1).reshape(-1, 2)


def staying(site: Array, tree: cKDTree | None, reach: Array, least: float) -> NDArray[np.bool_]:
    """Sites (n, 3) that stay beside those of bodies across: not within the nearest one's reach; `least`: m from the
    pipe's axis, nearer than which all stay."""
    stays = np.ones(len(site), bool)
    if tree is None or not len(reach):
        return stays
    beyond = np.flatnonzero(np.hypot(site[:, 0], site[:, 1]) > least)
    distance, nearest = tree.query(site[beyond])
    stays[beyond] = distance > reach[nearest]
    return stays
