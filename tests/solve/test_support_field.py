"""The field around a support: closed forms of fins, balances, and what must grow with what."""

from typing import Any

import numpy as np
import pytest
from support_lines import narrowed

from sim.case import Case
from sim.heat.network import network
from sim.heat.support_layers import support_network
from sim.section.extrude import z_layers
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.section.support_plan import place_support
from sim.solve import support_meshes as support_room
from sim.solve.convergence import Banded, banded
from sim.solve.multigrid import TooLarge, refuse_too_large
from sim.solve.quantities import quantities
from sim.solve.section import solve_section
from sim.solve.steady import solve
from sim.solve.support_level import maintained_case, solve_level
from sim.solve.support_meshes import solve_support
from sim.solve.support_quantities import at_middle

COARSE = 0.8


def values(case: Case, fineness: float = COARSE) -> dict[str, float]:
    return solve_level(case, case.supports[0], fineness).values


@pytest.fixture(scope="module")
def shoe() -> dict[str, float]:
    return values(narrowed())


def test_balances_close(shoe: dict[str, float]) -> None:
    assert shoe["closure"] < 1e-6
    assert shoe["far_end"] < 0.005 * shoe["dip"]


@pytest.mark.parametrize(
    "contents",
    [
        {"state": "mixed", "fill": 0.6},
        {"state": "still", "fill": 0.5},
        {"state": "flowing", "fill": 0.5, "temperature": "70 degC", "velocity": "0.1 m/s"},
    ],
)
def test_a_partly_filled_bore_does_not_fall_where_nothing_changes(contents: dict[str, Any]) -> None:
    """The contents' lowest temperature is that of liquid and gas, here as in the section."""
    field_values = values(
        narrowed({"family": "cradle", "insert": {"conductivity": "0.04 W/m/K"}}, contents=contents)
    )
    assert abs(field_values["contents_dip"]) < 1e-4


@pytest.mark.slow
def test_chi_grows_with_the_leg_and_is_less_for_a_cradle(shoe: dict[str, float]) -> None:
    narrow, wide = (values(narrowed({"leg": {"width": f"{w} mm"}}))["chi"] for w in (6, 16))
    cradle = values(narrowed({"family": "cradle"}))["chi"]
    assert 0 < cradle < narrow < shoe["chi"] < wide


@pytest.mark.slow
def test_a_turned_line_has_the_same_numbers() -> None:
    """Support and tracer turned by three hours together."""
    turned = {"pad": {"clock": 9}, "leg": {"clock": 9}}
    tracer = [dict(narrowed_tracer(), clock=6)]
    one, other = values(narrowed(), 1.0), values(narrowed(turned, tracer=tracer), 1.0)
    assert other["chi"] == pytest.approx(one["chi"], rel=0.01)
    assert other["dip"] == pytest.approx(one["dip"], rel=0.01)
    assert (other["wall_min_clock"] - one["wall_min_clock"]) % 12 == pytest.approx(3, abs=0.3)


def narrowed_tracer() -> dict[str, Any]:
    return {"name": "T1", "output": "25 W/m", "shape": "flat", "width": "12 mm", "height": "5 mm"}


@pytest.mark.parametrize("state", ["still", "empty", "flowing"])
def test_every_state_of_the_contents_closes(state: str) -> None:
    given = {"temperature": "60 degC", "velocity": "0.5 m/s"} if state == "flowing" else {}
    field_values = values(narrowed(contents={"state": state, **given}), 0.5)
    assert field_values["closure"] < 1e-6
    assert field_values["chi"] > 0
    assert field_values["dip"] > 0


@pytest.mark.slow
def test_a_self_regulating_tracer_softens_the_dip(shoe: dict[str, float]) -> None:
    falling = {"at": [["0 degC", "35 W/m"], ["120 degC", "5 W/m"]]}
    field_values = values(narrowed(tracer=[narrowed_tracer() | {"clock": 3, "output": falling}]))
    assert field_values["closure"] < 1e-6
    assert 0 < field_values["dip"] < shoe["dip"]


@pytest.mark.slow
def test_three_meshes_agree_within_their_bands() -> None:
    case = narrowed()
    coarse, fine = (solve_support(case, case.supports[0], f).quantities for f in (1.0, 1.41))
    for name in ("chi", "dip", "leg_heat_held"):
        assert abs(coarse[name].value - fine[name].value) < coarse[name].band + fine[name].band


