"""Lumped contents: films, lumps and radiation of a bore."""

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, line, numbers, solution

from sim.heat.contents import Bore

RI = 51.15e-3


def bore(**contents: object) -> Bore:
    field = solution(line(FLAT, **{f"contents__{k}": v for k, v in contents.items()}), 1.0).network.bore
    assert field is not None
    return field


def test_flowing_full_bore_has_no_unknown() -> None:
    joints = bore(state="flowing", temperature="60 degC", film_coefficient="300 W/m2/K")
    assert (joints.liquid, joints.gas, joints.surface) == (-1, -1, -1)
    assert joints.liquid_at == pytest.approx(333.15)
    assert joints.film.sum() == pytest.approx(300.0 * 2 * np.pi * RI, rel=2e-3)


def test_half_full_mixed_bore_has_liquid_gas_and_surface() -> None:
    joints = bore(state="mixed", fill=0.5, film_coefficient="80 W/m2/K")
    nodes = {joints.liquid, joints.gas, joints.surface}
    assert len(nodes) == 3
    assert min(nodes) > joints.face_node.max()
    wet = joints.face_point[:, 1] < 0
    assert joints.film[wet].sum() == pytest.approx(80.0 * np.pi * RI, rel=0.02)
    assert joints.surface_film == pytest.approx(80.0 * 2 * RI, rel=1e-6)
    # radiation: the dry half sees itself and the surface; what the surface takes is at most its own width
    i, j, exchange = joints.radiation
    seen = np.isin(joints.face_node, np.concatenate([i, j]))
    assert not (seen & wet).any()
    assert joints.face_area[seen].sum() > 0.999 * joints.face_area[~wet].sum()
    to_surface = exchange[(i == joints.surface) | (j == joints.surface)].sum()
    assert 0.5 * 2 * RI < to_surface < 2 * RI


def test_an_adiabatic_bore_is_cut_off() -> None:
    joints = bore(state="empty", film_coefficient="0 W/m2/K")
    assert not joints.film.any()
    assert len(joints.radiation[0]) == 0
    assert (joints.liquid, joints.gas) == (-1, -1)
    assert "adiabatic" in joints.source[0]
    result = numbers(line(FLAT, contents__state="empty", contents__film_coefficient="0 W/m2/K"), 1.0)
    assert np.isnan(result["contents.min"])
    assert np.isfinite(result["wall.min"])


def test_empty_bore_ignores_the_fill() -> None:
    a = numbers(line(FLAT, contents__state="empty", contents__fill=0.3), 2.0)
    b = numbers(line(FLAT, contents__state="empty", contents__fill=1.0), 2.0)
    assert a["wall.min"] == pytest.approx(b["wall.min"], abs=0.02)
    assert a["contents.min"] == a["contents.max"]


def test_mixed_contents_take_up_no_net_heat() -> None:
    field = solution(line(ROUND, contents__state="mixed", contents__film_coefficient="60 W/m2/K"))
    bore_now = field.network.bore
    assert bore_now is not None
    wall = field.temperature[bore_now.face_node]
    mean = np.average(wall, weights=bore_now.film)
    assert field.temperature[bore_now.liquid] == pytest.approx(mean, abs=1e-6)


@pytest.mark.parametrize("state", ["mixed", "flowing"])
@pytest.mark.parametrize("fill", [1e-6, 0.001, 0.005, 0.05, 0.95, 0.995, 0.999, 1 - 1e-6])
def test_a_level_near_top_or_bottom_still_radiates_and_closes(state: str, fill: float) -> None:
    given = {"contents__temperature": "60 degC"} if state == "flowing" else {}
    raw = line(
        FLAT, contents__state=state, contents__fill=fill, contents__film_coefficient="50 W/m2/K", **given
    )
    values = numbers(raw, 1.06)
    assert values["closure"] < 1e-8
    assert np.isfinite(values["wall.min"])


def test_a_nearly_full_bore_is_nearly_a_full_one() -> None:
    full, nearly = (numbers(line(FLAT, contents__state="mixed", contents__fill=f), 1.5) for f in (1.0, 0.999))
    assert nearly["liquid.min"] == pytest.approx(full["contents.min"], abs=0.2)


@pytest.mark.parametrize("fill", [0.013, 0.2413, 0.5, 0.77])
@pytest.mark.parametrize("fineness", [1.0, 1.5])
def test_films_act_on_the_true_wetted_and_dry_lengths(fill: float, fineness: float) -> None:
    raw = line(FLAT, contents__state="mixed", contents__fill=fill, contents__film_coefficient="80 W/m2/K")
    field = solution(raw, fineness).network.bore
    assert field is not None
    wet = field.face_point[:, 1] < (2 * fill - 1) * RI
    half = np.arccos(1 - 2 * fill)
    assert field.film[wet].sum() == pytest.approx(80.0 * 2 * RI * half, rel=1e-9)
    assert field.film[~wet].sum() == pytest.approx(5.0 * 2 * RI * (np.pi - half), rel=1e-9)


def test_loss_of_a_part_full_flowing_bore_settles_with_the_mesh() -> None:
    raw = line(
        FLAT,
        contents__state="flowing",
        contents__fill=0.04,
        contents__temperature="60 degC",
        contents__film_coefficient="300 W/m2/K",
        contents__emissivity=0.0,
    )
    loss = [numbers(raw, f)["heat_out"] for f in (1.0, 1.3, 1.5, 2.0)]
    assert max(loss) - min(loss) < 5e-3 * loss[-1]
