"""What one check says: a published number, ours beside it, and whether they agree."""

from dataclasses import dataclass, field
from math import inf, isfinite

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Profile:
    """The two lines of which a row is the largest difference, for a picture: x, published, computed, each (n,)."""

    x: Array
    published: Array
    computed: Array


@dataclass(frozen=True)
class Levels:
    """Errors of which a row is the order, for a picture: cell size over the body's, errors in L2 and the greatest,
    each (levels,), coarse to fine."""

    name: str
    dimensions: int
    size: Array
    l2: Array
    largest: Array


@dataclass(frozen=True)
class Row:
    """One compared number.

    source: where the published number stands; `@key` names an entry of `sources.bib`. tolerance: largest difference
    allowed, in the unit of the numbers; reason: why that much. band: our own numerical uncertainty, None where there is
    none (a formula). at: where the number stands on the axis of its picture, if it is drawn over one.
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
    at: float | None = None
    profile: Profile | None = field(default=None, compare=False, repr=False)
    levels: Levels | None = field(default=None, compare=False, repr=False)

    @property
    def difference(self) -> float:
        return self.computed - self.published

    @property
    def passed(self) -> bool:
        return bool(abs(self.difference) <= self.tolerance)

    @property
    def used(self) -> float:
        """Share of the tolerance that the difference takes; infinite where there is no number."""
        if not isfinite(self.difference):
            return inf
        if self.tolerance > 0.0:
            return abs(self.difference) / self.tolerance
        return 0.0 if self.passed else inf


@dataclass(frozen=True)
class Table:
    """Rows of one check. unit and why hold for each row that gives none; rows may be another table's, to go on with."""

    check: str
    source: str
    rows: list[Row] = field(default_factory=list)
    unit: str = "W"
    why: str = ""

    def within(
        self,
        quantity: str,
        exact: float,
        computed: float,
        most: float,
        why: str = "",
        unit: str = "",
        source: str = "",
        band: float | None = None,
    ) -> None:
        """Within so much of the exact number, in its unit."""
        pair, reason = (float(exact), float(computed)), why or self.why
        given = Row(self.check, source or self.source, quantity, *pair, most, reason, unit or self.unit, band)
        self.rows.append(given)

    def row(
        self,
        quantity: str,
        exact: float,
        computed: float,
        part: float,
        why: str = "",
        unit: str = "",
        source: str = "",
    ) -> None:
        """Within a part of it."""
        reason = f"{100 * part:g} %: {why or self.why}"
        self.within(quantity, exact, computed, part * abs(exact), reason, unit, source)
