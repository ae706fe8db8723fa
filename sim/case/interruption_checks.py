"""Checks of supports, fittings and the bend against the rest of the case: overlaps with tracers, what floats free,
what buries what, what leaves the insulation or the bend."""

from collections.abc import Iterator
from math import acos, asin, cos, inf, sin, sqrt

from .case import Case
from .clock_face import clock_to_angle
from .errors import CaseError, first_faults, named
from .fitting import Fitting, FittingBody
from .line import bend_radius
from .placement import Body, apart, bodies, hanging_offset
from .support import FULL, Leg, Pad, Support

THINNEST = 2e-3  # m: a body or a cover thinner than this is not meshed
CROWDED = 0.02  # of the insulation's thickness: a body's rim so near the pipe is not meshed


def interruption_faults(case: Case) -> list[CaseError]:
    """The first thing of each support and fitting that does not fit the line, with its key."""
    placed = list(bodies(case).values())
    faults = first_faults("support", case.supports, lambda key, one: _support(case, one, placed, key))
    faults += first_faults("fitting", case.fittings, lambda key, one: _fitting(case, one, placed, key))
    known = {support.name.casefold() for support in case.supports}
    message = "is the name of a support already; accepted: a name of its own"
    twice = [key for key, one in named("fitting", case.fittings) if one.name.casefold() in known]
    return faults + [CaseError(message, key=f"{key}.name") for key in twice]


def _across(body: Body, middle: float) -> tuple[float, float]:
    """How far a tracer reaches in a direction from the pipe's axis, and how near it comes to that ray, m."""
    between = apart(middle, body.angle)
    if body.is_round:
        return body.centre * cos(between), body.centre * sin(between) - body.radius
    nearest = max(between - body.half_angle, 0.0)
    return body.top * cos(nearest), body.base * sin(nearest)


def _fitting(case: Case, fitting: Fitting, placed: list[Body], key: str) -> None:
    if not case.insulation.layers:
        raise CaseError("a fitting needs at least one [[insulation.layer]] around the line", key=key)
    if case.insulation.fit == "oversize":
        raise CaseError(
            'a fitting in an oversize bore is not evaluated; accepted: fit = "snug" or "bridged"',
            key="insulation.fit",
        )
    for number, body in enumerate(fitting.body, start=1):
        at = f"{key}.body[{number}]"
        _size(case, body, at)
        _tracers(fitting, body, placed, at)
    _free(case, fitting, key)
    _buried(fitting, key)


def _size(case: Case, body: FittingBody, key: str) -> None:
    pipe, least = case.pipe, CROWDED * case.insulation.thickness
    if body.axis == "along" and body.diameter / 2 <= pipe.outer_radius + least:
        raise CaseError(
            f"{1e3 * body.diameter:g} mm is not clear of the pipe; accepted: more than"
            f" {2e3 * (pipe.outer_radius + least):.4g} mm",
            key=f"{key}.diameter",
        )
    if body.axis == "along" and body.hollow is not None and body.hollow.diameter <= 2 * pipe.inner_radius:
        raise CaseError(
            f"{1e3 * body.hollow.diameter:g} mm is within the bore, which no body fills; accepted: more than"
            f" {2e3 * pipe.inner_radius:.4g} mm",
            key=f"{key}.hollow.diameter",
        )
    if body.axis == "across" and body.high <= pipe.outer_radius + THINNEST:
        raise CaseError(
            f"{1e3 * body.high:g} mm ends inside the pipe; accepted: more than"
            f" {1e3 * (pipe.outer_radius + THINNEST):.4g} mm",
            key=f"{key}.to",
        )
    if body.high - max(body.low, 0.0) < THINNEST or body.diameter < THINNEST:
        raise CaseError(f"is thinner than can be meshed ({1e3 * THINNEST:g} mm)", key=f"{key}.to")
    if (
        body.axis == "across"
        and body.hollow is not None
        and body.hollow.low is None
        and body.low > pipe.outer_radius
    ):
        return
    if body.axis == "across" and body.diameter > 6 * pipe.outer_diameter:
        raise CaseError(
            f"{1e3 * body.diameter:g} mm is more than six pipes wide; accepted: at most"
            f" {6e3 * pipe.outer_diameter:g} mm",
            key=f"{key}.diameter",
        )


