"""Checks across the tables of a case."""

from __future__ import annotations

from .case import Case
from .errors import CaseError


def check(case: Case) -> None:
    """Raise CaseError (with its key, without the file) for the first thing that does not fit together."""
    if not case.conditions:
        raise CaseError("is missing; accepted: at least one [[condition]]", key="condition")
