"""Numbers as text."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.report.names import file_names
from sim.report.words import clock, number, with_band


@given(st.floats(-300, 2000), st.floats(1e-7, 50))
def test_band_is_never_shown_smaller_than_it_is(value: float, band: float) -> None:
    shown, band_shown = with_band(value, band).split(" ± ")
    assert float(band_shown) >= band - 1e-9
    assert abs(float(shown) - value) <= 0.051


@pytest.mark.parametrize(
    ("hours", "text"), [(0.0, "12 h"), (11.97, "12 h"), (5.0, "5 h"), (6.25, "6.2 h"), (float("nan"), "–")]
)
def test_clock(hours: float, text: str) -> None:
    assert clock(hours) == text


def test_no_negative_zero_and_no_nan() -> None:
    assert number(-0.001) == "0.00"
    assert number(float("nan")) == "–"
    assert with_band(float("nan"), 1.0) == "–"


def test_file_names_are_safe_and_unique_where_case_is_ignored() -> None:
    names = file_names(["Winter night", "winter night", "winter-night", "a & b; $(x)", "冬", "..", "x" * 60])
    assert len({n.casefold() for n in names.values()}) == 7
    for made in names.values():
        assert not set(made) & set("/\\:*?\"<>|;&$() '\n")
        assert not made.startswith(".")
        assert made
