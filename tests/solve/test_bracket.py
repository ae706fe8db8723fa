"""Bounds of contents that move: the estimate's film by hand, and bands that take in what bounds them."""

import pytest
from plain_lines import FLAT, LIQUID, line, only

from sim.solve import buoyant
from sim.solve.bracket import _between
from sim.solve.convergence import Banded
from sim.solve.estimate import film
from sim.solve.section import solve_section


def banded(value: float, band: float) -> Banded:
    return Banded(value, band, (value, value, value), 2.0, value, True)


def test_hardly_any_excess_is_conduction() -> None:
    """Nu no less than 2."""
    case = only(line(FLAT, contents={"state": "buoyant", "fluid": LIQUID | {"viscosity": "1000 Pa s"}}))
    assert film(case, 1e-4, 300.0) == pytest.approx(2.0 * 0.6 / 0.1023)


@pytest.mark.parametrize(("one", "other"), [(290.0, 303.0), (303.0, 290.0), (301.0, 303.0), (290.0, 297.0)])
def test_the_band_reaches_both_bounds_and_their_own_bands(one: float, other: float) -> None:
    computed = _between(
        "wall.min", banded(300.0, 0.1), [banded(one, 0.5), banded(other, 0.25), banded(float("nan"), 1.0)]
    )
    assert computed.band == pytest.approx(max(abs(one - 300.0) + 0.5, abs(other - 300.0) + 0.25))
    assert computed.value == 300.0
    assert not computed.asymptotic


@pytest.mark.parametrize(("rate", "lasts"), [(0.5, True), (2.0, False)])
def test_a_flow_whose_disturbances_grow_is_no_answer(
    rate: float, lasts: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Faster than e-fold in the time heat takes across the bore; slower is the search's own roughness."""
    monkeypatch.setattr(buoyant, "growth", lambda *_: complex(rate))
    thick = LIQUID | {"viscosity": "10 Pa s", "conductivity": "0.13 W/m/K"}
    case = only(line(FLAT, contents={"state": "buoyant", "fluid": thick}))
    result = solve_section(case, fineness=1.0)
    assert result.bracketed is not lasts
    assert any("would not last" in note for note in result.notes) is not lasts
