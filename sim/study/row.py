"""One condition of a variant as plain numbers: results, their bands, and every limit at every place with its verdict.

A place is the section, the bend or a support. What a limit of the case is not held at is written down as "not
evaluated".
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from sim.case import Case
from sim.judge.confidence import NO_CHANGES, Sensitivity, section_limits
from sim.judge.elbow import ElbowAnswer
from sim.judge.limits import LimitCheck, worst
from sim.judge.support import SupportAnswer
from sim.solve.at_rest import SectionResult
from sim.solve.convergence import Banded
from sim.solve.measures import LIMITS
from sim.solve.paths import limited

NOT_EVALUATED, NOT_COMPUTED = "not evaluated", "not converged"
NOTHING = ("nothing to hold", "no limits")
AT = " at "
WITH = "with_allowance."
PLACES = ("supports.", "fittings.")  # what the paths around what interrupts the line begin with
ELBOW = "elbow"  # no support of a case with a bend is called so

Part = dict[str, Any]


def key_of(limit: str, support: str = "") -> str:
    """What a limit at a place is called: "wall_min", or "wall_min at shoe", or "wall_min at elbow"."""
    return f"{limit}{AT}{support}" if support else limit


def place_of(key: str) -> tuple[str, str]:
    """(limit, support) of such a key; the support is "" for the section, ELBOW in the bend."""
    limit, _, support = key.partition(AT)
    return limit, support


def condition_row(
    result: SectionResult,
    supports: Mapping[str, SupportAnswer | None],
    *,
    banded: bool,
    known: Sensitivity = NO_CHANGES,
    elbow: ElbowAnswer | None = None,
) -> dict[str, Part]:
    """Everything a row keeps of one condition.

    supports: the answers by name, None where one could not be computed; those of the case that are not there were left
    out; elbow: the answer in the bend. banded: whether the section was solved on three meshes; known: for an output
    margin that is asked for. values, bands (three meshes), levels (values coarse to fine): by path; margins (less what
    the case asks for besides), limits, verdicts (three meshes, or where there is no margin): by limit and place.
    Temperatures in K, heat in W/m and W. An allowance that cannot be reached is infinite.
    """
    values = _nearest_to_limits(result)
    values |= _over_tracers(result.case, values)
    for name, answer in supports.items():
        kind = "support" if answer is None else answer.kind
        values |= {f"{kind}s.{name}.{path}": q for path, q in _around(answer)}
    values |= {f"{ELBOW}.{path}": q for path, q in (elbow.quantities if elbow is not None else {}).items()}
    banded_values = values if banded else {p: q for p, q in values.items() if p.startswith(PLACES)}
    places = {"": section_limits(result, known)}
    places |= {name: answer.limits for name, answer in supports.items() if answer is not None}
    places |= {ELBOW: elbow.limits} if elbow is not None else {}
    unsolved = {name for name, answer in supports.items() if answer is None or answer.result is None}
    unsolved |= {ELBOW} if elbow is not None and elbow.result is None else set()
    limits = _limits(result.case, places, unsolved, banded)
    # of brackets and estimates the meshes do not tell how far two of them may be apart
    wide = result.bracketed or bool(result.parts)
    return {
        "values": plain({p: q.value for p, q in values.items()}),
        "bands": plain({p: q.band for p, q in banded_values.items()}),
        "levels": {
            p: list(plain(dict(enumerate(q.values))).values())
            for p, q in banded_values.items()
            if len(q.values) == 3 and not (wide and p in result.quantities)
        },
        **limits,
        "mesh": {
            "cells": result.cells[-1],
            "meshes": len(result.cells),
            "bracketed": int(result.bracketed),
            "states": len(result.states),
            "supports": sum(answer is not None for answer in supports.values()),
        },
    }


def _limits(
    case: Case, places: Mapping[str, Sequence[LimitCheck]], unsolved: set[str], banded: bool
) -> dict[str, Part]:
    """Margins, limits and verdicts by limit and place; what was left out is not evaluated. unsolved: no field."""
    by_limit: dict[str, list[LimitCheck]] = {}
    for place, checks in places.items():
        for check in checks:
            by_limit.setdefault(key_of(check.limit, place), []).append(check)
    deciding = {key: decisive(checks) for key, checks in by_limit.items()}
    margins = {key: check.spare for key, check in deciding.items()}
    verdicts: dict[str, Any] = {
        key: check.verdict
        for key, check in deciding.items()
        if banded or place_of(key)[1] or math.isnan(check.spare)
    }
    allowed = {key: checks[0].allowed for key, checks in by_limit.items()}
    for key, limit in _places(case):
        if key not in by_limit:
            verdicts[key] = NOT_COMPUTED if place_of(key)[1] in unsolved else NOT_EVALUATED
            margins[key], allowed[key] = math.nan, limit
    return {"margins": plain(margins), "limits": plain(allowed), "verdicts": verdicts}


def decisive(checks: list[LimitCheck]) -> LimitCheck:
    """Of several tracers, or several steady states, the check with the worst verdict and the least margin."""
    verdict = worst([check.verdict for check in checks])
    return min((check for check in checks if check.verdict == verdict), key=lambda check: check.spare)


def _places(case: Case) -> Iterator[tuple[str, float]]:
    """(key, allowed) of every limit of the case at every place where its quantity exists."""
    for limit in LIMITS:
        allowed = getattr(case.limits, limit)
        if allowed is None:
            continue
        for place in (
            "",
            *([ELBOW] if case.elbow is not None else []),
            *(s.name for s in case.interruptions),
        ):
            yield key_of(limit, place), allowed


def _nearest_to_limits(result: SectionResult) -> dict[str, Banded]:
    """Quantities of the section; of several steady states one with a limit is that of the state nearest to it."""
    values = dict(result.quantities)
    for state in result.further:
        for limit, row in limited(state.quantities):
            if limit.sign * (state.value(row.path) - values[row.path].value) < 0:
                values[row.path] = state.quantities[row.path]
    return values


def _over_tracers(case: Case, values: Mapping[str, Banded]) -> dict[str, Banded]:
    names = [tracer.name for tracer in case.tracers]
    if not names:
        return {}
    sheaths = [values[f"tracers.{name}.sheath_max"] for name in names]
    outputs = [values[f"tracers.{name}.output"] for name in names]
    return {
        "tracers.sheath_max": replace(
            max(sheaths, key=lambda q: q.value),
            band=max(q.band for q in sheaths),
            values=tuple(max(level) for level in zip(*(q.values for q in sheaths), strict=True)),
        ),
        "tracers.output": replace(
            outputs[0],
            value=math.fsum(q.value for q in outputs),
            band=math.fsum(q.band for q in outputs),
            values=tuple(math.fsum(level) for level in zip(*(q.values for q in outputs), strict=True)),
        ),
    }


def _around(answer: SupportAnswer | None) -> Iterator[tuple[str, Banded]]:
    """A support's numbers by path; without an allowance those with it repeat those without."""
    if answer is None or answer.result is None:
        return
    quantities = answer.result.quantities
    yield from quantities.items()
    allowance = answer.support.allowance
    yield "allowance", Banded(allowance, 0.0, (allowance,), math.nan, allowance, True)
    if answer.result.installed is None:
        for path, q in quantities.items():
            if not path.startswith("allowance"):
                yield WITH + path, q


def plain(numbers: Mapping[Any, float]) -> dict[Any, float | str | None]:
    """Numbers that strict JSON can hold: None for NaN, "inf" for what is not reached."""
    return {
        k: float(v) if math.isfinite(v) else None if math.isnan(v) else str(float(v))
        for k, v in numbers.items()
    }
