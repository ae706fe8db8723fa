"""The three-dimensional case of ISO 10211 through the program's joints and multigrid."""

from __future__ import annotations

import pytest

from validation.checks.supports.iso_10211_case3 import PUBLISHED, solve


def test_case_3() -> None:
    field = solve(8.0)
    for name in ("lower", "upper", "outside"):
        assert field[name] == pytest.approx(PUBLISHED[name], rel=0.01)
    for name in ("lowest lower", "lowest upper"):
        assert field[name] == pytest.approx(PUBLISHED[name], abs=0.1)
    assert field["closure"] < 1e-7
