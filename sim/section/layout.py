"""Where everything lies in the section plane: placed tracers, hanging shell, hulls, and the region of any point.

Axes as in docs/model.md: y up, 12 o'clock is +y, hours clockwise, the pipe's axis at the origin. An angle called
`clock_angle` is measured from 12 o'clock, clockwise, in radians.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.basics import Array, IntArray
from sim.case import Case, placement
from sim.case.clock_face import clock_to_angle
from sim.section.shapes import PlaneCurve

OUTSIDE = -1
# of its radius, a layer that is no region but a sheet or a resistance between its neighbours
THIN_LAYER = 0.005
THIN_GAP = 1e-4  # m, air beneath a lifted tracer that is no region but a resistance on the contact's faces


@dataclass(frozen=True)
class Region:
    """One material region. kind: liquid, gas, wall, tracer, void, layer, wet; index: of the tracer or layer."""

    kind: str
    index: int = 0
    name: str = ""


@dataclass(frozen=True)
class RoundBody:
    """A round tracer's body: a circle, less what lies inside its seat (pipe or lower tracer)."""

    index: int
    clock_angle: float
    cx: float
    cy: float
    radius: float
    seat_radius: float

    def inside(self, x: Array, y: Array) -> NDArray[np.bool_]:
        return (x - self.cx) ** 2 + (y - self.cy) ** 2 < self.radius**2

    def farthest(self, x0: float, y0: float) -> float:
        return float(np.hypot(self.cx - x0, self.cy - y0)) + self.radius


@dataclass(frozen=True)
class FlatBody:
    """A flat tracer's body: a sector of an annulus about the pipe's axis, `half_angle` on either side."""

    index: int
    clock_angle: float
    inner: float
    outer: float
    half_angle: float

    def inside(self, x: Array, y: Array) -> NDArray[np.bool_]:
        r = np.hypot(x, y)
        return (r >= self.inner) & (r < self.outer) & self.within(x, y)

    def within(self, x: Array, y: Array) -> NDArray[np.bool_]:
        """Between the radial sides, at any radius."""
        turn = np.mod(np.arctan2(x, y) - self.clock_angle + np.pi, 2 * np.pi) - np.pi
        return np.abs(turn) < self.half_angle

    def farthest(self, x0: float, y0: float) -> float:
        a = self.clock_angle + np.linspace(-self.half_angle, self.half_angle, 65)
        return float(np.hypot(self.outer * np.sin(a) - x0, self.outer * np.cos(a) - y0).max())


Body = RoundBody | FlatBody


@dataclass(frozen=True)
class Hull:
    """The tent over one tracer: tangent points on the pipe and where the tangents leave the tracer.

    `polygon` (n, 2): the area between the tangents, the parts under tracer and pipe left open. `void`: what lies
    between tracer, pipe and tangents is a void (bridged insulation, or a lifted round tracer); otherwise insulation
    fills it. `closed`: a flat tracer reaches so far around that the line between its corners misses the pipe; that
    line bounds its hull then, and both `feet` are its middle.
    """

    body: Body
    feet: tuple[tuple[float, float], tuple[float, float]]
    shoulders: tuple[tuple[float, float], tuple[float, float]]
    polygon: Array
    void: bool
    closed: bool = False

    def inside(self, x: Array, y: Array) -> NDArray[np.bool_]:
        if isinstance(self.body, RoundBody):
            p, q = self.polygon, np.roll(self.polygon, -1, axis=0)
            inside = np.ones(np.shape(x), bool)
            for (px, py), (qx, qy) in zip(p, q, strict=True):
                inside &= (qx - px) * (y - py) - (qy - py) * (x - px) >= 0
            return inside
        # each side by itself: the two may lie more than half a turn apart
        (ax, ay), (bx, by) = self.feet
        clock, foot = np.arctan2(x, y), np.arctan2(bx, by)
        over = self.body.within(x, y) & (np.hypot(x, y) < self.body.outer)
        reach = np.pi + 1e-9 if self.closed else np.mod(foot - self.body.clock_angle, 2 * np.pi)
        right = np.mod(clock - self.body.clock_angle, 2 * np.pi) < reach
        left = np.mod(self.body.clock_angle - clock, 2 * np.pi) < reach
        beside = (right & (x * bx + y * by < bx * bx + by * by)) | (
            left & (x * ax + y * ay < ax * ax + ay * ay)
        )
        return over | (beside & ~self.body.within(x, y))


