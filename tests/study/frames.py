"""Frames made up by hand, for tests of what is computed from finished rows."""

from collections.abc import Mapping, Sequence

import numpy as np

from sim.study.frame import Frame

Columns = Mapping[str, Mapping[str, Sequence[float]]]


def frame(
    values: Columns | None = None,
    bands: Columns | None = None,
    margins: Columns | None = None,
    inputs: Mapping[str, Sequence[float]] | None = None,
    texts: Mapping[str, Sequence[str]] | None = None,
    count: int | None = None,
) -> Frame:
    """A frame of finished rows from columns by condition, then path or limit."""
    columns = [c for part in (values, bands, margins) for by in (part or {}).values() for c in by.values()]
    n = count if count is not None else len(columns[0])

    def arrays(part: Columns | None) -> dict[str, dict[str, np.ndarray]]:
        return {c: {p: np.array(v, float) for p, v in by.items()} for c, by in (part or {}).items()}

    conditions = {c: {} for part in (values, margins) for c in (part or {})}
    return Frame(
        np.arange(n),
        {k: list(v) for k, v in (texts or {}).items()},
        {k: np.array(v, float) for k, v in (inputs or {}).items()},
        np.ones(n, bool),
        [""] * n,
        [str(i) for i in range(n)],
        conditions | arrays(values),
        arrays(bands),
        arrays(margins),
        {c: {k: np.zeros(n) for k in by} for c, by in (margins or {}).items()},
        np.zeros(n),
        np.zeros(n),
    )
