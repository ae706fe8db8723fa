"""Limits: pass, fail, or too close to call, with the margin in kelvin."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import hypot, isfinite, isinf, isnan
from typing import Generic, Literal, TypeVar, get_args

from sim.basics import ZERO_CELSIUS
from sim.case.operation import Limits
from sim.heat.thin import left_out
from sim.solve.at_rest import ESTIMATES, SectionResult
from sim.solve.convergence import Banded, rounded_margin, rounded_up
from sim.solve.measures import EVERY_LIMIT, LIMITS
from sim.solve.paths import Quantity, limited, quantity

# the worst first
Verdict = Literal[
    "not converged", "fail", "too close to call", "not evaluated", "pass", "nothing to hold", "no limits"
]
Result = TypeVar("Result", covariant=True)
_WORST: tuple[Verdict, ...] = get_args(Verdict)
NAN = float("nan")
BRACKET = "the contents' flow was not resolved: the band is a bracket, on which no pass is built"
SAFE_END = "it is this safe end that passes; the contents' flow was not resolved"
ESTIMATED = "the contents' flow is estimated, not resolved"
UNLASTING = "of the steady flow that would not last, with a band of what its average may differ"
AVERAGED = "averages of a flow followed in time"
WOULD_DECIDE = "averages of the flow followed in time may decide it (--average)"
STATES = "not all steady states are known: no pass is built on this one"


def exit_code(verdict: Verdict) -> int:
    """0 all pass (or nothing to hold), 1 a limit fails or is too close, 3 a field did not converge."""
    return {"not converged": 3, "fail": 1, "too close to call": 1, "not evaluated": 1}.get(verdict, 0)


@dataclass(frozen=True)
class LimitCheck:
    """One limit in one condition: what is limited, its value, band and limit in K, margin (positive is safe).

    verdict: "not evaluated" where the quantity has no value (no pass), "nothing to hold" where the line has none of
    what is limited; state: which steady state, where there are several; spare: the margin less what the limits ask for
    besides, NaN where that is not known.
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
    inputs: tuple[tuple[str, float], ...] = ()
    spare: float = NAN

    @property
    def worth(self) -> float:
        """What the usual uncertainties of all inputs are worth together, the root of the sum of squares, K."""
        return hypot(*(worth for _, worth in self.inputs)) if self.inputs else NAN

    @property
    def left(self) -> float:
        """The margin less what the limits ask for besides, K: what the verdict is of."""
        return self.margin if isnan(self.spare) else self.spare

    @property
    def row(self) -> Quantity | None:
        """The section's quantity it is held against; None where there is none."""
        return quantity(self.quantity) if self.quantity else None

    @property
    def words(self) -> str:
        """Before a value: "wall not above", "sheath of T1 not above"."""
        place = self.row
        return EVERY_LIMIT[self.limit].words(place.name if place is not None else "")


@dataclass(frozen=True, repr=False)
class Judged(Generic[Result]):
    """What is judged at one place (section, elbow, a support, an episode) in one condition, with every limit held.

    result: None if it did not converge or, `unmeshed`, could not be meshed; `failure` says why.
    """

    condition: str
    place: str
    result: Result | None
    failure: str = ""
    limits: tuple[LimitCheck, ...] = ()
    unmeshed: bool = False

    @property
    def trouble(self) -> str:
        """After the place, why it has no result; "" where it has one."""
        words = "could not be meshed" if self.unmeshed else "did not converge"
        return self.failure and f"{words}: {self.failure}"

    @property
    def title(self) -> str:
        return f"{self.place} in {self.condition}"

    @property
    def verdict(self) -> Verdict:
        if self.result is None:
            return "not evaluated" if self.unmeshed else "not converged"
        return worst([check.verdict for check in self.limits])

    def __repr__(self) -> str:
        return f"<{self.title}: {self.verdict}, {len(self.limits)} limits held>"


def verdict_of(margin: float, band: float, decimals: int = 2) -> Verdict:
    """Pass if the margin clears the band, fail if it misses by it, else too close to call.

    Judged is what is shown: the band rounded up, the margin rounded down, to at most so many decimals.
    """
    if isnan(margin) or not isfinite(band):
        return "too close to call"
    if isinf(margin):
        return "pass" if margin > 0 else "fail"
    width, _ = rounded_up(band, decimals)
    shown = rounded_margin(margin, band, decimals)
    return "pass" if shown > width else "fail" if shown < -width else "too close to call"


