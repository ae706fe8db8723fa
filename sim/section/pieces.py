"""The interfaces of a section: its curves cut where they meet, each piece kept if it parts two regions.

A piece knows the region on either side, so contacts, sheets and areas follow from pairs of regions alone.
"""

from dataclasses import dataclass

import numpy as np

from sim.section.layout import FlatBody, Layout, RoundBody
from sim.section.shapes import Arc, Array, PlaneCurve, Segment, crossings, ray, split

# Which interface gives way where two crowd: the lower number is kept.
PIPE, BORE, COVER, OUTLINE, LAYER, LEVEL, HULL, WET = range(8)


@dataclass(frozen=True)
class Piece:
    """A stretch of interface between two junctions.

    left, right: region numbers (OUTSIDE beyond the insulation); rank: see above; foil: a foil lies on it;
    around_pipe: it is followed by the angle about the pipe's axis, so its samples align with the pipe's.
    """

    curve: PlaneCurve
    left: int
    right: int
    rank: int
    foil: bool
    around_pipe: bool


def _circle(x: float, y: float, radius: float) -> Arc:
    """Full circle starting at 12 o'clock, clockwise."""
    return Arc(x, y, radius, np.pi / 2, -2 * np.pi)


def _curves(layout: Layout) -> list[tuple[PlaneCurve, int, bool]]:
    """All candidate curves: (curve, rank, around_pipe)."""
    curves: list[tuple[PlaneCurve, int, bool]] = [
        (_circle(0, 0, layout.outer_radius), PIPE, True),
        (_circle(0, 0, layout.inner_radius), BORE, True),
    ]
    first = 0 if layout.oversize else 1
    for i, radius in enumerate(layout.layer_radii[first:], start=first):
        last = i == len(layout.layer_radii) - 1
        if radius == layout.cover_radius and not last:
            continue  # the outermost layer is too thin to mesh
        curves.append((_circle(0, -layout.drop, radius), COVER if last else LAYER, True))
    if abs(layout.level) < layout.inner_radius:
        half = float(np.sqrt(layout.inner_radius**2 - layout.level**2))
        curves.append((Segment(-half, layout.level, half, layout.level), LEVEL, False))
    for body in layout.bodies:
        if isinstance(body, RoundBody):
            curves.append((_circle(body.cx, body.cy, body.radius), OUTLINE, False))
    for body in (*layout.bodies, *layout.gaps):
        if isinstance(body, FlatBody):
            a, b = body.clock_angle - body.half_angle, body.clock_angle + body.half_angle
            for radius in (body.inner, body.outer):
                if radius > layout.outer_radius * (1 + 1e-9):
                    curves.append((Arc(0.0, 0.0, radius, np.pi / 2 - a, a - b), OUTLINE, True))
            for side in (a, b):
                curves.append((ray(side, body.inner, body.outer), OUTLINE, False))
    for hull in layout.hulls:
        for (px, py), (qx, qy) in zip(hull.feet, hull.shoulders, strict=True):
            curves.append((Segment(px, py, qx, qy), HULL, True))
    for layer, start, stop in layout.wet:
        r0, r1 = layout.layer_radii[layer], layout.layer_radii[layer + 1]
        for angle in (start, stop):
            curves.append((ray(angle, r0, r1, layout.drop), WET, False))
    return curves + layout.part_curves()


def _without_repeats(curves: list[tuple[PlaneCurve, int, bool]]) -> list[tuple[PlaneCurve, int, bool]]:
    """Drop curves that lie on another (the seat of a stacked flat tracer, a gap's sides)."""
    distinct: list[tuple[PlaneCurve, int, bool]] = []
    probe = np.array([0.137, 0.5, 0.871])
    for curve, rank, around in curves:
        if all(other.distance(curve.point(probe)).max() > 1e-9 for other, _, _ in distinct):
            distinct.append((curve, rank, around))
    return distinct


def _on_foil(layout: Layout, point: Array, sides: Array, reach: float) -> bool:
    """Whether a point of an interface is on a foil: along a tangent, or on a tracer's face between its shoulders.

    sides (2, 2): points just beside it. Where hulls overlap the foil lies on their common outside.
    """
    x, y = point[0]
    covered = [hull.inside(*sides.T) | hull.body.inside(*sides.T) for hull in layout.hulls]
    for i, hull in enumerate(layout.hulls):
        if any(c.all() for j, c in enumerate(covered) if j != i):
            continue
        for (px, py), (qx, qy) in zip(hull.feet, hull.shoulders, strict=True):
            if Segment(px, py, qx, qy).distance(point)[0] < reach:
                return True
        body = hull.body
        if isinstance(body, RoundBody):
            on_face = abs(np.hypot(x - body.cx, y - body.cy) - body.radius) < reach
            (ax, ay), (bx, by) = hull.shoulders
            beyond = (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0
            if on_face and beyond == ((bx - ax) * (2 * body.cy - ay) - (by - ay) * (2 * body.cx - ax) > 0):
                return True
        elif abs(np.hypot(x, y) - body.outer) < reach and body.within(np.array([x]), np.array([y]))[0]:
            return True
    return False


def interfaces(layout: Layout) -> tuple[Piece, ...]:
    """Cut every curve where it meets others; keep what parts two regions, bounds a part or carries foil."""
    curves = _without_repeats(_curves(layout))
    cuts: list[list[tuple[float, float]]] = [[] for _ in curves]
    for i in range(len(curves)):
        for j in range(i + 1, len(curves)):
            meeting = crossings(curves[i][0], curves[j][0])
            cuts[i] += meeting
            cuts[j] += meeting
    candidates: list[tuple[PlaneCurve, int, bool]] = []
    for (curve, rank, around), points in zip(curves, cuts, strict=True):
        candidates += [(part, rank, around) for part in split(curve, points) if part.length > 1e-8]
    probe = 1e-7
    middle = np.array([c.point(np.array(0.5)) for c, _, _ in candidates])
    normal = np.array([c.normal(np.array(0.5)) for c, _, _ in candidates])
    sides = np.stack([middle + probe * normal, middle - probe * normal], axis=1)
    left, right = (layout.region_of(*sides[:, i].T) for i in (0, 1))
    pieces = []
    for k, (curve, rank, around) in enumerate(candidates):
        foil = layout.foil and rank in (HULL, OUTLINE) and _on_foil(layout, middle[k : k + 1], sides[k], 1e-8)
        foil = foil and not any(layout.regions[n].kind == "wall" for n in (left[k], right[k]) if n >= 0)
        if left[k] != right[k] or foil or layout.parted(middle[k : k + 1]):
            pieces.append(Piece(curve, int(left[k]), int(right[k]), rank, foil, around))
    return tuple(pieces)


def exact_areas(layout: Layout, pieces: tuple[Piece, ...]) -> Array:
    """Area of each region by Green's theorem over its boundary pieces, m2, shape (n_regions,)."""
    area = np.zeros(len(layout.regions))
    for piece in pieces:
        moment = piece.curve.moment()
        if piece.left >= 0:
            area[piece.left] += moment
        if piece.right >= 0:
            area[piece.right] -= moment
    return area