def test_too_large_is_refused_with_what_to_change() -> None:
    with pytest.raises(TooLarge, match="GB allowed; accepted"):
        refuse_too_large(10_000_000, 3e9)


def test_foil_conducts_along_the_pipe_over_its_own_width() -> None:
    """Over the flat tracer's outer arc and the two tangents from its outer corners: k t times their length."""
    case = narrowed(
        {"family": "cradle"},
        foil={"thickness": "0.3 mm", "conductivity": "160 W/m/K"},
        insulation={"fit": "bridged", "layer": [{"conductivity": "0.04 W/m/K", "thickness": "50 mm"}]},
    )
    support = case.supports[0]
    plan = network(case, plan_mesh(place_support(case, support), 2.0))
    along = support_network(plan, z_layers(plan.mesh.layout, 1.0, 0.5, 1.0), support).plan.along
    r, top = case.pipe.outer_radius, case.pipe.outer_radius + 0.005
    width = top * 0.012 / r + 2 * np.sqrt(top**2 - r**2)
    foil = np.isin(along.node, plan.halves.node) & (along.node > plan.cover_node[-1])
    assert along.strength[foil].sum() == pytest.approx(
        160 * 0.3e-3 * width, rel=0.06
    )  # its ends lie in cusps


def test_value_at_the_middle_is_that_of_an_even_parabola() -> None:
    z = np.array([0.003, 0.011, 0.02])
    value = 300.0 - 4.0 * z[:, None] ** 2 * np.array([1e3, 2e3])
    assert at_middle(z, value)[0] == pytest.approx([300.0, 300.0], abs=1e-9)


def test_equivalent_length_of_a_self_regulating_tracer_is_at_the_maintain_temperature() -> None:
    tracer = {"name": "T1", "clock": 3, "shape": "flat", "width": "12 mm", "height": "5 mm"}
    at = [["0 degC", "40 W/m"], ["60 degC", "16 W/m"], ["100 degC", "5 W/m"]]
    field_values = values(narrowed({"family": "cradle"}, tracer=[tracer | {"output": {"at": at}}]), 0.5)
    assert field_values["equivalent_tracer_length"] == pytest.approx(field_values["heat_sink"] / 16.0)


def test_largest_fall_is_more_than_the_means(shoe: dict[str, float]) -> None:
    """At the leg's root the wall falls further than its mean at z = 0, and than its coldest point."""
    assert shoe["fall_max"] > shoe["fall_mean"] + 0.3
    assert shoe["fall_max"] >= shoe["dip"]


def test_bore_of_still_contents_is_held_at_the_maintain_temperature() -> None:
    """The line's own loss at 60 K over the air is that of a pipe whose inside is held: two layers and a film."""
    tracer = {
        "name": "T1",
        "clock": 3,
        "shape": "flat",
        "width": "12 mm",
        "height": "5 mm",
        "output": "25 W/m",
    }
    like_its_surroundings = {"body_conductivity": "0.04 W/m/K", "contact_conductance": "1e6 W/m2/K"}
    case = narrowed(
        {"family": "cradle"}, contents={"state": "still"}, tracer=[tracer | like_its_surroundings]
    )
    field = solve(network(maintained_case(case, 333.15), plan_mesh(place(case), 3.0)))
    loss = quantities(field)["heat_out"]
    r1, r2, r3 = case.pipe.inner_radius, case.pipe.outer_radius, case.pipe.outer_radius + 0.05
    metal = case.pipe.material.conductivity(333.15)
    resistance = (np.log(r2 / r1) / metal + np.log(r3 / r2) / 0.04 + 1 / (10.0 * r3)) / (2 * np.pi)
    assert loss == pytest.approx(60.0 / resistance, rel=3e-3)


