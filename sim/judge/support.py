"""Supports judged: limits held at the support, and the design's allowance beside what would be just enough."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf, isfinite, isinf, isnan, nan
from typing import Literal

from sim.basics import ZERO_CELSIUS as ZERO
from sim.basics import NotMeshed
from sim.case import Case, Fitting, Support, case_for
from sim.case.errors import named
from sim.heat.thin import lost_layers
from sim.judge.field_notes import with_ice
from sim.judge.limits import BRACKET, Judged, LimitCheck, Verdict, both, hold, verdict_of
from sim.section.layout import layout_key
from sim.solve.at_rest import SectionResult
from sim.solve.convergence import Banded
from sim.solve.multigrid import MEMORY_LIMIT
from sim.solve.paths import of_support
from sim.solve.states import may_have_several
from sim.solve.steady import NotConverged
from sim.solve.support_level import refuse_early
from sim.solve.support_meshes import FINENESS, SupportResult, solve_support

AllowanceVerdict = Verdict | Literal["not reachable"]
STIRRED = ("mixed", "flowing")  # contents that are one temperature, in a fitting's hollows too
COARSEST = 1.0  # fineness of the finest of three meshes, below which they are not worth their name
RULE_LENGTHS, RULE_EXTRA = 2.0, 0.4
STATES = (
    "the tracers' output rises with the wall's temperature, and further steady states are not looked for around a "
    "support: no pass is built on this one"
)


@dataclass(frozen=True, repr=False, kw_only=True)
class SupportAnswer(Judged[SupportResult]):
    """One support or fitting in one condition.

    limits: held as built, with the design's allowance installed if there is one; without: the same limits with the
    tracer alone, shown but not judged, empty if that is what is built.
    """

    support: Support | Fitting
    without: tuple[LimitCheck, ...] = ()

    @property
    def name(self) -> str:
        return self.support.name

    @property
    def kind(self) -> str:
        return self.place.partition(" ")[0]

    @property
    def rule(self) -> float | None:
        """Allowance of common practice, m; None where it says nothing."""
        return common_practice(self.support)

    @property
    def allowance_verdict(self) -> AllowanceVerdict:
        """The design's allowance against what would be just enough."""
        if self.result is None:
            return self.verdict
        return allowance_verdict(self.support.allowance, self.result.quantities["allowance_enough"])


def common_practice(support: Support | Fitting) -> float | None:
    """Extra tracer that common practice gives a support, m: common practice, no source.

    Uninsulated (metal through the insulation): twice its length plus 0.4 m; insulated: none. For a flange and a
    fitting it says nothing.
    """
    if isinstance(support, Fitting) or support.family == "flange":
        return None
    return 0.0 if support.leg is None else RULE_LENGTHS * support.length + RULE_EXTRA


def check_support(result: SupportResult, installed: bool) -> tuple[LimitCheck, ...]:
    """Hold the case's limits around a support, with the allowance that is installed or with the tracer alone."""
    paths = [path for path in result.quantities if path.startswith("with_allowance.") == installed]
    note = "with the allowance" if installed else "tracer alone"
    rows = hold(
        result.case.limits,
        {path: result.quantities[path] for path in paths},
        of_support,
        note,
        doubt_of(result),
    )
    checks = with_ice(rows, result.case)
    extra = "; the sheath of the extra tracer is not resolved"
    checks = tuple(
        replace(one, note=one.note + extra) if installed and one.limit == "sheath_max" else one
        for one in checks
    )
    return tuple(
        of_fitting(one, result.case, result.support, hollow_metal(result, installed)) for one in checks
    )


def hollow_metal(result: SupportResult, installed: bool) -> float:
    """The coldest that the metal about a fitting's hollows full of contents may be, K; NaN where there are none, -inf
    where a mesh has no cell of it.

    With the output margin that the limits ask for it is colder by no more than the contents in the bore are.
    """
    bodies = result.support.body if isinstance(result.support, Fitting) else ()
    prefix = "with_allowance." if installed else ""
    full = [n for n, b in enumerate(bodies, 1) if b.hollow is not None and b.hollow.filled == "contents"]
    paths = [f"{prefix}bodies.{n}.min" for n in full]
    if not all(path in result.quantities for path in paths):
        return -inf
    metal = [result.quantities[path] for path in paths]
    less = [result.less_output.get(f"{prefix}{path}", 0.0) for path in ("contents_min", "liquid_min")]
    return min((q.value - q.band for q in metal), default=nan) + min(less)


