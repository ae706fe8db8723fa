"""The one list of quantities: every number of every shipped case is in it, with its unit, words and limit."""

from pathlib import Path

import numpy as np
import pytest
from support_lines import narrowed

from sim.case import Case, case_for, load_case
from sim.case.episode import EpisodeLimits
from sim.case.operation import Limits
from sim.heat.network import network
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.bounds import with_contents
from sim.solve.measures import CLOCK, DIFFERENCE, EVERY_LIMIT, LIMITS, NUMBER, TEMPERATURE
from sim.solve.paths import declared, limited, of_support, quantity
from sim.solve.quantities import quantities
from sim.solve.steady import solve
from sim.solve.support_meshes import solve_support

CASES = sorted((Path(__file__).parents[2] / "cases").glob("*.toml"))
COARSE = 0.7


def numbers_of(case: Case) -> dict[str, float]:
    """Every number of a case narrowed to one condition, on one coarse mesh; moving contents at rest."""
    if case.contents.state == "buoyant":
        case = with_contents(case, state="still")
    return dict(quantities(solve(network(case, plan_mesh(place(case), COARSE)))))


@pytest.mark.parametrize("file", CASES, ids=lambda path: path.stem)
def test_every_number_of_a_shipped_case_is_declared(file: Path) -> None:
    case = load_case(file)
    for condition in case.conditions:
        one = case_for(case, condition.name)
        for path, value in numbers_of(one).items():
            row = quantity(path)
            assert row.path == path
            assert row.words
            # Nothing in these lines is colder than 150 K or hotter than 800 K, and no heat or clock is as large in SI.
            assert row.measure.absolute == (150 < value < 800) or np.isnan(value), path
            assert row.measure.unit or row.measure is NUMBER, path
            assert (0 <= value < 12) or np.isnan(value) or row.measure is not CLOCK, path


def test_every_number_of_a_support_is_declared() -> None:
    result = solve_support(narrowed({"allowance": "0.4 m"}), narrowed().supports[0], 0.5)
    for path, banded in result.quantities.items():
        row = of_support(path)
        assert quantity(f"supports.a.b.{path}").measure is row.measure
        assert "a.b" in quantity(f"supports.a.b.{path}").words
        assert row.measure.absolute == (150 < banded.value < 800), path
        assert row.keys == tuple(path.split("."))
    assert of_support("with_allowance.dip").measure is DIFFERENCE


def test_a_path_that_is_not_declared_is_refused() -> None:
    for path in ("wall", "wall.median", "tracers.T1.colour", "supports.S1.mood", ""):
        with pytest.raises(KeyError, match="not declared"):
            quantity(path)


def test_names_may_hold_full_stops_and_words_of_paths() -> None:
    row = quantity("tracers.a.mean.b.sheath_max")
    assert row.keys == ("tracers", "a.mean.b", "sheath_max")
    assert row.words == "hottest sheath of a.mean.b"
    assert quantity("supports.shoe 1.with_allowance.dip").name == "shoe 1"
    assert quantity("tracers.sheath_max").name == ""


def test_every_limit_of_a_case_holds_something_in_the_section_and_at_a_support() -> None:
    assert set(LIMITS) == set(Limits.model_fields) - {"margin", "output_margin"}  # asked of the others
    by_name = {row.limit for row in declared() if row.pattern.partition(".")[0] != "supports"}
    assert by_name - {""} == set(EVERY_LIMIT)
    assert set(EVERY_LIMIT) - set(LIMITS) == set(EpisodeLimits.model_fields)
    for row in declared():
        assert not row.limit or EVERY_LIMIT[row.limit].measure is row.measure


def test_a_limit_is_of_the_side_that_its_quantity_is_the_extreme_of() -> None:
    for row in declared():
        if row.limit in LIMITS:
            assert row.words.startswith("coldest") == (LIMITS[row.limit].sign > 0), row.pattern


def test_liquid_is_held_in_place_of_all_contents() -> None:
    paths = ["contents.min", "liquid.min", "wall.min", "tracers.T1.sheath_max", "tracers.T2.sheath_max"]
    values = [(limit.name, row.path) for limit, row in limited(paths)]
    sheaths = [("sheath_max", f"tracers.T{n}.sheath_max") for n in (1, 2)]
    assert values == [("contents_min", "liquid.min"), ("wall_min", "wall.min"), *sheaths]
    assert [row.path for _, row in limited(["contents.min"])] == ["contents.min"]


def test_measures() -> None:
    assert TEMPERATURE.shown(300.0) == pytest.approx(26.85)
    assert DIFFERENCE.shown(3.0) == 3.0
    assert CLOCK.apart(0.2, 11.9) == pytest.approx(0.3)
    assert CLOCK.apart(11.9, 0.2) == pytest.approx(-0.3)
    assert LIMITS["wall_min"].margin(300.0, 290.0) == 10.0
    assert LIMITS["wall_max"].margin(300.0, 290.0) == -10.0
