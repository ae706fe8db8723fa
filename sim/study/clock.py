"""One case with its tracers at positions around the clock: what it changes, and what every limit says of it."""

from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from sim.case import Case, CaseError, case_for
from sim.case.load import turned, turning_tracers
from sim.judge.confidence import NO_CHANGES, section_limits, sensitivity, support_with_inputs
from sim.judge.elbow import ElbowAnswer, judge_elbow
from sim.judge.limits import Verdict, worst
from sim.judge.support import judge_support
from sim.section.layout import place
from sim.solve.at_rest import FINENESS, MeshStore, SectionResult
from sim.solve.interruption import laid_out
from sim.solve.section import solve_section
from sim.solve.steady import NotConverged

from .position_store import PositionStore
from .positions import POSITIONS, STATES, CheckAt, ClockRow, ClockStudy, Placed, watched
from .row import ELBOW


@dataclass(frozen=True)
class _Job:
    case: Case
    condition: str
    tracer: str | None
    states: tuple[str, ...]
    pictured: tuple[float, ...]
    fineness: float
    supports: bool
    kept: Path | None


def clock(
    case: Case,
    condition: str | None = None,
    *,
    tracer: str | None = None,
    positions: Sequence[float] = POSITIONS,
    states: Sequence[str] = STATES,
    pictured: Sequence[float] = (),
    fineness: float = FINENESS,
    supports: bool = False,
    processes: int = 1,
    progress: Callable[[str, str], None] | None = None,
    kept: Path | None = None,
) -> ClockStudy:
    """Turn the tracers round the clock; watch one condition (the first, if none is named), hold the limits of all.

    tracer: the one that moves; all turn together without it. states: of the watched condition's contents; those that
    are empty or flow stay so. pictured: positions whose fields are kept. supports: hold the limits around the supports
    too, which takes minutes a position. kept: a folder for what is finished, with which the same study goes on after it
    was stopped (positions whose fields are drawn are computed again). A position where the tracers cannot be is marked
    and the others go on.
    Raises CaseError for a case without that condition or tracer, or where no position is possible.
    """
    from sim.study.pool import local

    name = condition or case.conditions[0].name
    narrowed = case_for(case, name)
    hours = sorted({round(at % 12.0, 9) for at in positions})
    turning_tracers(narrowed, tracer)
    state = narrowed.contents.state
    shown = tuple(states) if state in STATES else (state,)
    job = _Job(case, name, tracer, shown, tuple(p % 12.0 for p in pictured), fineness, supports, kept)
    placed = {at: Placed(at, impossible=_hindered(job, at)) for at in hours}
    possible = [at for at in hours if not placed[at].impossible]
    if not possible:
        raise CaseError(next(iter(placed.values())).impossible, file=case._source)
    basis = {"condition": name, "tracer": tracer, "states": shown, "fineness": fineness, "supports": supports}
    store = None if kept is None else PositionStore(kept, case, basis)
    undrawn = [at for at in possible if at not in job.pictured]
    finished = {} if store is None else store.finished(undrawn)
    placed |= finished
    missing = [at for at in possible if at not in finished]
    with closing(local(max(min(processes, len(missing)), 1))(partial(_at, job), missing)) as computing:
        for n, (at, result, lost) in enumerate(computing, start=len(finished) + 1):
            fault = Placed(at, verdict="not converged", fault=OSError(lost))
            placed[at] = result if result is not None else fault
            if store is not None:
                store.put(placed[at])
            if progress is not None:
                progress(f"{at or 12:g} o'clock", f"{n} of {len(possible)} positions")
    return ClockStudy(
        narrowed, name, tracer, tuple(placed.values()), shown, watched(narrowed), _left_out(job)
    )


def _hindered(job: _Job, at: float) -> str:
    """Why the tracers cannot be at a position in some condition; "" if they can."""
    try:
        for condition in job.case.conditions:
            if case_for(job.case, condition.name).tracers:
                one = turned(job.case, condition.name, at, None, job.tracer)
                place(one)
                for support in one.interruptions:
                    laid_out(one, support)
    except CaseError as error:
        return f"{error.key}: {error.message}" if error.key else error.message
    except ValueError as error:
        return str(error)
    return ""