@dataclass(frozen=True)
class Layout:
    """The placed section, SI. `layer_radii` are about (0, -drop); the first is the insulation's inner radius, and a
    layer too thin to mesh has one radius twice.

    `level` is the height of the liquid's surface over the pipe's axis (inf: full bore, -inf: no liquid).
    `wet` holds (layer, from, to) clock angles; `gaps` the air under lifted flat tracers.
    """

    inner_radius: float
    outer_radius: float
    bodies: tuple[Body, ...]
    hulls: tuple[Hull, ...]
    gaps: tuple[FlatBody, ...]
    drop: float
    layer_radii: tuple[float, ...]
    level: float
    wet: tuple[tuple[int, float, float], ...]
    regions: tuple[Region, ...]
    foil: bool

    @property
    def oversize(self) -> bool:
        return self.layer_radii[0] > self.outer_radius * (1 + 1e-9)

    @property
    def cover_radius(self) -> float:
        return self.layer_radii[-1]

    @property
    def wedge_depth(self) -> float | None:
        """Cell size at the end of a round tracer's contact, as a part of the contact's width; None: the mesh's own."""
        return None

    def part_circles(self) -> tuple[float, ...]:
        """Radii of parts of a support about the pipe's axis; none in a plain section."""
        return ()

    def part_curves(self) -> list[tuple[PlaneCurve, int, bool]]:
        """Curves that bound parts of a support (curve, rank, around_pipe); none in a plain section."""
        return []

    @property
    def fewest(self) -> int:
        """Cells around the circumference at the least, whatever the fineness."""
        return 0

    def parted(self, point: Array) -> bool:
        """Whether a curve through a point (1, 2) bounds a part that has no region; never in a plain section."""
        return False

    def near_parts(self, x: Array, y: Array) -> list[tuple[Array, float]]:
        """(distance (n,), cell size there at fineness 1) of parts of a support; none in a plain section."""
        return []

    def number(self, kind: str, index: int = 0) -> int:
        """Region number of a kind. Raises KeyError if the section has none."""
        for i, region in enumerate(self.regions):
            if region.kind == kind and region.index == index:
                return i
        raise KeyError(f"no region {kind} {index}")

    def region_of(self, x: Array, y: Array) -> IntArray:
        """Region number at each point; OUTSIDE (-1) beyond the insulation."""
        x, y = np.asarray(x, float), np.asarray(y, float)
        r, r_shell = np.hypot(x, y), np.hypot(x, y + self.drop)
        region = np.full(np.shape(x), OUTSIDE, dtype=np.int64)
        for i in range(len(self.layer_radii) - 1):
            in_layer = (r_shell >= self.layer_radii[i]) & (r_shell < self.layer_radii[i + 1])
            region[in_layer] = self.number("layer", i)
            for layer, start, stop in self.wet:
                if layer == i:
                    turn = np.mod(np.arctan2(x, y + self.drop) - start, 2 * np.pi)
                    region[in_layer & (turn < np.mod(stop - start, 2 * np.pi))] = self.number("wet", i)
        if self.oversize:
            region[r_shell < self.layer_radii[0]] = self.number("void")
        for hull in self.hulls:
            if hull.void:
                region[hull.inside(x, y) & (r >= self.outer_radius)] = self.number("void")
        for gap in self.gaps:
            region[gap.inside(x, y)] = self.number("void")
        for body in reversed(self.bodies):
            region[body.inside(x, y)] = self.number("tracer", body.index)
        region[r < self.outer_radius] = self.number("wall")
        bore = r < self.inner_radius
        region[bore] = np.where(y[bore] < self.level, self.number("liquid"), self.number("gas"))
        return region


def _direction(angle: float) -> tuple[float, float]:
    return float(np.sin(angle)), float(np.cos(angle))


def _without_thin_gaps(case: Case) -> Case:
    """The case with a flat tracer's standoff left out where its gap is too thin for a region."""
    tracers = tuple(
        t.model_copy(update={"standoff": 0.0}) if t.shape == "flat" and 0 < t.standoff < THIN_GAP else t
        for t in case.tracers
    )
    return case if tracers == case.tracers else case.model_copy(update={"tracers": tracers})


def _bodies(case: Case) -> tuple[Body, ...]:
    """Bodies as `sim.case.placement` places them, a lower tracer before the one stacked on it."""
    number = {tracer.name: i for i, tracer in enumerate(case.tracers)}
    placed = placement.bodies(case)
    bodies: list[Body] = []
    for name, outline in placed.items():
        if not outline.is_round:
            bodies.append(
                FlatBody(number[name], outline.angle, outline.base, outline.top, outline.half_angle)
            )
            continue
        over = case.tracers[number[name]].over
        below = placed[over] if over is not None else None
        seat = case.pipe.outer_radius if below is None else below.radius if below.is_round else below.top
        ux, uy = _direction(outline.angle)
        bodies.append(
            RoundBody(
                number[name], outline.angle, outline.centre * ux, outline.centre * uy, outline.radius, seat
            )
        )
    return tuple(bodies)


