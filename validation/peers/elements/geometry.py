"""The cross-section of a traced line as curves, regions and wanted mesh sizes, from the definitions alone.

Everything here follows docs/model.md, parts 2, 3 and 8, and nothing is shared with the program under test.
Points are complex numbers (x + iy, metres; 12 o'clock is +i, 3 o'clock +1). Where two curves touch with no
angle between them (tangent and circle, hanging shell and pipe) the cusp is cut where its gap falls to
`cusp_gap`: a short wall closes it there, and beyond the wall the two bodies are in touch.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from validation.peers.elements.bodies import Body, bore_centre, direction, place
from validation.peers.elements.curves import Arc, Piece, Segment, arrange, circle

GRADING = 0.2  # growth of the element size per metre away from a corner
CORNER = 1e-4  # element size in a singular corner over the size of the part it belongs to
SLENDER = 2.0  # element length over gap height in a thin gap

Size = Callable[[complex], float]


@dataclass
class Section:
    """Curves, region names with the rule that tells them, and size rules.

    `region_of` maps complex points (n,) to indices into `names`. Names: liquid, gas, wall, `tracer:i`, void,
    `layer:i`, `wet:i`. Labels on curves: bore, pipe (bare), outer, foil, `contact:i` (pipe side and tracer
    side touch there), `footprint:i` (pipe surface beneath a lifted tracer).
    """

    names: list[str]
    region_of: Callable[[NDArray[np.complex128]], NDArray[np.int64]]
    outer: list[Piece]
    inner: list[Piece]
    sizes: list[Size] = field(default_factory=list)

    def size(self, point: complex) -> float:
        """Wanted element size (m) at a point, refinement 1."""
        return min(rule(point) for rule in self.sizes)


def _graded(point: complex, size: float) -> Size:
    return lambda z: size + GRADING * abs(z - point)


def _cusp(tip: complex, along: complex, reach: float, radius: float, gap: float) -> Size:
    """Sizes in the gap between a circle and its tangent, which opens from `tip` along a unit vector."""
    end = tip + reach * along

    def rule(z: complex) -> float:
        w = (z - tip) * along.conjugate()
        if w.real < reach:
            return SLENDER * gap + GRADING * abs(z - end)
        return SLENDER * w.real**2 / (2 * radius) + GRADING * abs(w.imag)

    return rule


def _tangent_sides(body: Body, gap: float, label: str) -> tuple[list[Piece], list[Size], float]:
    """Common tangents, cusps cut: pieces, sizes and the local angle where they leave the tracer."""
    pieces: list[Piece] = []
    sizes: list[Size] = []
    ro, r = body.pipe_radius, body.radius
    s_pipe, s_tracer = np.sqrt(2 * ro * gap + gap**2), np.sqrt(2 * r * gap + gap**2)
    leave = body.hull + np.arctan(s_tracer / r) if body.round else body.half
    for side in (1, -1):

        def spot(w: complex, side: int = side) -> complex:
            return body.turn * (w if side > 0 else w.conjugate())

        n = np.exp(1j * body.hull)
        touch = ro * n
        far = body.centre + r * n if body.round else r * np.exp(1j * body.half)
        t = (far - touch) / abs(far - touch)
        start = touch + s_pipe * t
        foot = ro * np.exp(1j * (body.hull - np.arctan(s_pipe / ro)))
        pieces.append(Segment(spot(foot), spot(start), label))
        sizes.append(_cusp(spot(touch), spot(touch + t) - spot(touch), s_pipe, ro, gap))
        end = far
        if body.round:
            end = far - s_tracer * t
            pieces.append(Segment(spot(end), spot(body.centre + r * np.exp(1j * leave)), label))
            sizes.append(_cusp(spot(far), spot(far - t) - spot(far), s_tracer, r, gap))
        pieces.append(Segment(spot(start), spot(end), label))
    return pieces, sizes, float(leave)


def _outline(body: Body, foil_from: float | None) -> tuple[list[Piece], list[Size]]:
    """The part of a tracer's outline off the pipe, split where foil begins; and the sizes it asks for."""
    phi, c = float(np.angle(body.turn)), body.centre * body.turn
    pieces: list[Piece] = []
    sizes: list[Size] = [lambda z: 0.35 * body.thickness + GRADING * body.distance(z)]
    if body.round:
        chord = 0.0 if body.lifted else body.pipe_radius * np.sin(body.half)
        end = np.pi - np.arcsin(chord / body.radius)
        stops = [-end, end] if foil_from is None else [-end, -foil_from, foil_from, end]
        for a, b in pairwise(stops):
            label = "foil" if foil_from is not None and a == -foil_from else ""
            pieces.append(Arc(c, body.radius, phi + a, b - a, label))
        fine = CORNER * 2 * chord if chord else 0.05 * body.radius
        for s in (-1, 1):
            corner = body.pipe_radius * np.exp(1j * s * body.half) if chord else body.centre - body.radius
            sizes.append(_graded(body.turn * corner, fine))
        if body.lifted:
            lift = body.centre - body.radius - body.pipe_radius
            sizes.append(_graded(body.turn * (body.pipe_radius + lift / 2), lift))
        return pieces, sizes
    for s in (-1, 1):
        edge = body.turn * np.exp(1j * s * body.half)
        pieces.append(Segment(body.base * edge, body.radius * edge))
        sizes += [_graded(body.base * edge, CORNER * body.thickness)]
        sizes += [_graded(body.radius * edge, 10 * CORNER * body.thickness)]
        if body.lifted:
            pieces.append(Segment(body.pipe_radius * edge, body.base * edge))
            sizes.append(_graded(body.pipe_radius * edge, 10 * CORNER * body.thickness))
    label = "" if foil_from is None else "foil"
    pieces.append(Arc(0j, body.radius, phi - body.half, 2 * body.half, label))
    if body.lifted:
        pieces.append(Arc(0j, body.base, phi - body.half, 2 * body.half))
        gap = body.base - body.pipe_radius
        sizes.append(
            lambda z: 1.5 * gap + GRADING * (body.distance(z) - gap if body.distance(z) > gap else 0.0)
        )
    return pieces, sizes


