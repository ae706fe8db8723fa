"""Limits: pass, fail and too close to call at their boundaries."""

import math
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plain_lines import FLAT, ROUND, line, mesh, only

from sim.judge.limits import check_limits, verdict_of, worst
from sim.report.words import margin_text, with_band
from sim.solve.at_rest import MeshStore
from sim.solve.convergence import Banded
from sim.solve.section import solve_section


@pytest.mark.parametrize(
    ("margin", "band", "verdict"),
    [
        (1.0, 0.5, "pass"),
        (-1.0, 0.5, "fail"),
        (0.4, 0.5, "too close to call"),
        (-0.4, 0.5, "too close to call"),
        (0.5, 0.5, "too close to call"),
        (-0.5, 0.5, "too close to call"),
        (0.0, 0.0, "too close to call"),
        (1e-12, 0.0, "too close to call"),  # shown as +0.00 with a band of 0.01
        (-1e-12, 0.0, "too close to call"),
        (0.519, 0.5004, "too close to call"),  # shown as +0.51 with a band of 0.51
        (0.53, 0.5004, "pass"),
        (-0.505, 0.5004, "too close to call"),
        (-0.53, 0.5004, "fail"),
        (math.inf, 0.5, "pass"),
        (math.nan, 0.5, "too close to call"),
        (5.0, math.nan, "too close to call"),
        (-5.0, math.nan, "too close to call"),
        (5.0, math.inf, "too close to call"),
    ],
)
def test_verdicts(margin: float, band: float, verdict: str) -> None:
    assert verdict_of(margin, band) == verdict


@given(st.floats(-30, 30), st.floats(0, 20))
def test_the_numbers_shown_give_the_verdict(margin: float, band: float) -> None:
    """What a reader makes of the printed margin and band is the verdict; and it is never kinder than the exact one."""
    shown = float(margin_text(margin, band))
    width = float(with_band(0.0, band).split(" ± ")[1])
    verdict = verdict_of(margin, band)
    assert verdict == ("pass" if shown > width else "fail" if shown < -width else "too close to call")
    if verdict != "too close to call":
        assert abs(margin) > band
        assert verdict == ("pass" if margin > 0 else "fail")


def test_the_worst_decides() -> None:
    assert worst([]) == "no limits"
    assert worst(["pass", "no limits"]) == "pass"
    assert worst(["pass", "too close to call", "pass"]) == "too close to call"
    assert worst(["pass", "too close to call", "fail"]) == "fail"
    assert worst(["fail", "not converged"]) == "not converged"


def checks_of(
    limits: dict[str, float], values: dict[str, tuple[float, float]], tracers: tuple[str, ...] = ()
) -> Any:
    """Check limits (K) against made-up values: path to (value, band), K."""
    names = ("contents_min", "wall_min", "wall_max", "sheath_max", "barrier_max")
    result = SimpleNamespace(
        bracketed=False,
        basis="",
        ends={},
        further=(),
        complete=True,
        solution=SimpleNamespace(network=SimpleNamespace(mesh=mesh(line(), 1.0))),
        case=SimpleNamespace(
            limits=SimpleNamespace(**{n: limits.get(n) for n in (*names, "margin")}),
            tracers=[SimpleNamespace(name=t, shape="flat", standoff=0.0) for t in tracers],
        ),
        quantities={p: Banded(v, b, (v, v, v), 2.0, v, True) for p, (v, b) in values.items()},
    )
    return check_limits(result)  # type: ignore[arg-type]


def test_every_tracer_is_held_to_the_sheaths_limit() -> None:
    values = {
        "contents.min": (280.0, 0.0),
        "tracers.A.sheath_max": (350.0, 1.0),
        "tracers.B.sheath_max": (352.5, 1.0),
    }
    checks = checks_of({"sheath_max": 352.0}, values, ("A", "B"))
    assert [c.verdict for c in checks] == ["pass", "too close to call"]


def test_contents_without_a_temperature_never_pass() -> None:
    (check,) = checks_of({"contents_min": 278.0}, {"contents.min": (math.nan, math.nan)})
    assert check.verdict == "not evaluated"
    assert "no temperature" in check.note
    assert worst(["pass", check.verdict]) == "not evaluated"


def test_a_limit_on_what_the_line_has_not_is_said_and_spoils_nothing() -> None:
    values = {"contents.min": (280.0, 0.1), "wall.min": (279.0, 0.1)}
    checks = checks_of({"sheath_max": 352.0, "wall_min": 270.0}, values)
    assert {c.limit: c.verdict for c in checks} == {"sheath_max": "nothing to hold", "wall_min": "pass"}
    assert "no tracer" in next(c.note for c in checks if c.limit == "sheath_max")
    assert worst([c.verdict for c in checks]) == "pass"
    (check,) = checks_of({"barrier_max": 352.0}, values)
    assert check.verdict == "not evaluated"


def test_a_band_that_rests_on_no_order_is_said_to() -> None:
    result = solve_section(
        only(line(FLAT, ROUND | {"name": "T2", "clock": 9.0}, limits={"wall_min": "0 degC"})),
        MeshStore(),
        1.2,
    )
    for check in check_limits(result):
        assert bool(check.note) != result.quantities[check.quantity].asymptotic