def worst(verdicts: list[Verdict]) -> Verdict:
    """The verdict that decides among several; "no limits" if there is none."""
    return min(verdicts, key=_WORST.index, default="no limits")


def hold(
    limits: Limits,
    quantities: Mapping[str, Banded],
    declared_of: Callable[[str], Quantity] = quantity,
    note: str = "",
    doubt: str = "",
    ends: Mapping[str, float] | None = None,
) -> tuple[LimitCheck, ...]:
    """Hold every limit that is given against the quantities of one place that the list of them says it holds.

    A limit that finds nothing there is among the answers too, and says so. note: said of each; doubt: why no pass is
    built on these quantities, or ""; ends: by path, what no flow takes the
    quantity past, on which a pass may be built.
    """
    checks = []
    rows = limited(quantities, declared_of)
    for limit in LIMITS.values():
        allowed: float | None = getattr(limits, limit.name)
        if allowed is None:
            continue
        rows_of_limit = [row for of, row in rows if of is limit]
        for row in rows_of_limit:
            value = quantities[row.path]
            margin = limit.margin(value.value, allowed)
            spare = margin - (limits.margin or 0.0)
            verdict, why = verdict_of(spare, value.band), note
            if verdict != verdict_of(margin, value.band):
                why = both(note, f"a margin of {limits.margin:g} K is asked for")
            if not value.asymptotic:
                why = both(why, "a wider band: the three meshes show no clear order")
            if isnan(value.value):
                verdict, why = (
                    "not evaluated",
                    both(why, f"the {limit.subject} has no temperature of its own here"),
                )
            doubtful = verdict == ("pass" if doubt else "too close to call")
            end = (ends or {}).get(row.path, NAN) if doubtful else NAN
            if isfinite(end):
                why = both(why, f"no flow takes it past {limit.measure.shown(end):.2f} {limit.measure.unit}")
            if limit.margin(end, allowed) > (limits.margin or 0.0):
                verdict, why = "pass", both(why, SAFE_END)
            elif doubt:
                verdict, why = "too close to call" if verdict == "pass" else verdict, both(why, doubt)
            one = LimitCheck(limit.name, row.path, value.value, value.band, allowed, margin, verdict, why)
            checks.append(replace(one, spare=spare))
        if not rows_of_limit:
            tracers = limit.name == "sheath_max"
            verdict = "nothing to hold" if tracers else "not evaluated"
            why = "the line has no tracer" if tracers else "this place has no such quantity"
            checks.append(LimitCheck(limit.name, "", NAN, NAN, allowed, NAN, verdict, both(note, why)))
    return tuple(checks)


def asked_margin(limits: Limits) -> str:
    """What the limits ask for besides, said of every margin that is shown; "" if nothing."""
    parts = [f"{limits.margin:g} K"] if limits.margin else []
    if limits.output_margin:
        parts.append(f"what {100 * limits.output_margin:g} % less output takes from the coldest")
    return f"every margin shown is less the margin asked for: {' and '.join(parts)}" if parts else ""


def both(first: str, second: str) -> str:
    return f"{first}; {second}" if first else second


_OF = {"estimate": ESTIMATED, "steady flow that would not last": UNLASTING, "average": AVERAGED}


def check_limits(result: SectionResult) -> tuple[LimitCheck, ...]:
    """Hold every limit of the case against the section's field, each of several steady states: the coldest contents at
    the liquid, where there is gas above it."""
    doubt = BRACKET if result.bracketed else "" if result.complete else STATES
    ends = result.ends if result.complete else {}
    lost = left_out(result.case, result.solution.network.mesh)
    if lost:
        doubt = f"too thin to mesh and left out: {lost}; no pass is built on this"
        ends = {}
    if not result.further:
        words = _OF.get(result.basis, "")
        checks = hold(result.case.limits, result.quantities, note=words, doubt=doubt, ends=ends)
        undecided = result.basis in (*ESTIMATES, "bracket")
        return tuple(
            replace(c, note=both(c.note, WOULD_DECIDE))
            if undecided and c.verdict == "too close to call"
            else c
            for c in checks
        )
    several: list[LimitCheck] = []
    for state in result.states:
        words = f"steady state with a mean wall of {state.value('wall.mean') - ZERO_CELSIUS:.1f} degC"
        in_state = hold(result.case.limits, state.quantities, doubt=doubt)
        several += [replace(check, state=words) for check in in_state]
    return tuple(several)
