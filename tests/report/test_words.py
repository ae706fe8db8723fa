"""Numbers as text."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.report.words import coldest_at, file_names, number, with_band
from sim.solve.convergence import Banded


@given(st.floats(-300, 2000), st.floats(1e-7, 50))
def test_band_is_never_shown_smaller_than_it_is(value: float, band: float) -> None:
    shown, band_shown = with_band(value, band).split(" ± ")
    assert float(band_shown) >= band - 1e-9
    assert abs(float(shown) - value) <= max(0.0051, 0.051 * band)
    assert float(band_shown) <= max(0.01, 1.11 * band) + 0.01 * (band < 0.1)


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


@pytest.mark.parametrize("band", [0.001, 0.1])
def test_an_even_part_has_no_coldest_place(band: float) -> None:
    """A rounding's place was named: a uniform wall was coldest at 12.1 o'clock."""
    wall = {"min": 300.0, "max": 300.05, "min_clock": 0.1}
    by_name = {f"wall.{k}": Banded(v, band, (v, v, v), 2.0, v, True) for k, v in wall.items()}
    assert coldest_at(by_name, "wall") == ("at 12.1 o'clock" if band < 0.05 else "no place stands out")