def _tracers(fitting: Fitting, body: FittingBody, placed: list[Body], key: str) -> None:
    """A body across stands clear of the tracers, but where a body along is wider than they are."""
    if body.axis == "along" or body.clock is None:
        return
    within = [
        b.diameter / 2
        for b in fitting.body
        if b.axis == "along" and b.low <= 0.0 and b.high >= body.diameter / 2
    ]
    wide, middle = max(within, default=0.0), clock_to_angle(body.clock)
    for tracer in placed:
        ahead, aside = _across(tracer, middle)
        if ahead > 0.0 and aside < body.diameter / 2 and tracer.top > wide and body.high > tracer.base:
            raise CaseError(
                f'meets tracer "{tracer.name}"; accepted: a clock position or a diameter clear of it, or a body along'
                " that is wider than the tracer stands",
                key=f"{key}.clock",
            )


def _touch(one: FittingBody, other: FittingBody) -> bool:
    if one.axis == other.axis == "along":
        return max(one.low, other.low) <= min(one.high, other.high)
    if one.axis == other.axis == "across":
        same = one.clock == other.clock
        return same and max(one.low, other.low) <= min(one.high, other.high)
    along, across = (one, other) if one.axis == "along" else (other, one)
    return across.low <= along.diameter / 2 and max(along.low, 0.0) < across.diameter / 2


def _free(case: Case, fitting: Fitting, key: str) -> None:
    """Every body touches the pipe, or one that does."""
    outer = case.pipe.outer_radius
    firm = [b.axis == "along" or b.low <= outer for b in fitting.body]
    for _ in fitting.body:
        firm = [
            f or any(g and _touch(b, other) for g, other in zip(firm, fitting.body, strict=True))
            for f, b in zip(firm, fitting.body, strict=True)
        ]
    for number, (f, body) in enumerate(zip(firm, fitting.body, strict=True), start=1):
        if not f:
            raise CaseError(
                f"{1e3 * body.low:g} mm floats free of the pipe and of every body that touches it; accepted: at most"
                f" {1e3 * outer:.4g} mm, or another body's reach",
                key=f"{key}.body[{number}].from",
            )


def _buried(fitting: Fitting, key: str) -> None:
    """A cover does not grow over a bare body along beside it."""
    for number, body in enumerate(fitting.body, start=1):
        if body.axis == "across" or not body.cover_thickness:
            continue
        room, which = inf, 0
        for other_number, other in enumerate(fitting.body, start=1):
            beside = other.axis == "along" and not other.cover_thickness and other.low >= body.high - 1e-9
            if beside and other.low - body.high < room:
                room, which = other.low - body.high, other_number
        if body.cover_thickness > room + 1e-9:
            raise CaseError(
                f"{1e3 * body.cover_thickness:g} mm reaches over the bare body {which} beside it; accepted: at most"
                f" {1e3 * room:g} mm, or a cover on body {which} as well",
                key=f"{key}.body[{number}].cover",
            )


LEAST_COVER = 1e-3  # m of insulation over a pad
THINNEST_LEG = 0.5e-3  # m, and 1/400 of the outer radius: below it a leg is thinner than can be meshed


def _support(case: Case, support: Support, placed: list[Body], key: str) -> None:
    if not case.insulation.layers:
        raise CaseError("a support needs at least one [[insulation.layer]] around the line", key=key)
    _lengths(support, key)
    if support.pad is not None:
        _pad(case, support.pad, placed, key)
    if support.leg is not None:
        _leg(case, support.leg, placed, key)


def _lengths(support: Support, key: str) -> None:
    if support.spacing is None:
        return
    if support.length >= support.spacing:
        raise CaseError(
            f"{support.spacing:g} m is not longer than the support ({support.length:g} m);"
            f" accepted: more than {support.length:g} m",
            key=f"{key}.spacing",
        )
    if support.allowance_over > support.spacing:
        raise CaseError(
            f"{support.allowance_over:g} m is longer than the spacing; accepted: at most"
            f" {support.spacing:g} m",
            key=f"{key}.allowance_over",
        )


def _half_width(body: Body) -> float:
    """Half the angle a tracer covers as seen from the pipe's axis."""
    return asin(min(body.radius / body.centre, 1.0)) if body.is_round else body.half_angle


