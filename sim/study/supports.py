"""Which supports a study computes: chosen in its file, and priced before a long run.

A field around a support is three-dimensional and takes seconds. A few are computed unasked; more than that only where
the study file says so, and what is left out is never said to hold.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from sim.case import Case, CaseError
from sim.case.errors import nearest

from .edit import EVERY, Path
from .schema import StudyFile

if TYPE_CHECKING:
    from .axes import Line
    from .sampling import Input
    from .variants import Base, Study

UNASKED = 60  # fields around supports that are computed without being asked for
ALL, NONE = "all", "none"


def chosen_supports(file: StudyFile, case: Case, source: str) -> tuple[str, ...] | None:
    """Names of the supports that are computed, None for all. Raises CaseError for one that the case does not have."""
    wanted, known = file.supports, [support.name for support in case.supports]
    if wanted is None or wanted == ALL:
        return None
    if wanted == NONE:
        return ()
    for name in wanted:
        if name not in known:
            there = f"known: {', '.join(known)}" if known else "the case has no supports"
            raise CaseError(
                f'there is no support "{name}"{nearest(str(name), known)}; {there}',
                file=source,
                key="supports",
            )
    return tuple(name for name in known if name in wanted)


def left_out(case: Case, base: Base) -> list[str]:
    """Names of the case's supports that are not computed."""
    return [s.name for s in case.supports if base.supports is not None and s.name not in base.supports]


def refuse_unseen(
    file: StudyFile, source: str, case: Case, base: Base, laid: Iterable[Line], uncertain: Iterable[Input]
) -> None:
    """Raises CaseError where something is varied in a support that is not computed: it would seem to do nothing."""
    hidden = left_out(case, base)
    if not hidden:
        return
    paths = [(f"axis {e.name}", p) for e in laid for point in e.points for p, _ in point.changes]
    paths += [(f"input {e.name}", e.path) for e in uncertain]
    if file.search is not None:
        paths.append(("search", tuple(file.search.key.split("."))))
    names = [support.name for support in case.supports]
    for what, path in paths:
        of = _support_of(path, names)
        if of is not None and set(of) <= set(hidden):
            message = (
                f"leaves out {', '.join(of)}, in which {what} varies {'.'.join(path)}; accepted: compute it"
            )
            raise CaseError(message, file=source, key="supports")


def _support_of(path: Path, names: list[str]) -> list[str] | None:
    """The supports that a key is of, None for a key of something else."""
    inner = path[2:] if path[0] == "condition" else path
    if len(inner) < 2 or inner[0] != "support":
        return None
    at = inner[1]
    if at == EVERY:
        return names
    return [names[int(at) - 1]] if at.isdecimal() and 0 < int(at) <= len(names) and at not in names else [at]


def fields(study: Study) -> int:
    """Fields around supports that the study computes, of a search the most it can try."""
    count = len(study.case.supports) - len(left_out(study.case, study.base))
    search = study.file.search
    tries = study.size
    if search is not None and search.low is not None:
        tries *= 12
    elif search is not None:
        tries *= 2 + math.ceil(math.log2(max(len(search.values or search.clocks or ()), 2)))
    return tries * len(study.base.conditions) * count


def must_ask(study: Study) -> bool:
    """Whether the study has more fields around supports than are computed unasked."""
    return study.file.supports is None and fields(study) > UNASKED


def priced(study: Study, seconds: float, processes: int) -> CaseError:
    """The refusal of a study whose supports nobody asked for. seconds: that its first variant took."""
    total = seconds * study.size / max(processes, 1)
    names = ", ".join(support.name for support in study.case.supports)
    message = (
        f"is missing: {fields(study):,} fields around supports ({names}) are to be computed, more than {UNASKED}; "
        f"the first of {study.size:,} variants took {seconds:.1f} s, all of them about {duration(total)} on "
        f'{processes} processes. Accepted: "{ALL}", a list of names, or "{NONE}" (then no limit is said to hold at '
        "them)"
    )
    return CaseError(message, file=study.source, key="supports")


def duration(seconds: float) -> str:
    """ "40 s", "5 min", "2.5 h"."""
    if seconds < 90:
        return f"{max(1, round(seconds))} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"
