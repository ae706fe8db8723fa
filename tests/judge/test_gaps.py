"""The note on stirring air, and what makes a clock position matter."""

from typing import Any

import pytest
from plain_lines import FLAT, only, solution
from plain_lines import line as plain

from sim.case import Case
from sim.judge.field_notes import gap_note
from sim.judge.reasons import asymmetries

OVERSIZE = {
    "fit": "oversize",
    "bore": "130 mm",
    "layer": [{"thickness": "40 mm", "conductivity": "0.04 W/m/K"}],
}


def raw(**changes: Any) -> dict[str, Any]:
    empty = {"state": "empty", "film_coefficient": "0 W/m2/K"}
    return plain(FLAT | {"clock": 6.0}, **({"contents": empty} | changes))


def line(**changes: Any) -> Case:
    return only(raw(**changes))


def note(**changes: Any) -> str | None:
    return gap_note(solution(raw(**changes), 1.0))


def test_a_wide_air_gap_is_told_a_given_conductivity_and_a_narrow_gap_or_none_are_not() -> None:
    wide = OVERSIZE | {"bore": "150 mm"}
    assert "Rayleigh" in (note(insulation=wide | {"void": {"filling": "air"}}) or "")
    for insulation in (wide | {"void": {"conductivity": "0.03 W/m/K"}}, raw()["insulation"]):
        assert note(insulation=insulation) is None
    assert note(insulation__fit="bridged") is None


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"insulation": OVERSIZE}, "hangs"),
        ({"contents": {"state": "still", "fill": 0.5}}, "partly filled"),
        ({"condition__wind": "5 m/s", "condition__wind_from": 3}, None),
    ],
)
def test_asymmetries(changes: dict[str, Any], word: str | None) -> None:
    """Wind from one side does not act where the outside coefficient is given."""
    computed = asymmetries(line(**changes))
    assert (computed == ()) if word is None else any(word in f for f in computed)
    assert asymmetries(line()) == ()
