"""What one check says: a published number, ours beside it, and whether they agree."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One compared number.

    tolerance: largest difference allowed, in the unit of the numbers; reason: why that much. band: our own numerical
    uncertainty, None where there is none (a formula).
    """

    check: str
    source: str
    quantity: str
    published: float
    computed: float
    tolerance: float
    reason: str
    unit: str
    band: float | None = None

    @property
    def difference(self) -> float:
        return self.computed - self.published

    @property
    def passed(self) -> bool:
        return abs(self.difference) <= self.tolerance
