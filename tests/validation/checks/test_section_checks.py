"""Every quick check of the section passes, says where its number comes from, and is tight enough to fail."""

import importlib

import numpy as np
import pytest

from validation.published.run import CHECKS, checks_of
from validation.published.sources import complaint

QUICK = (
    "inputs.units",
    "inputs.catalogue",
    "tracers.stirred_gap",
    "films.iso_12241",
    "judging.answers",
    "tracers.heat",
    "bore.contents",
    "conduction.halves",
)
LONGER = (
    "films.outside",
    "judging.limits",
    "tracers.shapes",
    "tracers.contacts",
    "conduction.insulation",
    "bore.moving",
)
LOOSE = {  # rows whose tolerance is a bound with a reason of its own, not a share of the value
    "turbulent, Re 1e5, Pr 7",
    "12 over 6 o'clock, share of the wall's spread",
    "sheath_max 30 degC: margin",
}


@pytest.mark.parametrize("name", [*QUICK, *(pytest.param(n, marks=pytest.mark.slow) for n in LONGER)])
def test_check(name: str) -> None:
    module = importlib.import_module(f"validation.checks.{name}")
    rows = [row for group in checks_of(module, False) for row in group()]
    assert rows
    for row in rows:
        what = f"{row.check}: {row.quantity}"
        assert row.passed, f"{what}: {row.computed} is not {row.published} within {row.tolerance}"
        assert not complaint(row.source), what
        assert row.reason, what
        assert np.isfinite([row.published, row.computed, row.tolerance]).all(), what
        if abs(row.published) > 0.1 and row.quantity not in LOOSE and row.unit not in ("h", "mm", "degC"):
            assert row.tolerance <= 0.15 * abs(row.published), what


def test_they_are_quick_checks_of_the_run() -> None:
    listed = {check.name: check for check in CHECKS}
    for name in (*QUICK, *LONGER):
        assert listed[name].quick, name
        assert not listed[name].needs, name
