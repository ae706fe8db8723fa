"""Where each tracer sits on the pipe, by formulas simple enough to check a case before any mesh exists.

Angles run clockwise from 12 o'clock in radians, lengths in metres, distances from the pipe's axis.
"""

from dataclasses import dataclass
from math import cos, hypot, pi, sin, sqrt

from .case import Case
from .clock_face import clock_to_angle
from .tracing import Tracer


@dataclass(frozen=True)
class Body:
    """A tracer's outline: a circle of `radius` about (`centre`, angle), or a sector from `base` to `top`.

    `half_angle` is half the angle of a flat body, 0 for a round one. `top` is the body's farthest distance.
    """

    name: str
    angle: float
    base: float
    top: float
    centre: float
    radius: float
    half_angle: float

    @property
    def is_round(self) -> bool:
        return self.radius > 0.0


def bodies(case: Case) -> dict[str, Body]:
    """Outline of every tracer; stacked ones stand on the one below. Needs `over` to be without cycles."""
    by_name = {tracer.name: tracer for tracer in case.tracers}
    placed: dict[str, Body] = {}

    def place(tracer: Tracer) -> Body:
        if tracer.name not in placed:
            below = place(by_name[tracer.over]) if tracer.over is not None else None
            placed[tracer.name] = _body(tracer, case.pipe.outer_radius, below)
        return placed[tracer.name]

    for tracer in case.tracers:
        place(tracer)
    return placed


def _body(tracer: Tracer, pipe_radius: float, below: Body | None) -> Body:
    angle = clock_to_angle(tracer.clock)
    base = pipe_radius + tracer.standoff if below is None else below.top
    if tracer.shape == "flat":
        half = (tracer.width or 0.0) / (2 * pipe_radius)
        return Body(tracer.name, angle, base, base + tracer.rise, 0.0, 0.0, half)
    radius = tracer.rise / 2
    if tracer.standoff > 0.0:
        centre = base + radius
    else:
        half_chord = (tracer.contact_width or 0.0) / 2
        foot = below.radius if below is not None and below.is_round else base
        origin = below.centre if below is not None and below.is_round else 0.0
        sunk = sqrt(max(foot**2 - half_chord**2, 0.0))
        centre = origin + sunk + sqrt(max(radius**2 - half_chord**2, 0.0))
    return Body(tracer.name, angle, base, centre + radius, centre, radius, 0.0)


def apart(one: float, other: float) -> float:
    """The angle between two directions, rad, 0 to pi."""
    return abs((one - other + pi) % (2 * pi) - pi)


def clear_distance(one: Body, other: Body) -> float:
    """Clear distance between two bodies in metres; negative where they overlap."""
    between = apart(one.angle, other.angle)
    if one.is_round and other.is_round:
        product = 2 * one.centre * other.centre * cos(between)
        return sqrt(max(one.centre**2 + other.centre**2 - product, 0.0)) - one.radius - other.radius
    if not one.is_round and not other.is_round:
        radial = max(one.base, other.base) - min(one.top, other.top)
        around = (between - one.half_angle - other.half_angle) * max(one.base, other.base)
        return max(radial, around)
    flat, ball = (other, one) if one.is_round else (one, other)
    return _distance_to_sector(ball.centre, between, flat) - ball.radius


def _distance_to_sector(distance: float, angle: float, flat: Body) -> float:
    """Distance of a point (polar, angle from the sector's middle, >= 0) from a flat body; 0 inside it."""
    beyond = angle - flat.half_angle
    if beyond <= 0.0:
        return max(flat.base - distance, distance - flat.top, 0.0)
    along = min(max(distance * cos(beyond), flat.base), flat.top)
    return hypot(distance * cos(beyond) - along, distance * sin(beyond))


def hanging_offset(case: Case) -> float | None:
    """How far the bore's centre of an oversize shell hangs below the pipe's axis, in metres.

    The shell rests on the top of the pipe or on the tracers there, and may be pushed by the others; it
    moves only up and down. None where pipe and tracers do not fit inside the bore at any height.
    """
    bore_radius = (case.insulation.bore or 0.0) / 2
    slack = bore_radius - case.pipe.outer_radius
    highest, lowest = -slack, slack
    for body in bodies(case).values():
        for x, y, radius in _extremes(body):
            reach = bore_radius - radius
            if reach < abs(x):
                return None
            swing = sqrt(reach**2 - x**2)
            highest, lowest = max(highest, -y - swing), min(lowest, -y + swing)
    return lowest if lowest >= highest - 1e-12 and slack >= 0.0 else None


def _extremes(body: Body) -> list[tuple[float, float, float]]:
    """Circles (x, y, radius) that bound a body: itself, or points of a flat one's outer face."""
    if body.is_round:
        return [(body.centre * sin(body.angle), body.centre * cos(body.angle), body.radius)]
    angles = [body.angle - body.half_angle, body.angle + body.half_angle]
    # A bore whose centre lies on the vertical is met first at 12 or 6 o'clock where the face reaches so far.
    angles += [a for a in (0.0, pi) if apart(a, body.angle) < body.half_angle]
    return [(body.top * sin(a), body.top * cos(a), 0.0) for a in angles]


def smallest_bore(case: Case) -> float:
    """Smallest bore diameter in metres that takes pipe and tracers, the shell moving up and down."""
    low, high = (
        case.pipe.outer_radius,
        3 * max([case.pipe.outer_radius, *(b.top for b in bodies(case).values())]),
    )
    for _ in range(60):
        middle = (low + high) / 2
        insulation = case.insulation.model_copy(update={"bore": 2 * middle})
        fits = hanging_offset(case.model_copy(update={"insulation": insulation})) is not None
        low, high = (low, middle) if fits else (middle, high)
    return 2 * high
