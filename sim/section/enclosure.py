"""What radiates to what in an enclosure of arcs and straight lines: its patches and the view factors between them.

A void of the section, or the dry part of the bore, is bounded by curves that may bulge into it and hide one another.
Seen from a point, sin(theta) from the normal spans -1 to 1, and a patch of the boundary has half of the span it covers
as its view factor (a two-dimensional, diffuse surface: Hottel and Sarofim, Radiative Transfer, 1967, ch. 2; the
crossed strings follow from it by integration along the patch). The span changes hands only where an end of a patch, or
the edge of a round body, comes into view; between two such directions one ray tells what is seen there.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from sim.basics import IntArray, NotMeshed
from sim.section.pieces import Piece
from sim.section.shapes import Arc, Array, PlaneCurve, Segment

GAUSS = 0.5 + np.array([-0.5, 0.5]) / np.sqrt(3.0)  # points of a patch from which it is looked around
NOTHING = 1e-12  # a span of sin(theta) below this is nobody's
LEAK = 0.05  # part of a patch's view that may miss the boundary before it counts as open
PROBES, DIRECTIONS = 9, 16  # points of a curve, and rays from each, that tell which curves bound one void
TURN, TURN_OF_TRACER = 8.0, 10.0  # patches to a full turn at fineness 1
SIDE = 4.0  # patches to a straight side at fineness 1
CLOSE = 0.75  # growth of a patch's length with its distance from the next tracer, at fineness 1
PASSES = 40  # of scaling; what they leave of a row is the patch's view of itself


@dataclass(frozen=True)
class Wall:
    """A curve that bounds an enclosure, the enclosure to its left; region: what lies behind it; foil: it is covered."""

    curve: PlaneCurve
    region: int
    foil: bool = False


@dataclass(frozen=True)
class Patches:
    """Stretches of the walls: wall (n,) its number, start, stop (n,) fractions of its length, length (n,) m."""

    wall: IntArray
    start: Array
    stop: Array
    length: Array

    def __len__(self) -> int:
        return len(self.wall)


def reverse(curve: PlaneCurve) -> PlaneCurve:
    """The same curve run through the other way."""
    if isinstance(curve, Segment):
        return Segment(curve.x1, curve.y1, curve.x0, curve.y0)
    return replace(curve, a0=curve.a0 + curve.sweep, sweep=-curve.sweep)


def walls(pieces: Sequence[Piece], inside: NDArray[np.bool_]) -> list[Wall]:
    """Walls of the enclosures made of the regions `inside` (n_regions,); foil within one is a wall on either side."""
    bounding = []
    for piece in pieces:
        left, right = (n >= 0 and bool(inside[n]) for n in (piece.left, piece.right))
        if left and (piece.foil or not right):
            bounding.append(Wall(piece.curve, piece.right, piece.foil))
        if right and (piece.foil or not left):
            bounding.append(Wall(reverse(piece.curve), piece.left, piece.foil))
    return bounding


def fraction(curve: PlaneCurve, point: Array) -> Array:
    """Fractions of a curve's length, in 0..1, nearest to points (n, 2)."""
    at = curve.parameter(*point.T)
    return np.mod(at, 1.0) if isinstance(curve, Arc) and curve.closed else np.clip(at, 0.0, 1.0)


def _bulges(curve: PlaneCurve) -> bool:
    """Whether a wall's curve is convex towards its enclosure."""
    return isinstance(curve, Arc) and curve.sweep < 0


def first_hit(bounds: Sequence[PlaneCurve], origin: Array, direction: Array) -> tuple[IntArray, Array]:
    """First curve met by rays from origin (n, 2) along unit vectors (n, 2), -1 if none, and the distance (n,) m."""
    scale = max(float(np.abs(curve.point(np.array([0.0, 0.5, 1.0]))).max()) for curve in bounds)
    least = 1e-10 * scale
    hit, apart = np.full(len(origin), -1), np.full(len(origin), np.inf)
    (px, py), (dx, dy) = origin.T, direction.T
    for k, curve in enumerate(bounds):
        if isinstance(curve, Segment):
            ex, ey = curve.x1 - curve.x0, curve.y1 - curve.y0
            fx, fy = curve.x0 - px, curve.y0 - py
            with np.errstate(divide="ignore", invalid="ignore"):
                across = dx * ey - dy * ex
                along, reach = (fx * dy - fy * dx) / across, (fx * ey - fy * ex) / across
            better = (reach > least) & (reach < apart) & (along >= 0) & (along <= 1)
            hit[better], apart[better] = k, reach[better]
            continue
        fx, fy = px - curve.cx, py - curve.cy
        b = fx * dx + fy * dy
        root = np.sqrt(np.maximum(b * b - (fx * fx + fy * fy - curve.radius**2), 0.0))
        missed = b * b - (fx * fx + fy * fy - curve.radius**2) < 0
        middle = curve.a0 + 0.5 * curve.sweep
        mx, my = np.cos(middle), np.sin(middle)
        lowest = -2 * curve.radius if curve.closed else curve.radius * np.cos(0.5 * curve.sweep)
        for reach in (-b - root, -b + root):
            on_arc = (fx + reach * dx) * mx + (fy + reach * dy) * my >= lowest
            better = ~missed & on_arc & (reach > least) & (reach < apart)
            hit[better], apart[better] = k, reach[better]
    return hit, apart


