"""What the first screen says of the limit that decides: it agrees with the verdict, whatever margin is asked for."""

from math import nan

import pytest

from sim.judge.limits import LimitCheck, Verdict
from sim.report.worst import PlacedCheck, decisive


def placed_check(verdict: Verdict, margin: float, spare: float = nan) -> PlacedCheck:
    check = LimitCheck("wall_min", "wall.min", 280.0, 0.2, 280.0 - margin, margin, verdict, spare=spare)
    return PlacedCheck("winter", "section", "", check)


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (placed_check("pass", 5.0), "met by 5.00 K"),
        (placed_check("pass", 5.0, 2.0), "met by 2.00 K beyond the margin asked for"),
        (placed_check("fail", -5.0), "missed by 5.00 K"),
        (placed_check("fail", 1.0, -2.0), "missed by 2.00 K with the margin asked for"),
        (
            placed_check("too close to call", 5.0, 0.1),
            "margin +0.10 K beyond the margin asked for, too close to call",
        ),
        (placed_check("not evaluated", 5.0), "margin +5.00 K, not evaluated"),
    ],
)
def test_by_how_much_agrees_with_the_verdict(one: PlacedCheck, words: str) -> None:
    assert one.outcome == words


def test_the_limit_that_decides_is_the_one_with_least_left_of_the_margin_asked_for() -> None:
    near, worse = placed_check("fail", 0.5, -0.5), placed_check("fail", 1.0, -3.0)
    assert decisive([near, worse]) is worse
