"""Extra tracer that is just enough: the root itself, what it may not depend on, and what cannot be reached."""

from dataclasses import replace
from math import inf, isinf, log
from typing import Any

import numpy as np
import pytest
from support_lines import line, narrowed

from sim.case.operation import Limits
from sim.solve.allowance import LONGEST, Trials
from sim.solve.section import solve_section
from sim.solve.steady import NotConverged
from sim.solve.support_level import Level, solve_level
from sim.solve.support_meshes import SupportResult, solve_support

COARSE = 0.5
SUPPORTS: tuple[dict[str, Any], ...] = (
    {"family": "clamp"},
    {"family": "trunnion"},
    {"pad": {"length": "49 mm"}},
)
TRACER: dict[str, Any] = line()["tracer"][0]
RESIN = {"conductivity": "0.3 W/m/K", "density": "950 kg/m3", "specific_heat": "2000 J/kg/K"}


class MadeUp(Trials):
    """Temperatures of a few points as closed forms of the length, instead of fields."""

    def __init__(self, forms: list[Any], stands: float = inf) -> None:
        self.forms, self.stands, self.read = forms, stands, {}
        self.at(0.0, "wall")

    def at(self, length: float, name: str) -> np.ndarray:
        if length > self.stands:
            raise NotConverged("made up")
        computed = np.array([form(length) for form in self.forms])
        self.read[length] = {name: computed}
        return computed


@pytest.mark.parametrize("guess", [1e-3, 0.1, 1.0, 15.0])
def test_root_where_the_cold_spot_moves_and_where_lines_bend(guess: float) -> None:
    """Straight lines meet the target at 1/3 and 2; the saturating curve, as a self-regulating output, at 2 ln 5."""
    lines = [lambda x: 3 * x - 1, lambda x: 0.5 * x - 1, lambda x: 0.1 + 1e-9 * x]
    assert MadeUp(lines).enough("wall", 0.0, guess).length == pytest.approx(2.0, rel=0.003)
    bent = [*lines, lambda x: -0.2 + (1 - np.exp(-x / 2)) * 0.25]
    assert MadeUp(bent).enough("wall", 0.0, guess).length == pytest.approx(2 * log(5), rel=0.01)


def test_a_point_out_of_reach_is_said_to_be() -> None:
    flat = [lambda x: x - 1, lambda x: -0.3 + 1e-4 * x]
    computed = MadeUp(flat).enough("wall", 0.0, 0.2)
    assert isinf(computed.length)
    assert f"{LONGEST:g} m of extra tracer still leave it 0.3 K short" in computed.reason
    computed = MadeUp([lambda x: x - 1], stands=0.4).enough("wall", 0.0, 0.2)
    assert isinf(computed.length)
    assert "0.4 m of extra tracer still leave it 0.6 K short, and the field with 0." in computed.reason
    assert MadeUp([lambda x: x - 1], stands=1.2).enough("wall", 0.0, 8.0).length == pytest.approx(1.0)


@pytest.mark.parametrize("scale", [0.1, 0.5, 3.0])
@pytest.mark.parametrize("guess", [1e-3, 0.1, 1.0])
def test_what_saturates_below_the_target_is_given_up_after_few_fields(scale: float, guess: float) -> None:
    """As a self-regulating output: each line through two fields once promised the target a little further on."""
    short = MadeUp([lambda x: -1 + 0.99 * (1 - np.exp(-x / scale)), lambda x: x])
    computed = short.enough("wall", 0.0, guess)
    assert isinf(computed.length)
    assert f"{LONGEST:g} m of extra tracer still leave it 0.01" in computed.reason
    assert len(short.read) <= 4  # without, the first two guesses and the longest
    just = MadeUp([lambda x: -1 + 1.01 * (1 - np.exp(-x / scale)), lambda x: x])
    assert just.enough("wall", 0.0, guess).length == pytest.approx(scale * log(101), rel=0.01)


def solved(support: dict[str, Any], allowed: dict[str, float] | None = None, **changes: Any) -> Level:
    case = narrowed(support, **changes)
    return solve_level(case, case.supports[0], COARSE, allowed=allowed)


def test_it_does_not_depend_on_what_is_installed() -> None:
    values = [
        solved({"family": "flange", "allowance": f"{a} m"}).values["allowance_enough"] for a in (0, 0.9)
    ]
    assert values == pytest.approx([values[0]] * 2, rel=1e-6)
    assert 0.05 < values[0] < 0.3


