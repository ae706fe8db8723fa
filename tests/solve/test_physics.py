"""What must hold whatever the numbers: symmetry, scaling, order of better and worse."""

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, line, numbers, only

from sim.solve.at_rest import MeshStore, SectionResult
from sim.solve.section import solve_section

TEMPERATURES = [f"{part}.{end}" for part in ("contents", "wall") for end in ("min", "max")]
TEMPERATURES += ["barrier.max", "tracers.T1.sheath_max"]
WINTER = {
    "outside": {},
    "condition": [{"name": "now", "ambient": "-20 degC", "wind": "6 m/s"}],
    "barrier": {"thickness": "0.6 mm", "material": "aluminium"},
}


def result(raw: dict, fineness: float = 2.0) -> SectionResult:
    return solve_section(only(raw), MeshStore(), fineness)


def agree(a: SectionResult, b: SectionResult, paths: list[str] = TEMPERATURES) -> None:
    """Two results of the same physics differ by no more than their bands together."""
    for path in paths:
        one, other = a.quantities[path], b.quantities[path]
        assert abs(one.value - other.value) <= one.band + other.band, path


@pytest.mark.parametrize("fit", ["bridged", "oversize"])
def test_mirrored_lines_have_mirrored_fields(fit: str) -> None:
    changes = {"insulation__fit": fit, "contents__fill": 0.6} | WINTER
    if fit == "oversize":
        changes["insulation__bore"] = "140 mm"
    a = result(line(ROUND | {"clock": 4.0}, **changes), 1.5)
    b = result(line(ROUND | {"clock": 8.0}, **changes), 1.5)
    agree(a, b)
    turn = a.value("wall.min_clock") + b.value("wall.min_clock")
    assert (turn + 6) % 12 == pytest.approx(6, abs=0.4)


def test_wind_from_either_side_mirrors() -> None:
    a = numbers(line(FLAT | {"clock": 6.0}, **WINTER, condition__wind_from=3.0), 1.5)
    b = numbers(line(FLAT | {"clock": 6.0}, **WINTER, condition__wind_from=9.0), 1.5)
    for path in TEMPERATURES:
        assert a[path] == pytest.approx(b[path], abs=0.02)


def test_fields_of_two_tracers_add_up() -> None:
    both = [ROUND, FLAT | {"name": "T2", "clock": 9.0}]
    off = {"output": "0 W/m"}
    together = numbers(line(*both))
    first = numbers(line(both[0], both[1] | off))
    second = numbers(line(both[0] | off, both[1]))
    for path in ("wall.mean", "contents.mean", "tracers.T1.mean", "tracers.T2.mean", "heat_out"):
        zero = 0.0 if path == "heat_out" else 263.15
        assert together[path] - zero == pytest.approx(first[path] + second[path] - 2 * zero, rel=1e-7)


def test_tracers_influence_each_other_alike() -> None:
    """Reciprocity: the mean rise of one body by a watt in the other is the same both ways."""
    both = [ROUND, FLAT | {"name": "T2", "clock": 8.0}]
    off = {"output": "0 W/m"}
    first = numbers(line(both[0], both[1] | off))
    second = numbers(line(both[0] | off, both[1]))
    assert first["tracers.T2.mean"] == pytest.approx(second["tracers.T1.mean"], abs=1e-7)


def test_better_contact_is_cooler() -> None:
    for tracer, key, rising in (
        (FLAT, "contact_conductance", [f"{h} W/m2/K" for h in (30, 100, 400, 3000)]),
        (ROUND, "contact_width", [f"{w} mm" for w in (0.5, 1, 2, 5)]),
    ):
        sheath = [numbers(line(tracer | {key: value}))["tracers.T1.sheath_max"] for value in rising]
        assert (np.diff(sheath) < 0).all()


def test_wet_bottom_makes_the_bottom_colder() -> None:
    dry = numbers(line(FLAT | {"clock": 12.0}, contents__state="empty"))
    wet_sector = {"from_clock": 4.0, "to_clock": 8.0, "factor": 10.0}
    wet = numbers(line(FLAT | {"clock": 12.0}, contents__state="empty", layer__wet=wet_sector))
    assert wet["wall.min"] < dry["wall.min"] - 1.0
    assert wet["barrier.max"] > dry["barrier.max"]


WET_AS_DRY = {"layer__wet": {"from_clock": 1.0, "to_clock": 7.0, "factor": 1.0}}
HALVES = [{"thickness": f"{mm} mm", "conductivity": "0.04 W/m/K"} for mm in (20, 30)]
FILLED = {"insulation__fit": "bridged", "insulation__void": {"conductivity": "0.04 W/m/K"}}


@pytest.mark.parametrize(
    "changes",
    [WET_AS_DRY, {"insulation": {"fit": "snug", "layer": HALVES}}, FILLED],
    ids=["wet by a factor of one", "a layer in two", "a void of the insulation's conductivity"],
)
def test_what_is_no_change_changes_nothing(changes: dict) -> None:
    agree(result(line(ROUND), 1.5), result(line(ROUND, **changes), 1.5))


def test_foil_spreads_heat() -> None:
    bare = numbers(line(FLAT | {"contact_conductance": "50 W/m2/K"}))
    foil = numbers(line(FLAT | {"contact_conductance": "50 W/m2/K"}, foil={"thickness": "0.1 mm"}))
    assert foil["tracers.T1.sheath_max"] < bare["tracers.T1.sheath_max"] - 5.0
    assert foil["wall.mean"] > bare["wall.mean"]


def test_barrier_evens_out_the_surface() -> None:
    spread = []
    for k in ("0.15 W/m/K", "16 W/m/K", "200 W/m/K"):
        raw = line(ROUND, **WINTER) | {
            "barrier": {"thickness": "0.8 mm", "conductivity": k, "emissivity": 0.5}
        }
        values = numbers(raw)
        spread.append(values["barrier.max"] - values["barrier.min"])
    assert spread[0] > spread[1] > spread[2]


def test_air_in_a_hanging_shell_insulates_better_than_a_pipe_that_fills_it() -> None:
    flowing = {"state": "flowing", "temperature": "60 degC", "film_coefficient": "1000 W/m2/K"}
    flowing = {f"contents__{key}": value for key, value in flowing.items()}
    hanging = {"insulation__fit": "oversize", "insulation__bore": "126 mm"}
    loss = [numbers(line(**flowing, **c))["heat_out"] for c in (hanging, {"pipe__outer_diameter": "126 mm"})]
    assert loss[0] < loss[1]