def groups(bounds: Sequence[PlaneCurve]) -> IntArray:
    """Number of the enclosure that each curve bounds, (n_curves,): curves that see each other bound the same one."""
    place = (np.arange(PROBES) + 0.5) / PROBES
    sine = (2 * np.arange(DIRECTIONS) + 1) / DIRECTIONS - 1
    origin, direction = [], []
    for curve in bounds:
        point, normal = (np.repeat(a, DIRECTIONS, axis=0) for a in (curve.point(place), curve.normal(place)))
        origin.append(point)
        direction.append(_turned(normal, np.tile(sine, PROBES)))
    hit, _ = first_hit(bounds, np.concatenate(origin), np.concatenate(direction))
    viewer = np.repeat(np.arange(len(bounds)), PROBES * DIRECTIONS)
    seen = hit >= 0
    n = len(bounds)
    links = coo_matrix((np.ones(int(seen.sum())), (viewer[seen], hit[seen])), shape=(n, n))
    number: IntArray = connected_components(links, directed=False)[1].astype(np.int64)
    return number


def _turned(normal: Array, sine: Array) -> Array:
    """Unit vectors at an angle of the given sine from normals (n, 2), towards the curve's start where positive."""
    cosine = np.sqrt(1.0 - sine**2)
    return cosine[:, None] * normal + sine[:, None] * np.stack([-normal[:, 1], normal[:, 0]], axis=-1)


def wanted_length(
    bounds: Sequence[PlaneCurve], tracer: Sequence[int], fineness: float
) -> list[Callable[[Array], Array]]:
    """Length of patches wanted along each curve, m, as functions of the fraction of its length.

    tracer (n_curves,): the tracer whose outline a curve is, -1 for pipe and insulation. Short beside a tracer, for
    there the view and the temperature change. All lengths fall as 1 / fineness.
    """

    def law(k: int) -> Callable[[Array], Array]:
        curve = bounds[k]
        turns = TURN_OF_TRACER if tracer[k] >= 0 else TURN
        longest = 2 * np.pi * curve.radius / turns if isinstance(curve, Arc) else curve.length / SIDE
        others = [c for c, t in zip(bounds, tracer, strict=True) if t >= 0 and t != tracer[k]]
        shortest = [c.length / TURN_OF_TRACER for c in others]

        def longest_at(t: Array) -> Array:
            point, least = curve.point(t), np.full(len(t), longest)
            for other, short in zip(others, shortest, strict=True):
                least = np.minimum(least, short + CLOSE * other.distance(point))
            return least / fineness

        return longest_at

    return [law(k) for k in range(len(bounds))]


def cut(curve: PlaneCurve, longest: Callable[[Array], Array], allowed: Array | None = None) -> Array:
    """Fractions (n + 1,) at which a curve is cut into patches of about the wanted length, first 0, last 1.

    allowed (m,): fractions at which it may be cut (the ends of the mesh's faces); anywhere if None.
    """
    t = np.linspace(0.0, 1.0, 257)
    middle = 0.5 * (t[1:] + t[:-1])
    count = np.concatenate([[0.0], np.cumsum(curve.length / 256 / longest(middle))])
    parts = max(1, round(float(count[-1])))
    at = np.interp(np.linspace(0.0, count[-1], parts + 1), count, t)[1:-1]
    if allowed is not None and len(allowed):
        near = np.clip(np.searchsorted(allowed, at), 1, max(len(allowed) - 1, 1))
        low, high = allowed[near - 1], allowed[np.minimum(near, len(allowed) - 1)]
        at = np.unique(np.where(at - low < high - at, low, high))
    elif allowed is not None:
        at = at[:0]
    return np.concatenate([[0.0], at[(at > 0) & (at < 1)], [1.0]])


def patches(bounds: Sequence[PlaneCurve], cuts: Sequence[Array]) -> Patches:
    """Patches between the cuts of every curve."""
    count = [len(c) - 1 for c in cuts]
    start, stop = (np.concatenate([c[s] for c in cuts]) for s in (slice(None, -1), slice(1, None)))
    wall = np.repeat(np.arange(len(bounds)), count)
    return Patches(wall, start, stop, (stop - start) * np.array([c.length for c in bounds])[wall])