def test_bands_are_of_meshes_refined_by_the_root_of_two_and_take_in_the_sections(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    gathered = []

    def noted(case: Case, support: Any, fineness: float, *rest: Any) -> Any:
        gathered.append(fineness)
        return solve_level(case, support, fineness, *rest)

    monkeypatch.setattr(support_room, "solve_level", noted)
    case = narrowed({"family": "cradle"}, limits={})
    section = solve_section(case, fineness=1.0)
    field_values = solve_support(case, case.supports[0], 0.7, section=section).quantities
    assert gathered == pytest.approx([0.35, 0.7 / np.sqrt(2.0), 0.7])
    for path in ("heat_sink", "dip", "fall_mean"):
        coarse, middle, fine = field_values[path].values
        assert field_values[path].band == pytest.approx(
            banded((coarse, middle, fine), np.sqrt(2.0)).band, rel=1e-3
        )
    own, fall = section.quantities["wall.min"], field_values["dip"]
    assert field_values["wall_min"].value == pytest.approx(own.value - fall.value)
    assert field_values["wall_min"].band == pytest.approx(own.band + fall.band)
    assert own.band > 0


@pytest.mark.parametrize("end", ["free", pytest.param("held", marks=pytest.mark.slow)])
def test_the_exposed_legs_film_follows_the_wind_unless_it_is_given(end: str) -> None:
    """A shoe's leg at 0 and 12 m/s; outside the insulation one coefficient, so that only the leg feels the wind."""

    def at(wind: float, **leg: Any) -> dict[str, float]:
        condition = [{"name": "a", "ambient": "0 degC", "wind": f"{wind} m/s"}]
        return values(narrowed({"leg": {"end": end} | leg}, condition=condition), 0.5)

    still, windy = at(0.0), at(12.0)
    assert still["leg_film"] == pytest.approx(10.0, abs=2.5)
    assert windy["leg_film"] > 4 * still["leg_film"]
    assert windy["leg_heat_held"] > (1.5 if end == "free" else 1.1) * still["leg_heat_held"]
    assert windy["dip"] > still["dip"]
    bright = at(0.0, emissivity=0.1)
    assert bright["leg_heat_held"] < still["leg_heat_held"]
    given, blown = (at(wind, film_coefficient="10 W/m2/K") for wind in (0.0, 12.0))
    assert given["leg_film"] == pytest.approx(10.0)
    assert blown["leg_heat_held"] == pytest.approx(given["leg_heat_held"], rel=1e-6)


def test_no_band_is_far_narrower_than_its_fellows() -> None:
    """Three values of the dip agree by chance; the heat sink's are 2 % apart."""

    def made_up(values: tuple[float, float, float], band: float) -> Banded:
        return Banded(values[-1], band, values, 2.0, values[-1], True)

    bands = {
        "dip": made_up((10.0, 10.00001, 10.0), 1e-5),
        "heat_sink": made_up((4.92, 4.98, 5.0), 0.05),
        "chi": made_up((0.0492, 0.0498, 0.05), 0.0005),
        "leg_heat": made_up((0.0, 0.0, 0.0), 1e-5),
        "wall_min": made_up((300.0, 300.0, 300.0), 1e-5),
    }
    computed = support_room.floored(bands)
    assert computed["dip"].band == pytest.approx(0.25 * 0.016 * 10.0)
    assert computed["heat_sink"].band == 0.05
    assert computed["leg_heat"].band == computed["wall_min"].band == 1e-5


def test_largest_fall_is_no_less_than_the_dip_on_a_wall_that_hardly_conducts() -> None:
    """The dip is the surface's, and so is the fall: not that of cell centres half a cell away."""
    resin = {"conductivity": "0.4 W/m/K", "density": "950 kg/m3", "specific_heat": "2000 J/kg/K"}
    pipe = {"outer_diameter": "114.3 mm", "wall": "10 mm", "material": resin}
    field_values = values(narrowed({"family": "trunnion"}, pipe=pipe, contents={"state": "still"}), 0.5)
    assert field_values["fall_max"] >= field_values["dip"]
    assert field_values["dip"] > field_values["fall_mean"]


def test_a_neighbour_at_the_reach_deepens_the_dip_by_up_to_a_tenth() -> None:
    """A row has two of them there and their like beyond; as the wall falls, each drains a little less."""
    alone = values(narrowed(), 0.5)
    at, nearer = (values(narrowed({"spacing": f"{x * alone['reach']} m"}), 0.5)["dip"] for x in (1.0, 0.6))
    assert 0.05 < at / alone["dip"] - 1 < 0.22
    assert nearer > at
