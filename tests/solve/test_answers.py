"""What is read off a solved section: extremes, clocks, sensors, surfaces, heat; and the three-mesh result."""

import numpy as np
import pytest
from plain_lines import FLAT, GAS, LIQUID, ROUND, line, mesh, numbers, only, solution

from sim.section.layout import layout_key
from sim.solve.at_rest import MeshStore
from sim.solve.quantities import at_clock, boundary, cover_surface, quantities, region_mask, wall_surface
from sim.solve.section import solve_section
from sim.solve.steady import cell_temperature

SENSORS = [{"name": f"S{c}", "clock": c} for c in (1, 4, 5, 6, 11)]


def test_at_clock_is_linear_and_goes_round() -> None:
    angle, value = np.radians([90.0, 180.0, 270.0]), np.array([1.0, 3.0, 2.0])
    assert at_clock(angle, value, 3.0) == pytest.approx(1.0)
    assert at_clock(angle, value, 4.5) == pytest.approx(2.0)
    assert at_clock(angle, value, 0.0) == pytest.approx(1.5)  # half way from 9 round to 3
    assert at_clock(angle, value, 12.0) == pytest.approx(1.5)


def test_sensors_read_the_wall_beneath_them() -> None:
    field = solution(line(FLAT, sensor=SENSORS))
    result = quantities(field)
    reading = {s["clock"]: result[f"sensors.{s['name']}.reading"] for s in SENSORS}
    assert reading[5] == max(reading.values())
    assert reading[11] == min(reading.values())
    assert reading[4] == pytest.approx(reading[6], abs=0.02)
    assert reading[11] == pytest.approx(result["wall.min"], abs=0.05)
    # the tracer sits on the wall's outside: it reads a little less than the hottest wall
    assert result["wall.max"] - 0.3 < reading[5] <= result["wall.max"] + 1e-9


def test_extremes_lie_where_they_must() -> None:
    values = numbers(line(FLAT))
    assert values["wall.max_clock"] == pytest.approx(5.0, abs=0.25)
    assert values["wall.min_clock"] == pytest.approx(11.0, abs=0.25)
    assert values["contents.min_clock"] == pytest.approx(11.0, abs=0.5)
    assert values["barrier.max_clock"] == pytest.approx(5.0, abs=0.3)
    for group in ("contents", "wall", "barrier"):
        assert values[f"{group}.min"] < values[f"{group}.mean"] < values[f"{group}.max"]
    assert values["wall.max"] < values["tracers.T1.mean"] < values["tracers.T1.sheath_max"] + 1e-9


def test_sheath_is_the_outline_and_not_the_core() -> None:
    """A body that hardly conducts is hottest inside: q'/(4 pi k) above an even outline, 16 K here."""
    field = solution(line(ROUND | {"body_conductivity": "0.1 W/m/K"}))
    body = region_mask(field, "tracer", index=0)
    inside = cell_temperature(field.network, field.temperature)[body]
    assert inside.max() > quantities(field)["tracers.T1.sheath_max"] + 0.25 * 16.0


def test_surfaces_go_once_round_in_order() -> None:
    field = solution(line(ROUND))
    for angle, temperature in (wall_surface(field), cover_surface(field)):
        assert (np.diff(angle) >= 0).all()
        assert angle[0] >= 0
        assert angle[-1] < 2 * np.pi
        assert np.diff(angle).max() < 0.2
        assert temperature.shape == angle.shape


def test_boundary_lies_between_the_cells_it_parts() -> None:
    field = solution(line(FLAT, contents__state="mixed"))
    wall = boundary(field, region_mask(field, "wall"))
    assert wall.length.sum() == pytest.approx(2 * np.pi * (57.15e-3 + 51.15e-3), rel=0.01)
    every = cell_temperature(field.network, field.temperature)
    assert every.min() - 1e-9 <= wall.temperature.min()
    assert wall.temperature.max() <= every.max() + 1e-9


def test_flow_across_the_walls_boundary_is_continuous() -> None:
    """Face values from the two sides differ by the contact's jump only: none where contact is perfect."""
    field = solution(line(FLAT))
    wall, rest = region_mask(field, "wall"), region_mask(field, "layer")
    a, b = boundary(field, wall), boundary(field, rest)
    key = {tuple(np.round(p, 12)): t for p, t in zip(a.point, a.temperature, strict=True)}
    shared = [
        (key[q], t)
        for p, t in zip(b.point, b.temperature, strict=True)
        if (q := tuple(np.round(p, 12))) in key
    ]
    assert len(shared) > 40
    assert np.array(shared)[:, 0] == pytest.approx(np.array(shared)[:, 1], abs=1e-6)


def test_heat_is_counted_once() -> None:
    values = numbers(line(FLAT, ROUND | {"name": "T2", "clock": 9.0, "output": "7 W/m"}))
    assert values["heat_in"] == pytest.approx(27.0)
    assert values["heat_out"] == pytest.approx(27.0, rel=1e-8)
    assert values["from_contents"] == 0.0
    # through the given film: heat = h pi D (mean surface - ambient)
    surface = 10.0 * 2 * np.pi * 107.15e-3 * (values["barrier.mean"] - 263.15)
    assert surface == pytest.approx(27.0, rel=1e-3)