def _touching(
    case: Any, bodies: list[Body], centre: complex, bore: float
) -> tuple[complex, float, complex] | None:
    """Circle on which the shell rests: centre, radius, direction of touch; None for a flat tracer's edge."""
    for body in bodies:
        c1 = body.centre * body.turn if body.round else 0j
        away = c1 - centre
        if abs(away) and abs(abs(away) + body.radius - bore) < 1e-9:
            u = away / abs(away)
            if body.round or abs(np.angle(u / body.turn)) < body.half:
                return c1, body.radius, u
    if abs(bore - case.pipe.outer_radius - abs(centre)) > 1e-9:
        return None
    return 0j, case.pipe.outer_radius, 1j


def _hanging_bore(
    case: Any, bodies: list[Body], centre: complex, bore: float, gap: float
) -> tuple[list[Piece], list[Size]]:
    pieces: list[Piece] = [circle(centre, bore)]
    ends: list[complex] = []
    top, reach = 0j, 0.0
    if (touching := _touching(case, bodies, centre, bore)) is not None:
        c1, r1, u = touching
        cut = 2 * np.arcsin(np.sqrt(gap * (2 * r1 + gap) / (4 * bore * (bore - r1))))
        phi = float(np.angle(u))
        ends = [centre + bore * np.exp(1j * (phi + s * cut)) for s in (-1, 1)]
        pieces = [Arc(centre, bore, phi + cut, 2 * np.pi - 2 * cut)]
        pieces += [Segment(c1 + r1 * (z - c1) / abs(z - c1), z) for z in ends]
        top, reach = c1 + r1 * u, abs(ends[0] - ends[1]) / 2
    ro = case.pipe.outer_radius

    def rule(z: complex) -> float:
        if abs(z - top) < reach:
            return SLENDER * gap + GRADING * min(abs(z - e) for e in ends)
        to_bore = abs(abs(z - centre) - bore)
        near = [abs(abs(z) - ro)] + [body.distance(z) for body in bodies]
        return SLENDER * max(gap, to_bore + min(near))

    return pieces, [rule]


