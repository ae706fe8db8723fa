"""Sites of the plan mesh: mirrored pairs along every interface, and the polar grid's sites between them.

The Voronoi face between the two sites of a pair lies on the interface, so cell faces follow the interfaces.
"""

from dataclasses import dataclass
from itertools import chain

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from sim.section.filling import filling
from sim.section.grid import Grid
from sim.section.layout import Layout
from sim.section.pieces import Piece
from sim.section.shapes import Arc, Array, Segment

CLEARANCE = 0.25  # half height of a pair, as a part of the distance to the nearest other interface
CUSP = 0.05  # an interface is given up where it is nearer to a higher-ranked one than this part of its cells
NEAR = 0.62  # a grid site nearer to another site than this part of its own size is dropped
# cosine between a ray from the axis and a tracer's outline up to which it counts as facing the pipe
FACING = 0.6
STRETCH = 1.4  # how much longer than the target a sample may be that is not on the polar grid
SMOOTH = np.cos(np.radians(8.0))


@dataclass(frozen=True)
class Samples:
    """Pairs along the interfaces: middle (n, 2), left normal (n, 2), half length along and height off, m;
    piece: index of the piece; start, stop: fractions along it."""

    middle: Array
    normal: Array
    length: Array
    height: Array
    piece: NDArray[np.int64]
    start: Array
    stop: Array

    @property
    def pairs(self) -> Array:
        """The sites (2 n, 2): those to the left of each interface, then those to its right."""
        off = self.normal * self.height[:, None]
        return np.concatenate([self.middle + off, self.middle - off])


def _circle_of(piece: Piece, grid: Grid) -> int | None:
    """Which of the grid's circles a piece lies on."""
    curve = piece.curve
    if isinstance(curve, Arc):
        for k, circle in enumerate(grid.circles):
            if abs(circle.radius - curve.radius) < 1e-12 and abs(circle.drop + curve.cy) < 1e-12:
                return k
    return None


def _bounds(piece: Piece, grid: Grid) -> Array:
    """Sample bounds along a piece as fractions, increasing from 0 to 1."""
    curve, k = piece.curve, _circle_of(piece, grid)
    if piece.around_pipe and (k is not None or isinstance(curve, Segment)):
        if k is not None:
            points = grid.circles[k].at(grid.angles(k)[:-1])
        else:
            assert isinstance(curve, Segment)
            points = _seen_from_axis(curve, grid.angles(grid.pipe)[:-1])
        t = np.sort(curve.parameter(*points.T))
        t = np.concatenate([[0.0], t[(t > 1e-9) & (t < 1 - 1e-9)], [1.0]])
        if (isinstance(curve, Arc) and curve.closed) or len(t) < 3:
            return t
        keep = np.ones(len(t), bool)
        keep[1] = t[1] > 0.5 * (t[2] - t[1])
        keep[-2] = keep[-2] and 1 - t[-2] > 0.5 * (t[-2] - t[-3])
        return t[keep]
    bounds = np.linspace(0.0, 1.0, 5 if isinstance(curve, Arc) and curve.closed else 2)
    if isinstance(curve, Arc) and not curve.closed:
        bounds = _over_pipe(curve, grid)
    for _ in range(24):
        middle = 0.5 * (bounds[1:] + bounds[:-1])
        wide = np.diff(bounds) * curve.length > STRETCH * grid.size(curve.point(middle))
        if not wide.any():
            break
        bounds = np.sort(np.concatenate([bounds, middle[wide]]))
    return bounds


