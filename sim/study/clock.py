"""One case with its tracers at positions around the clock, for contents that stand still, move, or are mixed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from sim.case import Case, CaseError, case_for, parse_case
from sim.case.overrides import overridden
from sim.solve.convergence import Banded
from sim.solve.section import FINENESS, MeshStore, SectionResult, solve_section
from sim.solve.steady import NotConverged

STATES = ("still", "buoyant", "mixed")
POSITIONS = tuple(float(h) for h in range(12))
EQUAL = 1e-9  # K: curves nearer than this are one


@dataclass(frozen=True)
class ClockRow:
    """Tracers at one clock position with contents in one state.

    quantities: {path: Banded} of all temperatures, K; empty if it did not converge, and `failure` says why;
    bracketed: moving contents given as a bracket; notes as of the result.
    """

    clock: float
    state: str
    quantities: dict[str, Banded]
    bracketed: bool
    notes: tuple[str, ...]
    failure: str = ""


@dataclass(frozen=True)
class ClockStudy:
    """Rows by position, then state; fields: {(clock, state): result} of the positions chosen for pictures."""

    case: Case
    condition: str
    tracer: str | None
    rows: tuple[ClockRow, ...]
    fields: dict[tuple[float, str], SectionResult]
    paths: tuple[str, ...]

    def curve(self, state: str, path: str) -> list[tuple[float, Banded]]:
        """(clock, value) of one state in order of position, where there is one."""
        return [(r.clock, r.quantities[path]) for r in self.rows if r.state == state and path in r.quantities]


def turned(case: Case, clock: float, state: str, tracer: str | None = None) -> Case:
    """A case narrowed to one condition with its tracers turned so that the first (or the named one alone) is at a
    clock position, and contents in a state. Raises CaseError where tracers then collide, or there is none."""
    if not case.tracers:
        raise CaseError("the case has no tracer to move", key="tracer")
    names = [t.name for t in case.tracers]
    if tracer is not None and tracer not in names:
        raise CaseError(f'"{tracer}" is no tracer; accepted: {", ".join(names)}', key="tracer")
    moved = [t for t in case.tracers if tracer in (None, t.name)]
    shift = clock - moved[0].clock
    clocks = {t.name: {"clock": round((t.clock + shift) % 12.0, 9)} for t in moved}
    changed = overridden(case.resolved(), {"tracer": clocks, "contents": {"state": state}})
    return parse_case(changed, varied=True)


def watched(case: Case) -> tuple[str, ...]:
    """Paths of the study: coldest contents (the liquid where the bore is partly filled) and wall, sheaths, sensors."""
    contents = "liquid.min" if 0.0 < case.contents.fill < 1.0 else "contents.min"
    return (
        contents,
        "wall.min",
        *(f"tracers.{t.name}.sheath_max" for t in case.tracers),
        *(f"sensors.{s.name}.reading" for s in case.sensors),
    )


def clock(
    case: Case,
    condition: str | None = None,
    *,
    tracer: str | None = None,
    positions: Sequence[float] = POSITIONS,
    states: Sequence[str] = STATES,
    pictured: Sequence[float] = (),
    fineness: float = FINENESS,
    progress: Callable[[str, str], None] | None = None,
) -> ClockStudy:
    """Solve one condition (the first, if none is named) with its tracers at positions around the clock.

    tracer: the one that moves; all turn together without it. pictured: positions whose fields are kept.
    Raises CaseError for a case that cannot be turned so, ValueError if a section cannot be meshed.
    """
    name = condition or case.conditions[0].name
    narrowed = case_for(case, name)
    rows: list[ClockRow] = []
    fields: dict[tuple[float, str], SectionResult] = {}
    for at in positions:
        store = MeshStore()
        for state in states:

            def tell(what: str, label: str = f"{at:g} o'clock, {state}") -> None:
                if progress is not None:
                    progress(label, what)

            placed = turned(narrowed, at, state, tracer)
            try:
                result = solve_section(placed, store, fineness, tell)
            except NotConverged as error:
                rows.append(ClockRow(at, state, {}, False, (), str(error)))
                continue
            rows.append(ClockRow(at, state, dict(result.quantities), result.bracketed, result.notes))
            if any(abs(at - p) < EQUAL for p in pictured):
                fields[at, state] = result
    return ClockStudy(narrowed, name, tracer, tuple(rows), fields, watched(narrowed))