def test_part_full_bores_report_liquid_and_gas() -> None:
    for state in ("still", "mixed"):
        values = numbers(line(FLAT, contents__state=state, contents__fill=0.5))
        assert values["contents.min"] == pytest.approx(min(values["liquid.min"], values["gas.min"]), abs=1e-9)
        assert values["contents.max"] == pytest.approx(max(values["liquid.max"], values["gas.max"]), abs=1e-9)
        assert values["liquid.min"] > values["gas.min"]  # the tracer is at 5 o'clock
    assert "liquid.min" not in numbers(line(FLAT))


def test_the_liquid_reaches_up_to_the_level() -> None:
    """Where wall, liquid and gas meet they are of one temperature, on a coarse mesh as on a fine one."""
    stainless = {"outer_diameter": "168.3 mm", "wall": "3.4 mm", "material": "stainless steel"}
    raw = line(FLAT, pipe=stainless, contents__fill=0.25)
    coarse, fine = numbers(raw, 1.0), numbers(raw, 3.0)
    assert coarse["liquid.min_clock"] == fine["liquid.min_clock"] == pytest.approx(8.0)
    over_wall = fine["liquid.min"] - fine["wall.min"]
    assert coarse["liquid.min"] - coarse["wall.min"] == pytest.approx(over_wall, abs=0.05)
    assert fine["gas.min"] < fine["liquid.min"] < fine["gas.max"]


def test_extremes_at_the_level_settle_in_a_wall_that_conducts_badly() -> None:
    """Plastic, heated above the level: the liquid is hottest where its surface meets the wall."""
    plastic = {"outer_diameter": "110 mm", "wall": "6 mm", "material": "PP"}
    raw = line(ROUND | {"clock": 1.5}, contents__fill=0.6, pipe=plastic)
    usual, fine = numbers(raw, 2.0), numbers(raw, 4.0)
    for path in ("liquid.max", "liquid.min", "gas.min"):
        assert usual[path] == pytest.approx(fine[path], abs=0.25), path


def test_three_meshes_get_finer_and_the_last_is_the_value() -> None:
    seen: list[str] = []
    result = solve_section(only(line(FLAT)), MeshStore(), 2.0, seen.append)
    assert result.cells == tuple(sorted(result.cells))
    assert result.fineness == pytest.approx((1.0, np.sqrt(2.0), 2.0))
    assert len(seen) == 3
    plain = quantities(result.solution)
    assert result.value("wall.min") == plain["wall.min"]
    assert set(plain) == set(result.quantities)
    for path, banded in result.quantities.items():
        assert banded.value == banded.values[-1] or np.isnan(banded.value)
        assert banded.band >= 0 or np.isnan(banded.value), path


def test_clock_bands_go_the_short_way_round() -> None:
    result = solve_section(only(line(FLAT | {"clock": 6.0})), MeshStore(), 1.5)
    assert result.quantities["wall.min_clock"].band < 1.0


def test_conditions_of_one_geometry_share_their_meshes() -> None:
    store = MeshStore()
    warm = line(FLAT, condition__ambient="20 degC")
    assert store.get(only(line(FLAT)), 1.0) is store.get(only(warm), 1.0)
    assert store.get(only(line(FLAT)), 1.0) is not store.get(only(line(FLAT | {"clock": 6.0})), 1.0)
    assert store.get(only(line(FLAT)), 1.0) is not store.get(only(line(FLAT, contents__fill=0.5)), 1.0)
    assert store.seconds > 0


def test_every_change_of_geometry_has_its_own_mesh() -> None:
    """Whatever moves an interface must not be served from the store."""
    base = line(ROUND | {"contact_width": "2 mm"})
    changed = [
        line(ROUND | {"contact_width": "2.5 mm"}),
        line(ROUND | {"contact_width": "2 mm", "clock": 5.1}),
        line(ROUND | {"contact_width": "2 mm", "diameter": "9 mm"}),
        line(ROUND | {"standoff": "1 mm", "contact_width": "2 mm"}),
        line(ROUND | {"contact_width": "2 mm"}, insulation__fit="bridged"),
        line(ROUND | {"contact_width": "2 mm"}, layer__thickness="49 mm"),
        line(ROUND | {"contact_width": "2 mm"}, pipe__wall="5 mm"),
        line(ROUND | {"contact_width": "2 mm"}, foil={"thickness": "0.1 mm"}),
        line(ROUND | {"contact_width": "2 mm"}, contents__fill=0.9),
        line(
            ROUND | {"contact_width": "2 mm"}, layer__wet={"from_clock": 3.0, "to_clock": 4.0, "factor": 2.0}
        ),
    ]
    keys = [layout_key(only(raw)) for raw in (base, *changed)]
    assert len(set(keys)) == len(keys)
    assert layout_key(only(line(ROUND | {"contact_width": "2 mm", "output": "3 W/m"}))) == keys[0]


def test_fineness_of_the_store_is_part_of_the_key() -> None:
    assert mesh(line(FLAT), 1.0).cells < mesh(line(FLAT), 1.5).cells


def test_mean_of_a_partly_filled_bore_is_by_area() -> None:
    """Liquid and gas of one temperature each, weighted by the segments of a circle filled to three tenths."""
    values = numbers(line(FLAT, contents={"state": "mixed", "fluid": LIQUID, "gas": GAS, "fill": 0.3}))
    half = np.arccos(1 - 2 * 0.3)
    share = (half - np.sin(half) * np.cos(half)) / np.pi
    assert abs(values["liquid.mean"] - values["gas.mean"]) > 0.5
    mean = share * values["liquid.mean"] + (1 - share) * values["gas.mean"]
    assert values["contents.mean"] == pytest.approx(
        mean, abs=0.02 * abs(values["liquid.mean"] - values["gas.mean"])
    )