def exchange_areas(bounds: Sequence[PlaneCurve], patch: Patches) -> Array:
    """Area times view factor between patches, (n, n), m: symmetric, each row summing to the patch's length.

    Each pair is looked at from both ends and the mean taken (reciprocity); rows and columns are then scaled by one
    factor a patch towards sums of its length, which keeps the symmetry, and what is left of a row is the patch's view
    of itself (summation). Curves that do not see each other may be given together. Raises NotMeshed if more than
    LEAK of a patch's view misses the boundary.
    """
    area = np.zeros((len(patch), len(patch)))
    group = groups(bounds)
    for g in range(int(group.max()) + 1):
        in_group = np.flatnonzero(group[patch.wall] == g)
        members: list[int] = np.flatnonzero(group == g).tolist()
        number = np.searchsorted(members, patch.wall[in_group])
        part = Patches(number, patch.start[in_group], patch.stop[in_group], patch.length[in_group])
        area[np.ix_(in_group, in_group)] = _looked_around([bounds[k] for k in members], part)
    missed = float((1.0 - area.sum(axis=1) / patch.length).max())
    if missed > LEAK:
        raise NotMeshed(f"surfaces do not enclose a void: {missed:.0%} of a patch's view misses them")
    area = 0.5 * (area + area.T)
    for _ in range(PASSES):
        scale = np.sqrt(patch.length / area.sum(axis=1))
        area = area * scale[:, None] * scale[None, :]
    area[np.diag_indices(len(patch))] += patch.length - area.sum(axis=1)
    return area


def _looked_around(bounds: list[PlaneCurve], patch: Patches) -> Array:
    """Length times view factor (n, n) from the Gauss points of every patch of one enclosure."""
    n, eyes = len(patch), len(patch) * len(GAUSS)
    at = (patch.start[:, None] + GAUSS * (patch.stop - patch.start)[:, None]).ravel()
    wall = np.repeat(patch.wall, len(GAUSS))
    eye, normal, ends = np.empty((eyes, 2)), np.empty((eyes, 2)), np.empty((n, 2))
    for k, curve in enumerate(bounds):
        on_wall = wall == k
        eye[on_wall], normal[on_wall] = curve.point(at[on_wall]), curve.normal(at[on_wall])
        ends[patch.wall == k] = curve.point(patch.start[patch.wall == k])
    last = np.array([curve.point(np.array(1.0)) for curve in bounds])
    events = [_sines(np.concatenate([ends, last])[None] - eye[:, None], normal)]
    for x, y, radius in {(c.cx, c.cy, c.radius) for c in bounds if isinstance(c, Arc) and _bulges(c)}:
        to_x, to_y = x - eye[:, 0], y - eye[:, 1]
        square = to_x**2 + to_y**2
        tangent = np.sqrt(np.maximum(square - radius**2, 0.0))
        edge = [
            np.stack([to_x * tangent - s * to_y * radius, to_y * tangent + s * to_x * radius], axis=-1)
            for s in (-1, 1)
        ]
        events.append(_sines(np.stack(edge, axis=1), normal))
    sine = np.sort(
        np.concatenate([np.full((eyes, 1), -1.0), *events, np.full((eyes, 1), 1.0)], axis=1), axis=1
    )
    span, middle = np.diff(sine, axis=1), 0.5 * (sine[:, 1:] + sine[:, :-1])
    viewer, column = np.nonzero(span > NOTHING)
    ray = _turned(normal[viewer], middle[viewer, column])
    hit, apart = first_hit(bounds, eye[viewer], ray)
    seen = np.full(len(hit), -1)
    for k, curve in enumerate(bounds):
        on_wall, patches = np.flatnonzero(hit == k), np.flatnonzero(patch.wall == k)
        point = eye[viewer[on_wall]] + apart[on_wall, None] * ray[on_wall]
        place = fraction(curve, point)
        seen[on_wall] = patches[
            np.clip(np.searchsorted(patch.start[patches], place, side="right") - 1, 0, len(patches) - 1)
        ]
    visible = seen >= 0
    weight = 0.5 * span[viewer, column] * (patch.length / len(GAUSS))[viewer // len(GAUSS)]
    pair = (viewer // len(GAUSS))[visible] * n + seen[visible]
    return np.bincount(pair, weight[visible], n * n).reshape(n, n).astype(float)


def _sines(towards: Array, normal: Array) -> Array:
    """Sine of the angle from normals (n, 2) to directions (n, m, 2), 1 behind the horizon."""
    x, y = towards[..., 0], towards[..., 1]
    nx, ny = normal[:, :1], normal[:, 1:]
    reach = np.hypot(x, y)
    ahead = x * nx + y * ny > 0
    return np.where(ahead, (y * nx - x * ny) / np.maximum(reach, 1e-300), 1.0)