def _pad(case: Case, pad: Pad, placed: list[Body], key: str) -> None:
    insulation, radius = case.insulation, case.pipe.outer_radius
    slack = (insulation.bore / 2 - radius) if insulation.fit == "oversize" and insulation.bore else 0.0
    room = insulation.thickness + slack - LEAST_COVER
    if pad.thickness > room:
        raise CaseError(
            f"{1e3 * pad.thickness:g} mm leaves the insulation; accepted: at most {1e3 * max(room, 0):g} mm",
            key=f"{key}.pad.thickness",
        )
    if pad.arc > FULL - 0.02:  # a ring is cut clear of the tracers
        return
    middle = clock_to_angle(pad.clock)
    for body in placed:
        if body.base > radius + pad.thickness:
            continue
        clear = apart(middle, body.angle) - pad.arc / 2 - _half_width(body)
        if clear < 0.0:
            raise CaseError(
                f'overlaps with tracer "{body.name}" by {-1e3 * clear * radius:.3g} mm of the circumference;'
                " accepted: a clock, an arc or a tracer position clear of it",
                key=f"{key}.pad.arc",
            )


def _leg(case: Case, leg: Leg, placed: list[Body], key: str) -> None:
    radius = case.pipe.outer_radius
    outer = radius + case.insulation.thickness
    least = max(THINNEST_LEG, outer / 400)
    if leg.width < least or leg.length < THINNEST_LEG:
        raise CaseError(
            f"{1e3 * min(leg.width, leg.length):g} mm is thinner than can be meshed; accepted: at least"
            f" {1e3 * least:.3g} mm",
            key=f"{key}.leg.{'width' if leg.width < least else 'length'}",
        )
    if leg.width > 1.8 * radius:
        raise CaseError(
            f"{1e3 * leg.width:g} mm is as wide as the pipe; accepted: at most {1800 * radius:.4g} mm",
            key=f"{key}.leg.width",
        )
    middle = clock_to_angle(leg.clock)
    for body in placed:
        ahead, aside = _across(body, middle)
        if ahead > 0.0 and aside < leg.width / 2:
            raise CaseError(
                f'overlaps with tracer "{body.name}"; accepted: a clock or width clear of it',
                key=f"{key}.leg.clock",
            )
    if case.insulation.fit == "oversize" and case.insulation.bore:
        drop = case.insulation.bore / 2 - radius
        outer = case.insulation.bore / 2 + case.insulation.thickness
        reach = sqrt(max(outer**2 - (drop * sin(middle)) ** 2, 0.0)) - drop * cos(middle)
        if acos(min(leg.width / 2 / reach, 1.0)) < 0.3:
            raise CaseError(f"{1e3 * leg.width:g} mm is too wide here", key=f"{key}.leg.width")


def elbow_faults(case: Case) -> Iterator[CaseError]:
    """What does not fit of a case's elbow."""
    if case.elbow is None:
        return
    message = "is what the results of [elbow] are called; accepted: another name"
    places = [(key, one.name) for key, one in named("support", case.supports)]
    places += [(key, one.name) for key, one in named("fitting", case.fittings)]
    yield from (CaseError(message, key=f"{key}.name") for key, name in places if name.casefold() == "elbow")
    radius = bend_radius(case.pipe, case.elbow)
    if radius is None:
        yield CaseError(
            f'"{case.elbow.radius}" is a multiple of a nominal size, and the pipe has none; accepted: a length,'
            " or pipe.size",
            key="elbow.radius",
        )
        return
    bore = case.insulation.bore if case.insulation.fit == "oversize" else None
    drop = (hanging_offset(case) or 0.0) if bore is not None else 0.0
    inner = bore / 2 if bore is not None else case.pipe.outer_radius
    reach = inner + case.insulation.thickness + drop * cos(clock_to_angle(case.elbow.outside))
    if reach >= radius:
        yield CaseError(
            f"{1e3 * radius:.4g} mm is not outside the section, which reaches {1e3 * reach:.4g} mm from the pipe's"
            f" axis and so the bend's centre; accepted: more than {1e3 * reach:.4g} mm",
            key="elbow.radius",
        )