def _over_pipe(curve: Arc, grid: Grid) -> Array:
    """Bounds of a round tracer's outline facing those of the pipe in the wedge beside its contact.

    Away from the pipe, where the outline turns from it, the bounds are left wide, to be halved.
    """
    radius = grid.circles[grid.pipe].radius
    ends = curve.point(np.array([0.0, 1.0]))
    bounds = np.array([0.0, 1.0])
    if np.abs(np.hypot(*ends.T) - radius).max() > 1e-9:
        return bounds
    angle = grid.angles(grid.pipe)[:-1]
    along = curve.cx * np.sin(angle) + curve.cy * np.cos(angle)
    root = along**2 - (curve.cx**2 + curve.cy**2 - curve.radius**2)
    hit = (root > 0) & (along > 0)
    r = along[hit] - np.sqrt(root[hit])
    facing = np.sqrt(root[hit]) > FACING * curve.radius
    point = (r[:, None] * np.stack([np.sin(angle[hit]), np.cos(angle[hit])], axis=-1))[facing]
    t = curve.parameter(*point.T)
    t = np.sort(t[(t > 1e-9) & (t < 1 - 1e-9)])
    for end in (0.0, 1.0):
        near_end = t[t < 0.5] if end == 0.0 else t[t >= 0.5][::-1]
        if len(near_end) > 1 and abs(near_end[0] - end) < 0.5 * abs(near_end[1] - near_end[0]):
            t = t[t != near_end[0]]
    return np.concatenate([[0.0], t, [1.0]])


def _seen_from_axis(line: Segment, angle: Array) -> Array:
    """Where rays from the pipe's axis at clock angles meet a line, kept if in front, shape (n, 2)."""
    ux, uy = np.sin(angle), np.cos(angle)
    nx, ny = -(line.y1 - line.y0), line.x1 - line.x0
    with np.errstate(divide="ignore"):
        r = (nx * line.x0 + ny * line.y0) / (nx * ux + ny * uy)
    front = (r > 0) & np.isfinite(r)
    return np.stack([r * ux, r * uy], axis=-1)[front]


def _ends(piece: Piece) -> tuple[Array, Array]:
    """The two end points (2, 2) and the unit directions leaving them along the piece (2, 2)."""
    t = min(1e-3, 1e-6 / piece.curve.length)
    p = piece.curve.point(np.array([0.0, t, 1.0, 1 - t]))
    away = np.stack([p[1] - p[0], p[3] - p[2]])
    return p[[0, 2]], away / np.linalg.norm(away, axis=1, keepdims=True)


def _carrying_on(pieces: tuple[Piece, ...]) -> NDArray[np.bool_]:
    """Which open pieces meet end to end without a corner, shape (pieces, pieces)."""
    every = [_ends(piece) for piece in pieces]
    end, away = (np.array([e[i] for e in every]) for i in (0, 1))
    apart = end[:, None, :, None] - end[None, :, None, :]
    same = np.hypot(apart[..., 0], apart[..., 1]) < 1e-7
    smooth = np.einsum("aix,bjx->abij", away, away) < -SMOOTH
    closed = np.array([isinstance(p.curve, Arc) and p.curve.closed for p in pieces])
    joined: NDArray[np.bool_] = (same & smooth).any(axis=(2, 3)) & ~(closed[:, None] | closed)
    return joined


def _clearances(
    points: Array, length: Array, piece_of: NDArray[np.int64], pieces: tuple[Piece, ...]
) -> tuple[Array, Array]:
    """Distance of each sample to the nearest other piece, and to the nearest one of a higher rank (n,), (n,).

    A lower-ranked piece that is given up so close by does not count.
    """
    nearest, above = np.full(len(points), np.inf), np.full(len(points), np.inf)
    rank = np.array([p.rank for p in pieces])[piece_of]
    carrying_on = _carrying_on(pieces)
    np.fill_diagonal(carrying_on, True)
    for j, other in enumerate(pieces):
        apart = other.curve.distance(points)
        apart[carrying_on[j][piece_of]] = np.inf
        higher = (other.rank < rank) | ((other.rank == rank) & (j < piece_of))
        above = np.where(higher, np.minimum(above, apart), above)
        nearest = np.where(higher | (apart > CUSP * length), np.minimum(nearest, apart), nearest)
    return nearest, above


def _pair_height(piece: Piece, grid: Grid, middle: Array, length: Array) -> Array:
    """Height of a pair off the interface before clearances, m: half the lower row beside it."""
    k = _circle_of(piece, grid)
    if k is None:
        return 0.5 * length
    angle = np.arctan2(middle[:, 0], middle[:, 1])
    height = length
    for zone in (k, k + 1):
        if zone < len(grid.zones):
            rows = grid.row_height(zone, k, angle)
            present = grid.zones[zone].thickness(angle) > CUSP * length
            height = np.where(present, np.minimum(height, 0.5 * rows), height)
    return height


