"""Which supports and fittings a study computes, chosen in its file.

What is left out is never said to hold.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from sim.case import Case, CaseError
from sim.case.errors import nearest

from .edit import EVERY, Path
from .schema import StudyFile

if TYPE_CHECKING:
    from .axes import Line
    from .sampling import Input

ALL, NONE = "all", "none"


def chosen(wanted: Any, known: list[str], what: str, file: str) -> tuple[str, ...]:
    """Of the names known, those asked for: "all", "none" or a list. Raises CaseError for one that is not known."""
    if wanted in (ALL, NONE):
        return tuple(known) if wanted == ALL else ()
    for name in wanted:
        if name not in known:
            there = f"known: {', '.join(known)}" if known else f"the case has no {what}"
            message = f'there is no {what} "{name}"{nearest(str(name), known)}; {there}'
            raise CaseError(message, file=file, key=f"{what}s")
    return tuple(name for name in known if name in wanted)


def chosen_supports(file: StudyFile, case: Case, source: str) -> tuple[str, ...] | None:
    """Names of the supports that are computed, None for all. Raises CaseError for one that the case does not have."""
    if file.supports in (None, ALL):
        return None
    return chosen(file.supports, [support.name for support in case.interruptions], "support", source)


def left_out(case: Case, computed: tuple[str, ...] | None) -> list[str]:
    """Names of the case's supports that are not among those computed; None: all are."""
    return [s.name for s in case.interruptions if computed is not None and s.name not in computed]


def refuse_unseen(
    file: StudyFile,
    source: str,
    case: Case,
    computed: tuple[str, ...] | None,
    laid: Iterable[Line],
    uncertain: Iterable[Input],
) -> None:
    """Raises CaseError where something is varied in a support that is not computed: it would seem to do nothing."""
    hidden = left_out(case, computed)
    if not hidden:
        return
    paths = [(f"axis {e.name}", p) for e in laid for point in e.points for p, _ in point.changes]
    paths += [(f"input {e.name}", e.path) for e in uncertain]
    if file.search is not None:
        paths.append(("search", tuple(file.search.key.split("."))))
    for what, path in paths:
        of = _support_of(path, case)
        if of is not None and set(of) <= set(hidden):
            message = (
                f"leaves out {', '.join(of)}, in which {what} varies {'.'.join(path)}; accepted: compute it"
            )
            raise CaseError(message, file=source, key="supports")


def _support_of(path: Path, case: Case) -> list[str] | None:
    """The supports or fittings that a key is of, None for a key of something else."""
    inner = path[2:] if path[0] == "condition" else path
    if len(inner) < 2 or inner[0] not in ("support", "fitting"):
        return None
    names = [entry.name for entry in (case.supports if inner[0] == "support" else case.fittings)]
    at = inner[1]
    if at == EVERY:
        return names
    return [names[int(at) - 1]] if at.isdecimal() and 0 < int(at) <= len(names) and at not in names else [at]