def _traced(case: Any, body: Body, cusp_gap: float) -> tuple[list[Piece], list[complex], list[Size]]:
    """A tracer with its foil or common tangents: curves, points that become nodes, and sizes."""
    pieces: list[Piece] = []
    sizes: list[Size] = []
    ro, foil_from = body.pipe_radius, None
    points = [ro * body.turn * np.exp(1j * s * body.half) for s in (-1, 1) if body.half]
    if case.foil or case.insulation.fit == "bridged" or (body.lifted and body.round):
        pieces, sizes, leave = _tangent_sides(body, cusp_gap, "foil" if case.foil else "")
        if case.foil:
            foil_from = leave
            ends = [ro * body.turn * np.exp(1j * s * body.hull) for s in (-1, 1)]
            points += ends
            sizes += [_graded(z, 2 * SLENDER * cusp_gap) for z in ends]
        elif body.round:
            points += [body.turn * (body.centre + body.radius * np.exp(1j * s * leave)) for s in (-1, 1)]
    outline, rules = _outline(body, foil_from)
    return pieces + outline, points, sizes + rules


def _ring(centre: complex, inner: float, outer: float, across: float) -> Size:
    """Elements of `across` to the thickness between two circles, growing outside them."""
    return lambda z: (abs(abs(z - centre) - inner) + abs(abs(z - centre) - outer)) / across


def draw(case: Any, cusp_gap: float = 5e-7, heated_arc: tuple[float, float] | None = None) -> Section:
    """Curves, regions and sizes of a case's section.

    `case` has the attributes of a parsed case (SI units). `cusp_gap` (m) is where cusps are cut. `heated_arc`
    is the clock position and width (m) of an arc of the pipe's surface whose ends become nodes. ValueError if
    a tracer does not fit, or is stacked on another (not drawn here).
    """
    if any(getattr(t, "over", None) for t in case.tracers):
        raise ValueError("stacked tracers are not drawn here")
    pipe, insulation = case.pipe, case.insulation
    ri, ro = pipe.inner_radius, pipe.outer_radius
    bodies = [place(t, ro) for t in case.tracers]
    oversize = insulation.fit == "oversize" and insulation.bore / 2 - ro > 1e-9
    centre = bore_centre(case, bodies) if oversize else 0j
    bore = insulation.bore / 2 if oversize else ro
    radii = bore + np.concatenate([[0.0], np.cumsum([layer.thickness for layer in insulation.layers])])
    pieces: list[Piece] = [circle(0j, ri, "bore")]
    points: list[complex] = []
    sizes: list[Size] = [_ring(0j, ri, ro, 1.5), lambda z: radii[-1] / 8]

    level = ri * (2 * case.contents.fill - 1)
    partly = 0 < case.contents.fill < 1
    if partly:
        x = np.sqrt(ri**2 - level**2)
        ends = [-x + 1j * level, x + 1j * level]
        pieces.append(Segment(ends[0], ends[1]))
        sizes += [_graded(z, 1e-3 * ri) for z in ends]

    for body in bodies:
        outline, marks, rules = _traced(case, body, cusp_gap)
        pieces, points, sizes = pieces + outline, points + marks, sizes + rules

    if heated_arc:
        clock, width = heated_arc
        ends = [ro * direction(clock) * np.exp(1j * s * width / (2 * ro)) for s in (-1, 1)]
        points += ends
        sizes += [_graded(z, 1e-3 * width) for z in ends]

    if oversize:
        hung, rules = _hanging_bore(case, bodies, centre, bore, cusp_gap)
        pieces, sizes = pieces + hung, sizes + rules
    pieces.append(circle(0j, ro))
    for i, layer in enumerate(insulation.layers):
        if i + 1 < len(insulation.layers):
            pieces.append(circle(centre, radii[i + 1]))
        sizes.append(_ring(centre, radii[i], radii[i + 1], 3.0))
        if layer.wet:
            for clock in (layer.wet.from_clock, layer.wet.to_clock):
                u = direction(clock)
                pieces.append(Segment(centre + radii[i] * u, centre + radii[i + 1] * u))
                sizes += [_graded(centre + r * u, 1e-3 * layer.thickness) for r in radii[i : i + 2]]
    if len(radii) > 1:
        pieces.append(circle(centre, radii[-1]))
    reach = np.arctan(np.sqrt(2 * ro * cusp_gap + cusp_gap**2) / ro) if case.foil else 0.0
    cut = [_labelled(p, bodies, reach, ro, centre, radii[-1]) for p in arrange(pieces, points)]
    outer = [p for p in cut if p.label == "outer"]
    inner = [p for p in cut if p.label != "outer"]
    names, rule = _regions(case, bodies, centre, radii, level if partly else None)
    return Section(names, rule, outer, inner, sizes)


