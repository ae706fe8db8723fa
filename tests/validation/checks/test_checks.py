"""Checks of a moment, that the quick suite may notice what they do: they pass, and are tight enough to fail.

All of them run by `coldspot verify`, which also holds every number to a source.
"""

from importlib import import_module

import numpy as np
import pytest

from validation.published.run import CHECKS, checks_of

SHORT = (
    *(f"conduction.{name}" for name in ("halves", "insulation")),
    *(f"films.{name}" for name in ("handbook", "iso_12241", "outside")),
    *(f"inputs.{name}" for name in ("units", "catalogue")),
    *(f"judging.{name}" for name in ("simplified", "answers")),
    *(f"supports.{name}" for name in ("parts", "unchanged")),
    *(f"tracers.{name}" for name in ("heat", "contacts", "shapes", "stirred_gap")),
    *("bore.contents", "line.axial"),
)
LOOSE = {  # rows whose tolerance is a bound with a reason of its own, not a share of the value
    "turbulent, Re 1e5, Pr 7",
}


@pytest.mark.parametrize("name", SHORT)
def test_a_short_check_passes(name: str) -> None:
    assert name in {check.name for check in CHECKS if check.quick and not check.needs}
    rows = [row for group in checks_of(import_module(f"validation.checks.{name}"), False) for row in group()]
    assert rows
    for row in rows:
        what = f"{row.check}: {row.quantity}"
        assert row.passed, f"{what}: {row.computed} is not {row.published} within {row.tolerance}"
        assert row.reason, what
        assert np.isfinite([row.published, row.computed, row.tolerance]).all(), what
        if abs(row.published) > 0.1 and row.quantity not in LOOSE and row.unit not in ("h", "mm", "degC"):
            assert row.tolerance <= 0.1501 * abs(row.published), what
