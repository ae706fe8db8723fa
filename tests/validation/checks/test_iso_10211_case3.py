"""The three-dimensional case of ISO 10211 through the program's joints and multigrid."""

from __future__ import annotations

import pytest

from validation.checks.supports.iso_10211_case3 import PUBLISHED, solve


def test_case_3() -> None:
    found = solve(8.0)
    for name in ("lower", "upper", "outside"):
        assert found[name] == pytest.approx(PUBLISHED[name], rel=0.01)
    for name in ("lowest lower", "lowest upper"):
        assert found[name] == pytest.approx(PUBLISHED[name], abs=0.1)
    assert found["closure"] < 1e-7
