"""What a study's supports cost: told before a long run that nobody asked for.

A field around a support is three-dimensional and takes seconds. A few are computed unasked; more than that only where
the study file says so.
"""

from __future__ import annotations

import math

from sim.case import CaseError

from .supports import ALL, NONE, left_out
from .variants import Study

UNASKED = 60  # fields around supports that are computed without being asked for


def fields(study: Study) -> int:
    """Fields around supports that the study computes, of a search the most it can try."""
    count = len(study.case.interruptions) - len(left_out(study.case, study.base.supports))
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
    names = ", ".join(support.name for support in study.case.interruptions)
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
