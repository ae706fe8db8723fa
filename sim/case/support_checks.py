"""Checks of supports against the rest of the case: overlaps with tracers, parts that leave the insulation."""

from __future__ import annotations

from math import acos, asin, cos, pi, sin, sqrt

from .case import Case
from .clock_face import clock_to_angle
from .errors import CaseError
from .placement import Body, bodies
from .support import FULL, Leg, Pad, Support

LEAST_COVER = 1e-3  # m of insulation over a pad
THINNEST_LEG = 0.5e-3  # m, and 1/400 of the outer radius: below it a leg is thinner than can be meshed


def support_faults(case: Case) -> list[CaseError]:
    """The first thing of each support that does not fit the line, with its key."""
    faults = []
    for position, support in enumerate(case.supports, start=1):
        try:
            _check(case, support, f'support[{position}] "{support.name}"')
        except CaseError as fault:
            faults.append(fault)
    return faults


def _check(case: Case, support: Support, key: str) -> None:
    if not case.insulation.layers:
        raise CaseError("a support needs at least one [[insulation.layer]] around the line", key=key)
    _lengths(support, key)
    placed = list(bodies(case).values())
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


def _apart(one: float, other: float) -> float:
    return abs((one - other + pi) % (2 * pi) - pi)


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
        clear = _apart(middle, body.angle) - pad.arc / 2 - _half_width(body)
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
        apart = _apart(middle, body.angle)
        if body.is_round:
            ahead, aside = body.centre * cos(apart), body.centre * sin(apart) - body.radius
        else:
            nearest = max(apart - body.half_angle, 0.0)
            ahead, aside = body.top * cos(nearest), body.base * sin(nearest)
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