def _left_out(job: _Job) -> tuple[str, ...]:
    places = []
    for condition in job.case.conditions:
        one = case_for(job.case, condition.name)
        if not one.tracers:
            places.append(
                f"{condition.name}: has no tracer; its limits do not depend on the position, not judged here"
            )
    names = sorted({s.name for c in job.case.conditions for s in case_for(job.case, c.name).interruptions})
    if names and not job.supports:
        places.append(
            f"limits around the supports ({', '.join(names)}) are not judged here; --supports judges them"
        )
    if job.case.episodes:
        followed = ", ".join(episode.name for episode in job.case.episodes)
        places.append(f"episodes ({followed}) are not followed here, and no limit is said to hold in them")
    return tuple(places)


def _at(job: _Job, at: float) -> Placed:
    """Everything of one position. A fault of the program is handed back, so that the other positions are kept."""
    try:
        return _solved(job, at)
    except ValueError as error:  # a section that cannot be meshed
        return Placed(at, impossible=str(error))
    except Exception as error:
        return Placed(at, verdict="not converged", fault=error)


def _solved(job: _Job, at: float) -> Placed:
    store = MeshStore(job.kept)
    rows: list[ClockRow] = []
    checks: list[CheckAt] = []
    verdicts: list[Verdict] = []
    fields: list[tuple[str, SectionResult]] = []
    for condition in job.case.conditions:
        watching = condition.name == job.condition
        if not case_for(job.case, condition.name).tracers:
            continue
        one = turned(job.case, condition.name, at, None, job.tracer)
        as_is, failure = _result(one, store, job.fineness)
        known = NO_CHANGES if as_is is None else sensitivity(one, store, as_is, job.fineness, inputs=False)
        section = () if as_is is None else section_limits(as_is, known)
        verdicts.append("not converged" if as_is is None else worst([c.verdict for c in section]))
        checks += [CheckAt(condition.name, "", check) for check in section]
        bend = _bend(one, store, job.fineness)
        if bend is not None:
            verdicts.append(bend.verdict)
            checks += [CheckAt(condition.name, ELBOW, check) for check in bend.limits]
        for support in one.interruptions if job.supports else ():
            support_answer = judge_support(one, support, as_is, job.fineness / FINENESS)
            support_answer = support_with_inputs(support_answer, one.limits, known)
            verdicts.append(support_answer.verdict)
            checks += [CheckAt(condition.name, support.name, check) for check in support_answer.limits]
        for state in job.states if watching else ():
            result, why, around = as_is, failure, bend
            if state != one.contents.state:
                placed = turned(job.case, condition.name, at, state, job.tracer)
                result, why = _result(placed, store, job.fineness)
                around = _bend(placed, store, job.fineness)
            if result is None:
                rows.append(ClockRow(at, state, {}, False, (), why))
                continue
            here, notes = dict(result.quantities), result.notes
            if around is not None:
                here |= {f"{ELBOW}.{path}": banded for path, banded in around.quantities.items()}
                remarks = around.result.notes if around.result is not None else (around.failure,)
                notes = (*notes, *(f"in the {ELBOW}, {note}" for note in remarks))
            rows.append(ClockRow(at, state, here, result.bracketed, notes, basis=result.basis))
            if any(abs(at - p) < 1e-9 for p in job.pictured):
                fields.append((state, result))
    return Placed(at, tuple(rows), tuple(checks), worst(verdicts), fields=tuple(fields))


def _bend(case: Case, store: MeshStore, fineness: float) -> ElbowAnswer | None:
    """The case's bend with its tracers where they lie; None where it has none."""
    if case.elbow is None:
        return None
    return judge_elbow(case, None, store, fineness, sides=False, inputs=False)


def _result(case: Case, store: MeshStore, fineness: float) -> tuple[SectionResult | None, str]:
    try:
        return solve_section(case, store, fineness), ""
    except NotConverged as error:
        return None, str(error)