def of_fitting(check: LimitCheck, case: Case, support: Support | Fitting, metal: float) -> LimitCheck:
    """What a limit says of a fitting's bodies and of contents in their hollows, which have no place in the bore.

    Still contents in a hollow are between their metal (coldest, K, NaN without hollows) and the bore's contents: no
    colder than the colder of them. Where the metal is colder than the limit, no pass is built on the bore's.
    """
    if not isinstance(support, Fitting) or isnan(check.value):
        return check
    if check.limit in ("wall_min", "wall_max"):
        return replace(check, note=both(check.note, "of the pipe's own wall: none is held on the bodies"))
    if check.limit != "contents_min" or isnan(metal):
        return check
    if case.contents.state in STIRRED:
        words = "what is in hollows is taken as one with the bore's contents"
        return replace(check, note=both(check.note, words))
    words = "contents in hollows may be as cold as their metal, " + (
        f"{metal - ZERO:.1f} degC" if isfinite(metal) else "of which a mesh has no cell"
    )
    cold = check.verdict == "pass" and metal < check.allowed + (case.limits.margin or 0.0)
    verdict: Verdict = "not evaluated" if cold else check.verdict
    return replace(check, note=both(check.note, words), verdict=verdict)


def refuse_large(case: Case, share: float = 1.0, memory: float | None = None) -> None:
    """Raise TooLarge if a support's field in any condition would need more memory than is allowed, before anything is
    computed. Arguments as of `judge_support`, but for the case, which has all its conditions."""
    seen: list[tuple[object, ...]] = []
    for condition in case.conditions:
        narrowed = case_for(case, condition.name)
        for support in narrowed.interruptions:
            key = (*layout_key(narrowed), support)
            if key in seen:
                continue
            seen.append(key)
            try:
                limit = MEMORY_LIMIT if memory is None else memory
                refuse_early(narrowed, support, fineness_of(share), limit)
            except (NotConverged, NotMeshed):  # said where the condition is judged
                continue


def fineness_of(share: float) -> float:
    """Fineness of a support's finest mesh, from the share of the default."""
    return max(share * FINENESS, COARSEST)


def doubt_of(result: SupportResult) -> str:
    """Why no pass is built on a support's numbers, or ""."""
    if lost_layers(result.mesh):
        return (
            "a layer of the insulation is thinner than the mesh, and not resolved where the support passes it"
        )
    return BRACKET if result.bracketed else STATES if may_have_several(result.case) else ""


def judge_support(
    case: Case,
    support: Support | Fitting,
    section: SectionResult | None,
    share: float = 1.0,
    memory: float | None = None,
    progress: Callable[[str], None] | None = None,
) -> SupportAnswer:
    """Solve and judge one support of a case narrowed to one condition.

    share: of the default fineness; memory: most that may be taken, bytes. Raises TooLarge (a ValueError).
    """
    condition, limit = case.conditions[0].name, MEMORY_LIMIT if memory is None else memory
    place = f"{'fitting' if isinstance(support, Fitting) else 'support'} {support.name}"
    try:
        result = solve_support(
            case, support, fineness_of(share), progress=progress, section=section, limit=limit
        )
    except NotConverged as error:
        return SupportAnswer(condition, place, None, str(error), support=support)
    except NotMeshed as error:
        known = (
            named("fitting", case.fittings) if support in case.fittings else named("support", case.supports)
        )
        key = next(key for key, one in known if one == support)
        return SupportAnswer(condition, place, None, f"{key}: {error}", support=support, unmeshed=True)
    built = result.installed is not None
    alone = check_support(result, False)
    limits, without = (check_support(result, True), alone) if built else (alone, ())
    return SupportAnswer(condition, place, result, "", limits, support=support, without=without)


def allowance_verdict(allowance: float, enough: Banded) -> AllowanceVerdict:
    """An allowance against what would be just enough, m; "not reachable" if no allowance would be."""
    if isinf(enough.value) and enough.band == 0.0:
        return "not reachable"
    return verdict_of(allowance - enough.value, enough.band, decimals=3)