def _labelled(
    piece: Piece, bodies: list[Body], foil_reach: float, ro: float, centre: complex, r_end: float
) -> Piece:
    """Name the parts of the pipe's surface beneath tracers, where foil lies on it, and the outermost circle.

    Foil whose cusp was cut lies on the pipe from the cut to the tangent point, `foil_reach` radians on.
    """
    if not isinstance(piece, Arc):
        return piece
    label = piece.label
    if abs(piece.centre) < 1e-12 and abs(piece.radius - ro) < 1e-12:
        label = "pipe"
        for i, body in enumerate(bodies):
            angle = abs(np.angle(piece.at(0.5) / body.turn))
            if angle < body.half:
                label = f"{'footprint' if body.lifted else 'contact'}:{i}"
            elif body.hull - foil_reach < angle < body.hull:
                label = "foil"
    if abs(piece.centre - centre) < 1e-12 and abs(piece.radius - r_end) < 1e-12:
        label = "outer"
    return Arc(piece.centre, piece.radius, piece.start, piece.sweep, label)


def _regions(
    case: Any, bodies: list[Body], centre: complex, radii: NDArray[np.float64], level: float | None
) -> tuple[list[str], Callable[[NDArray[np.complex128]], NDArray[np.int64]]]:
    layers = case.insulation.layers
    names = ["liquid", "gas", "wall", "void"]
    names += [f"tracer:{i}" for i in range(len(bodies))]
    names += [f"{kind}:{i}" for kind in ("layer", "wet") for i in range(len(layers))]
    code = {name: i for i, name in enumerate(names)}
    ri, ro = case.pipe.inner_radius, case.pipe.outer_radius
    bridged = case.insulation.fit == "bridged"
    only_gas = case.contents.fill == 0 or case.contents.state == "empty"

    def region_of(z: NDArray[np.complex128]) -> NDArray[np.int64]:
        z = np.asarray(z, dtype=complex)
        region = np.full(z.shape, code["void"])
        from_bore = z - centre
        for i, layer in enumerate(layers):
            in_layer = (abs(from_bore) >= radii[i]) & (abs(from_bore) <= radii[i + 1])
            region[in_layer] = code[f"layer:{i}"]
            if layer.wet:
                hours = (-np.angle(from_bore / 1j) * 12 / (2 * np.pi) - layer.wet.from_clock) % 12
                wet = in_layer & (hours < (layer.wet.to_clock - layer.wet.from_clock) % 12)
                region[wet] = code[f"wet:{i}"]
        for body in bodies:
            if bridged or (body.lifted and body.round):
                region[body.in_hull(z)] = code["void"]
            if body.lifted and not body.round:
                region[body.beneath(z)] = code["void"]
        for i, body in enumerate(bodies):
            region[body.inside(z)] = code[f"tracer:{i}"]
        region[abs(z) < ro] = code["wall"]
        region[abs(z) < ri] = code["gas" if only_gas else "liquid"]
        if level is not None:
            region[(abs(z) < ri) & (z.imag > level)] = code["gas"]
        return region

    return names, region_of