def _hull(body: Body, pipe_radius: float, void: bool) -> Hull:
    """External tangents from tracer to pipe (round), or from the outer corners to the pipe (flat)."""
    feet, shoulders = [], []
    for sign in (-1.0, 1.0):
        if isinstance(body, RoundBody):
            reach = float(np.hypot(body.cx, body.cy))
            turn = float(np.arccos((pipe_radius - body.radius) / reach))
            ux, uy = _direction(body.clock_angle + sign * turn)
            feet.append((pipe_radius * ux, pipe_radius * uy))
            shoulders.append((body.cx + body.radius * ux, body.cy + body.radius * uy))
        else:
            side = body.clock_angle + sign * body.half_angle
            vx, vy = _direction(side)
            shoulders.append((body.outer * vx, body.outer * vy))
            turn = float(np.arccos(pipe_radius / body.outer))
            ux, uy = _direction(side + sign * turn)
            feet.append((pipe_radius * ux, pipe_radius * uy))
    corners = [feet[0], shoulders[0], shoulders[1], feet[1]]
    closed = False
    if isinstance(body, FlatBody):
        opposite = -body.outer * float(np.cos(body.half_angle))
        if opposite >= pipe_radius:
            closed = True
            ux, uy = _direction(body.clock_angle + np.pi)
            feet = [(opposite * ux, opposite * uy)] * 2
        corners = [(0.0, 0.0), feet[0], shoulders[0], (0.0, 0.0), shoulders[1], feet[1]]
    polygon = np.array(corners)[::-1]
    return Hull(body, (feet[0], feet[1]), (shoulders[0], shoulders[1]), polygon, void, closed)


def _without_thin(radii: list[float], reach: float, case: Case) -> list[float]:
    """Radii of the layers where one too thin to mesh has none: its neighbours meet in its middle, or take all of it.

    reach: of the tracers, about the shell's centre. A layer is kept that is wet, beside another thin one, the face of
    a gap, the only one, or one through which a tracer stands.
    """
    layers, last = case.insulation.layers, len(radii) - 2
    thin = [
        radii[i] >= reach and layer.thickness < THIN_LAYER * radii[i] and layer.wet is None
        for i, layer in enumerate(layers)
    ]
    moved = list(radii)
    for i in (i for i in range(len(layers)) if thin[i] and last > 0):
        beside = (i > 0 and thin[i - 1]) or (i < last and thin[i + 1])
        if beside or (i == 0 and case.insulation.fit == "oversize"):
            continue
        both = radii[0] if i == 0 else radii[-1] if i == last else 0.5 * (radii[i] + radii[i + 1])
        moved[i] = moved[i + 1] = both
    return moved


def place(case: Case) -> Layout:
    """Lay the section out. Raises ValueError if the parts cannot be placed."""
    pipe_radius, bore = case.pipe.outer_radius, case.insulation.bore
    meshed = _without_thin_gaps(case)
    bodies = _bodies(meshed)
    oversize = case.insulation.fit == "oversize" and bore is not None
    hanging = placement.hanging_offset(meshed) if oversize else 0.0
    if hanging is None:
        raise ValueError("pipe and tracers do not fit in the insulation's bore")
    drop = hanging
    radii = [bore / 2 if oversize and bore else pipe_radius]
    for layer in case.insulation.layers:
        radii.append(radii[-1] + layer.thickness)
    radii = _without_thin(radii, max((b.farthest(0.0, -drop) for b in bodies), default=0.0), case)
    bridged = case.insulation.fit == "bridged"
    lifted = {i for i, t in enumerate(case.tracers) if t.standoff > 0}
    hulls = tuple(
        _hull(b, pipe_radius, void)
        for b in bodies
        if (void := not oversize and (bridged or (b.index in lifted and isinstance(b, RoundBody))))
        or case.foil is not None
    )
    gaps = tuple(
        FlatBody(b.index, b.clock_angle, b.inner - case.tracers[b.index].standoff, b.inner, b.half_angle)
        for b in bodies
        if isinstance(b, FlatBody) and case.tracers[b.index].standoff >= THIN_GAP
    )
    has_void = oversize or (bridged and bool(bodies)) or bool(lifted)
    fill = case.contents.fill
    level = np.inf if fill >= 1 else -np.inf if fill <= 0 else (2 * fill - 1) * case.pipe.inner_radius
    wet = tuple(
        (i, clock_to_angle(layer.wet.from_clock), clock_to_angle(layer.wet.to_clock))
        for i, layer in enumerate(case.insulation.layers)
        if layer.wet is not None
    )
    regions = [Region("liquid"), Region("gas"), Region("wall")]
    regions += [Region("tracer", i, t.name) for i, t in enumerate(case.tracers)]
    if has_void:
        regions.append(Region("void"))
    for i, layer in enumerate(case.insulation.layers):
        regions.append(Region("layer", i, layer.material or f"layer {i + 1}"))
        if layer.wet is not None:
            regions.append(Region("wet", i, f"{layer.material or f'layer {i + 1}'}, wet"))
    return Layout(
        case.pipe.inner_radius,
        pipe_radius,
        bodies,
        hulls,
        gaps,
        drop,
        tuple(radii),
        float(level),
        wet,
        tuple(regions),
        case.foil is not None,
    )


def layout_key(case: Case) -> tuple[object, ...]:
    """What the layout of a case depends on, hashable: two cases with the same key share their meshes."""
    insulation = case.insulation
    return (
        (case.pipe.outer_diameter, case.pipe.wall, case.contents.fill, case.foil is not None),
        (insulation.fit, insulation.bore),
        tuple(
            (y.thickness, y.material, y.wet and (y.wet.from_clock, y.wet.to_clock)) for y in insulation.layers
        ),
        tuple(
            (t.name, t.clock, t.shape, t.diameter, t.width, t.height, t.contact_width, t.standoff, t.over)
            for t in case.tracers
        ),
    )