def sample(pieces: tuple[Piece, ...], grid: Grid) -> Samples:
    """Place the pairs; where interfaces crowd, the lower-ranked one is left out."""
    rows = []
    for i, piece in enumerate(pieces):
        t = _bounds(piece, grid)
        centre = 0.5 * (t[1:] + t[:-1])
        middle, normal = piece.curve.point(centre), piece.curve.normal(centre)
        length = np.diff(t) * piece.curve.length
        height = _pair_height(piece, grid, middle, length)
        if isinstance(piece.curve, Arc):  # the tangent polygon with the arc's own area
            rise = length**2 / (24 * piece.curve.radius) * np.sign(piece.curve.sweep)
            middle = middle + normal * rise[:, None]
        rows.append((middle, normal, length, height, np.full(len(length), i), t[:-1], t[1:]))
    middle, normal, length, height, piece_of, start, stop = (
        np.concatenate(c) for c in zip(*rows, strict=True)
    )
    nearest, above = _clearances(middle, length, piece_of, pieces)
    height = np.minimum(height, CLEARANCE * nearest)
    keep = above > CUSP * length
    samples = _select(Samples(middle, normal, length, height, piece_of, start, stop), keep)
    return _without_conflicts(samples, np.array([p.rank for p in pieces]))


def _select(s: Samples, keep: NDArray[np.bool_]) -> Samples:
    return Samples(*(values[keep] for values in vars(s).values()))


def _guards(s: Samples) -> tuple[Array, Array]:
    """Discs no foreign site may enter, else the interface is broken: centres (m, 2) and radii (m,)."""
    along = np.stack([-s.normal[:, 1], s.normal[:, 0]], axis=-1) * (s.length / 2)[:, None]
    centre = np.concatenate([s.middle + along, s.middle - along, s.middle])
    reach = np.hypot(s.length / 2, s.height)
    follows = (s.piece[1:] == s.piece[:-1]) & (s.start[1:] == s.stop[:-1])
    at_start, at_stop = reach.copy(), reach.copy()
    at_start[1:][follows] = np.minimum(reach[1:], reach[:-1])[follows]
    at_stop[:-1][follows] = np.minimum(reach[1:], reach[:-1])[follows]
    return centre, np.concatenate([at_start, at_stop, s.height])


def _within(site: Array, centre: Array, reach: Array) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """All (site, disc) pairs of which the site lies inside the disc."""
    hits = cKDTree(site).query_ball_point(centre, reach)
    count = np.fromiter(map(len, hits), np.int64, len(hits))
    inside = np.fromiter(chain.from_iterable(hits), np.int64, int(count.sum()))
    return inside, np.repeat(np.arange(len(hits)), count)


def _without_conflicts(s: Samples, rank: NDArray[np.int64]) -> Samples:
    """Leave out pairs with a site inside the guard disc of a higher-ranked interface that is itself kept."""
    centre, reach = _guards(s)
    count = len(s.length)
    junction = np.concatenate([s.start == 0, s.stop == 1, np.zeros(count, bool)])
    reach = np.where(junction, 0.0, reach)  # where interfaces meet, their sites share the corner
    site, disc = _within(s.pairs, centre, 0.97 * reach)
    pair, guard = site % count, disc % count
    pair_rank, guard_rank = rank[s.piece[pair]], rank[s.piece[guard]]
    keep = np.ones(count, bool)
    for level in np.unique(rank)[1:]:
        clash = (pair_rank == level) & (guard_rank < level) & keep[guard]
        keep[pair[clash]] = False
    return _select(s, keep)


def sites(layout: Layout, pieces: tuple[Piece, ...], grid: Grid) -> Array:
    """All sites inside the cover and the mirrored ones just outside it, shape (n, 2).

    Raises ValueError if the cover could not be sampled.
    """
    s = sample(pieces, grid)
    inner, smaller = filling(grid)
    gap, _ = cKDTree(s.pairs).query(inner)
    inner = inner[gap > NEAR * smaller]
    centre, reach = _guards(s)
    clear = np.ones(len(inner), bool)
    clear[_within(inner, centre, 1.01 * reach)[0]] = False
    inner = inner[clear]
    inside = np.hypot(inner[:, 0], inner[:, 1] + layout.drop) < layout.cover_radius - s.height.min()
    return np.concatenate([s.pairs, inner[inside]])
