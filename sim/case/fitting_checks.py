"""Checks of fittings against the rest of the case: what floats free, what meets a tracer, what buries what."""

from __future__ import annotations

from math import cos, inf, pi, sin

from .case import Case
from .clock_face import clock_to_angle
from .errors import CaseError
from .fitting import Fitting, FittingBody
from .placement import Body, bodies

THINNEST = 2e-3  # m: a body or a cover thinner than this is not meshed
CROWDED = 0.02  # of the insulation's thickness: a body's rim so near the pipe is not meshed


def fitting_faults(case: Case) -> list[CaseError]:
    """The first thing of each fitting that does not fit the line, with its key."""
    faults = []
    for position, fitting in enumerate(case.fittings, start=1):
        try:
            _check(case, fitting, f'fitting[{position}] "{fitting.name}"')
        except CaseError as fault:
            faults.append(fault)
    known: set[str] = {support.name.casefold() for support in case.supports}
    for position, fitting in enumerate(case.fittings, start=1):
        if fitting.name.casefold() in known:
            key = f'fitting[{position}] "{fitting.name}".name'
            faults.append(CaseError("is the name of a support already; accepted: a name of its own", key=key))
    return faults


def _check(case: Case, fitting: Fitting, key: str) -> None:
    if not case.insulation.layers:
        raise CaseError("a fitting needs at least one [[insulation.layer]] around the line", key=key)
    if case.insulation.fit == "oversize":
        raise CaseError(
            'a fitting in an oversize bore is not evaluated; accepted: fit = "snug" or "bridged"',
            key="insulation.fit",
        )
    placed = list(bodies(case).values())
    for number, body in enumerate(fitting.body, start=1):
        own = f"{key}.body[{number}]"
        _size(case, body, own)
        _tracers(case, fitting, body, placed, own)
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


def _apart(one: float, other: float) -> float:
    return abs((one - other + pi) % (2 * pi) - pi)


def _tracers(case: Case, fitting: Fitting, body: FittingBody, placed: list[Body], key: str) -> None:
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
        apart = _apart(middle, tracer.angle)
        if tracer.is_round:
            ahead, aside = tracer.centre * cos(apart), tracer.centre * sin(apart) - tracer.radius
        else:
            nearest = max(apart - tracer.half_angle, 0.0)
            ahead, aside = tracer.top * cos(nearest), tracer.base * sin(nearest)
        if ahead > 0.0 and aside < body.diameter / 2 and tracer.top > wide and body.high > tracer.base:
            raise CaseError(
                f'meets tracer "{tracer.name}"; accepted: a clock position or a diameter clear of it, or a body along'
                " that is wider than the tracer stands",
                key=f"{key}.clock",
            )


def _touch(one: FittingBody, other: FittingBody) -> bool:
    """Whether two bodies meet."""
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
