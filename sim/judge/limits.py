"""Limits: pass, fail, or too close to call, with the margin in kelvin."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isnan
from typing import Literal

from sim.solve.paths import limited
from sim.solve.section import SectionResult

Verdict = Literal["pass", "fail", "too close to call", "not converged", "no limits"]
_WORST: tuple[Verdict, ...] = ("not converged", "fail", "too close to call", "pass", "no limits")


@dataclass(frozen=True)
class LimitCheck:
    """One limit in one condition: what is limited, its value, band and limit in K, margin (positive is safe).

    state: which steady state, where there are several.
    """

    limit: str
    quantity: str
    value: float
    band: float
    allowed: float
    margin: float
    verdict: Verdict
    note: str = ""
    state: str = ""


def verdict_of(margin: float, band: float) -> Verdict:
    """Pass if the margin clears the band, fail if it misses by it, else too close to call."""
    if isnan(margin) or isnan(band):
        return "too close to call"
    return "pass" if margin > band else "fail" if margin < -band else "too close to call"


def worst(verdicts: list[Verdict]) -> Verdict:
    """The verdict that decides among several; "no limits" if there is none."""
    return min(verdicts, key=_WORST.index, default="no limits")


def check_limits(result: SectionResult) -> tuple[LimitCheck, ...]:
    """Hold every limit of the case against the quantities that the list of them says it holds.

    The limit on the coldest contents is held against the liquid where the bore is partly filled. Of several steady
    states each is held.
    """
    if not result.further:
        return _check_state(result)
    checks: list[LimitCheck] = []
    for state in result.states:
        words = f"steady state with a mean wall of {state.value('wall.mean') - 273.15:.1f} degC"
        own = _check_state(replace(state, complete=result.complete, further=()))
        checks += [replace(check, state=words) for check in own]
    return tuple(checks)


def _check_state(result: SectionResult) -> tuple[LimitCheck, ...]:
    checks = []
    for limit, row in limited(result.quantities):
        allowed: float | None = getattr(result.case.limits, limit.name)
        if allowed is None:
            continue
        found = result.quantities[row.path]
        margin = limit.margin(found.value, allowed)
        note = "" if found.asymptotic else "band from a safety factor of 3: the order was not reasonable"
        if isnan(found.value):
            note = "no temperature: the bore is adiabatic"
        verdict = verdict_of(margin, found.band)
        if result.bracketed:
            note = "the contents' flow was not resolved: the band is a bracket, on which no pass is built"
            verdict = "fail" if verdict == "fail" else "too close to call"
        if verdict == "pass" and not result.complete:
            note = "not all steady states are known: no pass is built on this one"
            verdict = "too close to call"
        checks.append(
            LimitCheck(limit.name, row.path, found.value, found.band, allowed, margin, verdict, note)
        )
    return tuple(checks)
