"""The case written out again with every default filled in, and the list of what was assumed."""

from __future__ import annotations

from typing import Any

from .case import Case


def resolved(case: Case) -> dict[str, Any]:
    """See `Case.resolved`."""
    raise NotImplementedError


def assumptions(case: Case) -> list[tuple[str, str, str]]:
    """See `Case.assumptions`."""
    raise NotImplementedError
