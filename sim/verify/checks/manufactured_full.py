"""The manufactured solutions of `manufactured` on deeper levels: to 16,000 cells in the plane, 70,000 of a section,
110,000 in space."""

from __future__ import annotations

from sim.verify.checks import manufactured
from sim.verify.rows import Row


def rows() -> list[Row]:
    """All problems at all their levels."""
    return manufactured.rows(full=True)