@pytest.mark.parametrize(
    "support",
    [{"family": "hanger"}, *(pytest.param(s, marks=pytest.mark.slow) for s in SUPPORTS)],
)
def test_what_is_just_enough_restores_the_wall(support: dict[str, Any]) -> None:
    """On a DN 200 line too, where the dip goes flat beyond it."""
    pipe = {"size": "DN 200", "schedule": "40", "material": "carbon steel"}
    enough = solved(support, pipe=pipe).values["allowance_enough"]
    assert np.isfinite(enough)
    for share, sign in ((0.97, 1), (1.0, 0)):
        values = solved(support | {"allowance": f"{share * enough} m"}, pipe=pipe).values
        left = values["with_allowance.dip"] / values["dip"]
        assert left > 0.01 if sign else abs(left) < 0.01


def test_it_restores_the_wall_where_the_output_falls_and_laws_bend() -> None:
    falling = {"at": [["-20 degC", "40 W/m"], ["120 degC", "5 W/m"]]}
    given: dict[str, Any] = {
        "tracer": [TRACER | {"clock": 3, "output": falling}],
        "outside": {},
        "insulation": {"layer": [{"material": "rock wool", "thickness": "50 mm"}]},
    }
    enough = solved({}, **given).values["allowance_enough"]
    values = solved({"allowance": f"{enough} m"}, **given).values
    assert abs(values["with_allowance.dip"]) < 0.01 * values["dip"]


def test_limits_ask_for_their_own_length() -> None:
    """Half of the dip allowed: less than for the whole; the field with it is at the limit; beyond the dip: nothing."""
    plain = solved({})
    dip = plain.values["dip"]
    values = solved({}, {"wall_min": dip / 2, "contents_min": 2 * dip}).values
    half = values["allowance_for_wall_min"]
    assert 0 < half < values["allowance_enough"]
    assert values["allowance_for_contents_min"] == 0.0
    with_it = solved({"allowance": f"{half} m"}).values
    assert with_it["with_allowance.dip"] == pytest.approx(dip / 2, rel=0.01)


OFF = {"contents": {"state": "flowing", "temperature": "60 degC", "velocity": "0.01 m/s"}}
OUT_OF_REACH: list[tuple[str, dict[str, Any], dict[str, Any], str]] = [
    ("no tracer", {}, OFF | {"tracer": []}, "the line has no tracer"),
    ("off", {}, OFF | {"condition": [{"name": "a", "ambient": "0 degC", "supply": 0}]}, "no tracer is on"),
    (
        "the tracer on the other side of a resin pipe",
        {"family": "trunnion"},
        {
            "pipe": {"outer_diameter": "114.3 mm", "wall": "6 mm", "material": RESIN},
            "tracer": [TRACER | {"clock": 0}],
        }
        | OFF,
        "m of extra tracer",
    ),
]


@pytest.mark.parametrize(
    ("support", "changes", "reason"), [o[1:] for o in OUT_OF_REACH], ids=[o[0] for o in OUT_OF_REACH]
)
def test_out_of_reach_is_an_outcome_of_its_own(
    support: dict[str, Any], changes: dict[str, Any], reason: str
) -> None:
    fields = solved(support, **changes)
    assert fields.values["dip"] > 0.1
    assert isinf(fields.values["allowance_enough"])
    assert reason in fields.enough["allowance_enough"].reason


def limited(family: str, beyond: float, fineness: float) -> SupportResult:
    """A support whose limit on the wall lies so many kelvin above what the line has."""
    plain = narrowed({"family": family})
    section = solve_section(plain, fineness=1.0)
    case = plain.model_copy(update={"limits": Limits(wall_min=f"{section.value('wall.min') + beyond} K")})
    return solve_support(case, case.supports[0], fineness, section=replace(section, case=case))


def test_a_line_that_misses_the_limit_itself_is_beyond_any_allowance() -> None:
    answer = limited("cradle", 2.0, 0.5)
    q = answer.quantities["allowance_for_wall_min"]
    assert (q.value, q.band) == (inf, 0.0)
    assert "2 K short itself" in answer.unreachable["allowance_for_wall_min"]


@pytest.mark.slow
def test_bands_on_three_meshes() -> None:
    answer = limited("clamp", -2.0, 0.7)
    for path in ("allowance_enough", "allowance_for_wall_min"):
        q = answer.quantities[path]
        assert len(set(q.values)) == 3  # each mesh from scratch
        assert 0 < q.band < 0.5 * q.value
