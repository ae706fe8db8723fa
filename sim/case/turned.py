"""A case with its tracers turned around the pipe."""

from __future__ import annotations

from .case import Case
from .errors import CaseError
from .load import case_for, with_overrides
from .tracing import Tracer


def turned(
    case: Case, condition: str, clock: float, state: str | None = None, tracer: str | None = None
) -> Case:
    """The case in one condition with its tracers turned so that the first (or the named one alone) is at a clock
    position, contents in a state if one is given. Raises CaseError where that cannot be."""
    narrowed = case_for(case, condition)
    turning = turning_tracers(narrowed, tracer)
    shift = clock - turning[0].clock
    changes: dict[str, dict[str, object]] = {
        "tracer": {t.name: {"clock": round((t.clock + shift) % 12.0, 9)} for t in turning}
    }
    if state is not None:
        changes["contents"] = {"state": state}
    return case_for(with_overrides(narrowed, changes), condition)


def turning_tracers(case: Case, tracer: str | None = None) -> list[Tracer]:
    """The tracers of a condition that turn. Raises CaseError where there is none."""
    if not case.tracers:
        raise CaseError("the case has no tracer to move", file=case._source, key="tracer")
    names = [t.name for t in case.tracers]
    if tracer is not None and tracer not in names:
        message = f'"{tracer}" is no tracer; accepted: {", ".join(names)}'
        raise CaseError(message, file=case._source, key="tracer")
    return [t for t in case.tracers if tracer in (None, t.name)]
