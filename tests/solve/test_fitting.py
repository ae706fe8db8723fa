"""The field around a fitting: balance, closed forms, what must make no difference, and an independent solver."""

import tracemalloc
from functools import cache
from typing import Any

import numpy as np
import pytest
from fitting_lines import across, along, narrowed
from support_lines import narrowed as supported

from sim.case import Case
from sim.heat.fitting_layers import Geometry
from sim.heat.network import Network, network
from sim.judge.support import refuse_large
from sim.section.body_measures import measures
from sim.section.fitting_cells import fitting_cells
from sim.section.fitting_faces import fitting_faces
from sim.section.fitting_plan import fitting_layers, place_fitting
from sim.section.mesh import plan_mesh
from sim.solve import support_level
from sim.solve.balance import evaluate
from sim.solve.convergence import banded
from sim.solve.fitting_measures import OnMesh, area_share, on_mesh, with_area_errors
from sim.solve.interruption import IN_SPACE, around, with_extra
from sim.solve.multigrid import TooLarge, memory_needed, refuse_too_large
from sim.solve.support_level import Level, solve_level

COARSE = 0.85
TRACER = {"name": "T1", "clock": 3, "shape": "flat", "width": "11 mm", "height": "5 mm", "output": "40 W/m"}


@cache
def flange(diameter: float, cover: str = "bare") -> Level:
    case = narrowed(along(diameter, 45, cover=cover))
    return solve_level(case, case.fittings[0], COARSE)


def test_the_heat_closes() -> None:
    """What leaves outside comes from the contents, to the solver's tolerance."""
    assert flange(230).values["closure"] < 1e-6
    assert flange(170, "40 mm").values["closure"] < 1e-6


@pytest.mark.slow
def test_a_covered_ring_is_todays_flange() -> None:
    """A body along under the line's own cover drains what a support's ring does, but for the ring's contact."""
    ring = {"family": "flange", "pad": {"thickness": "20 mm", "length": "90 mm"}}
    case = supported(ring, tracer=[])
    of_support = solve_level(case, case.supports[0], 1.2).values["chi"]
    own = narrowed(along(154.3, 45, cover="10 mm"))
    of_body = solve_level(own, own.fittings[0], 1.2).values["chi"]
    assert abs(of_body / of_support - 1) < 0.02


def test_a_body_of_the_lines_own_insulation_changes_nothing() -> None:
    """A body across of the line's insulation, within it, drains nothing: the cells in space are the line's own."""
    own: dict[str, Any] = {"from": "57 mm", "material": {"conductivity": "0.04 W/m/K"}}
    case = narrowed(across(60, 100, **own))
    assert abs(solve_level(case, case.fittings[0], COARSE).values["heat_sink"]) < 0.05


def test_chi_grows_with_what_is_bare_and_falls_with_cover() -> None:
    """A wider bare flange drains more; covering it drains less; and that is what covering is said to save."""
    bare, wide, covered = flange(230), flange(260), flange(230, "50 mm")
    assert wide.values["chi"] > bare.values["chi"] > covered.values["chi"] > 0.0
    saves = bare.values["heat_sink"] - covered.values["heat_sink"]
    assert abs(bare.values["covering_saves"] / saves - 1) < 1e-3
    assert "covering_saves" not in covered.values


def test_a_thick_bare_flange_loses_by_its_area() -> None:
    """Of copper, with contents at 60 degC, a bare body is at the bore's own temperature less the bore's film: what
    it loses is its outer area times the film there. Areas are of the cells, 0.5 % of the true ones."""
    case = narrowed(along(230, 45, material="copper"))
    level = solve_level(case, case.fittings[0], COARSE)
    area = np.pi * 0.230 * 0.090 + 2 * np.pi * (0.115**2 - 0.10715**2)
    low, high = (10.0 * area * (t - 273.15) for t in (330.0, 333.15))
    assert low * 0.9 < level.values["bare_loss"] < high


@pytest.mark.slow
def test_a_bonnet_closes_and_drains_as_a_fin() -> None:
    """A bare rod of copper out of a covered body along: a fin with a free end, within what its foot's fall is worth."""
    body = along(180, 90, cover="40 mm", material="copper")
    rod = across(40, 300, material="copper", cover="bare")
    case, without = narrowed(body, rod), narrowed(body)
    level = solve_level(case, case.fittings[0], 1.2).values
    base = solve_level(without, without.fittings[0], 1.2).values
    assert level["closure"] < 1e-6
    k, h, d, length = 398.0, 10.0, 0.040, 0.300 - 0.130
    m = np.sqrt(4 * h / (k * d))
    tip = h / (m * k)
    fin = k * np.pi * d**2 / 4 * m * (np.sinh(m * length) + tip * np.cosh(m * length))
    fin /= np.cosh(m * length) + tip * np.sinh(m * length)
    assert 0.85 < (level["chi"] - base["chi"]) / fin < 1.02


def stretch(case: Case) -> tuple[Network, Network]:
    """The section's network and the one around its fitting, on coarse meshes."""
    layout = place_fitting(case, case.fittings[0])
    mesh = plan_mesh(layout, COARSE)
    layers = fitting_layers(layout, layout.around.half_length + 0.3, 0.5, COARSE)
    plan = network(case, mesh)
    return plan, around(mesh, layers, case.fittings[0], True).network(plan)


def measured(fineness: float, *bodies: dict[str, Any]) -> tuple[OnMesh, ...]:
    """How large bodies are on a mesh, without a field."""
    case = narrowed(*bodies)
    layout = place_fitting(case, case.fittings[0])
    mesh = plan_mesh(layout, fineness)
    layers = fitting_layers(layout, layout.around.half_length + 0.3, 0.5, fineness)
    cells, sites = fitting_cells(mesh, layers, True)
    return on_mesh(Geometry(mesh, layers, cells, fitting_faces(mesh, cells, sites, True), measures(layout)))


def test_area_and_volume_of_a_flange_are_near_the_true_ones() -> None:
    """Closed forms of a flange about a pipe 114.3 mm wide with a bore of 102.26 mm."""
    outer, wall = 0.05715, 0.05113
    (ring,) = measured(COARSE, along(230, 45, cover="bare"))
    area = 2 * np.pi * 0.115 * 0.090 + 2 * np.pi * (0.115**2 - outer**2)
    assert abs(ring.true.area / area - 1) < 1e-3
    assert abs(ring.true.volume / (np.pi * (0.115**2 - wall**2) * 0.090) - 1) < 2e-3
    assert abs(ring.volume_error) < 0.01


@pytest.mark.slow
def test_areas_and_volumes_of_bodies_come_near_the_true_ones_with_the_mesh() -> None:
    """A rod across that stands out of a body along, but for its foot: within 1 %, on a coarse mesh 3 %."""
    bodies = along(180, 90, cover="40 mm"), across(90, 250, cover="bare")
    coarse, fine = measured(COARSE, *bodies), measured(1.7, *bodies)
    u = (np.arange(4000) + 0.5) / 4000 * np.pi / 2
    foot = 0.045 * 2 * np.pi * np.mean(np.sqrt(0.090**2 - (0.045 * np.sin(u)) ** 2))
    rod = 2 * np.pi * 0.045 * 0.250 - foot + np.pi * 0.045**2
    assert abs(fine[1].true.area / rod - 1) < 1e-3
    rough, smooth = (max(abs(body.area_error) for body in bodies_there) for bodies_there in (coarse, fine))
    assert rough < 0.03
    assert smooth < min(0.6 * rough, 0.01)
    assert all(abs(body.volume_error) < 0.005 for body in fine)


@pytest.mark.parametrize("off", [-0.9, 0.0, 0.9])
def test_bare_metal_has_a_film_on_its_true_area(off: float) -> None:
    """A flange whose rim lies in the outside of the insulation, or so near that no mesh resolves it: the film is on its
    rim and on both its faces, and a bare rod's on its side and its end."""
    radius = 0.10715 + 1e-3 * off
    rod = across(40, 300, cover="bare")
    case = narrowed(along(2e3 * radius, 45, cover="bare"), rod)
    _, net = stretch(case)
    area = [2.0 * float(net.outlets[f"fitting bare body {n}"].area.sum()) for n in (1, 2)]
    foot = np.pi * 0.020**2
    face = 2 * np.pi * radius * 0.090 - foot + 2 * np.pi * max(radius**2 - 0.10715**2, 0.0)
    assert abs(area[0] / face - 1) < 0.01
    assert abs(area[1] / (2 * np.pi * 0.020 * (0.300 - radius) + foot) - 1) < 0.02


def test_looped_tracer_gives_all_of_its_heat_to_the_bodies_it_lies_on() -> None:
    """A metre more of 40 W/m is 40 W more, half of it in the half that is modelled."""
    _, net = stretch(narrowed(along(180, 45, cover="40 mm"), tracer=[TRACER]))
    at = np.full(net.nodes, 300.0)
    given = [float(evaluate(n, at, n.law()).source.sum()) for n in (net, with_extra(net, 1.0))]
    assert abs(given[1] - given[0] - 20.0) < 1e-9


def test_a_hollow_of_contents_has_the_bores_film_on_its_surface() -> None:
    """A hollow 40 mm wide from the bore to 200 mm: its side and its end, of the half that is modelled."""
    rod = across(60, 250, cover="bare", hollow={"diameter": "40 mm", "to": "200 mm"})
    case = narrowed(along(180, 90, cover="40 mm"), rod)
    plan, net = stretch(case)
    assert plan.bore is not None
    film = float(plan.bore.film.sum() / plan.bore.face_area.sum())
    linked = sum(part["fitting contents"].strength.sum() for part in (net.joints.groups, net.outlets))
    area = np.pi * 0.020 * (0.200 - 0.05113) + 0.5 * np.pi * 0.020**2
    assert abs(linked / (film * area) - 1) < 0.05


def test_a_bodys_circle_in_the_insulation_is_followed_by_faces() -> None:
    """As long as the circle, on a mesh whose rows are split on one side of it by a tracer, and not in steps."""
    radius = 0.08573
    case = narrowed(along(2e3 * radius, 100, cover="50 mm"), tracer=[TRACER | {"clock": 5}])
    mesh = plan_mesh(place_fitting(case, case.fittings[0]), 1.7)
    beyond = np.hypot(*mesh.site.T)[mesh.face_cells] > radius
    length = float(mesh.face_length[beyond[:, 0] != beyond[:, 1]].sum())
    assert abs(length / (2 * np.pi * radius) - 1) < 0.005


def test_area_errors_are_in_the_bands() -> None:
    """The share of the value, to what rests on heat and to bodies, and to nothing else."""
    (ring,) = measured(COARSE, along(170, 45, cover="40 mm"))
    share = area_share((ring,))
    assert share > 0.0
    assert abs(share / abs(ring.area_error) - 1) < 1e-9
    assert area_share(measured(COARSE, along(230, 200, cover="bare"))) < 1e-3
    one = banded((1.04, 1.02, 1.01), np.sqrt(2))
    paths = {"chi": one, "bodies.1.min": one, "with_allowance.bodies.1.min": one, "closure": one}
    wider = with_area_errors(paths, (ring,), ("chi",))
    added = {path: q.band - one.band for path, q in wider.items()}
    assert added["closure"] == 0.0
    assert all(abs(added[p] - share * 1.01) < 1e-12 for p in paths if p != "closure")


def test_a_disc_on_a_rod_across_has_sites_on_both_sides_of_its_ends() -> None:
    """A bonnet's flange, wider than the neck below it and above it, one end of it within a cover: area and volume."""
    bodies = along(170, 110, cover="40 mm"), across(100, 250, cover="bare")
    disc = across(160, 145, cover="bare") | {"from": "114 mm"}
    level = measured(COARSE, *bodies, disc)[2]
    assert abs(level.area_error) < 0.01
    assert abs(level.volume_error) < 0.01


ABOVE = {"absorptivity": 0.7, "irradiance": "800 W/m2", "clock": 12}
WEATHER: dict[str, dict[str, Any]] = {
    "still": {},
    "wind": {"wind": "5 m/s"},
    "clear sky": {"sky": {"temperature": "-30 degC"}},
    "sun": {"sun": ABOVE},
}


@pytest.mark.slow
def test_wind_and_a_clear_sky_take_more_from_bare_metal_and_the_sun_gives_back_what_it_meets() -> None:
    """The film is of the weather. A cover takes most of all of that away. What metal at one temperature loses less in
    the sun is what it absorbs: absorptivity, irradiance and the area that the sun sees. It grazes the body's ends, of
    which a rim stands in the open."""

    def solved(cover: str, weather: str, diameter: float = 230) -> Level:
        condition = [{"name": "a", "ambient": "0 degC"} | WEATHER[weather]]
        case = narrowed(along(diameter, 45, cover=cover), outside={}, condition=condition)
        return solve_level(case, case.fittings[0], COARSE)

    lit = solved("bare", "sun").alone.network
    bare, covered = (
        {weather: solved(cover, weather).values for weather in WEATHER} for cover in ("bare", "50 mm")
    )
    for chi in ({w: v["chi"] for w, v in of.items()} for of in (bare, covered)):
        assert min(chi["wind"], chi["clear sky"]) > chi["still"] > chi["sun"] > 0.0
    for weather in ("wind", "clear sky", "sun"):
        moved = [abs(of[weather]["chi"] - of["still"]["chi"]) for of in (bare, covered)]
        assert moved[0] > 2 * moved[1]
    seen = 0.7 * 800.0 * 0.090  # W for each metre of diameter
    films = [film for name, film in lit.outlets.items() if name.startswith("fitting bare")]
    assert 2 * sum(film.absorbed(lit.case) for film in films) == pytest.approx(seen * 0.230, rel=0.01)
    assert bare["still"]["bare_loss"] - bare["sun"]["bare_loss"] < seen * 0.230
    flush = {w: solved("bare", w, 205).values["bare_loss"] for w in ("still", "sun")}
    assert 0.9 < (flush["still"] - flush["sun"]) / (seen * 0.205) < 1.02  # its ends lie in the insulation


@pytest.mark.slow
@pytest.mark.parametrize("fineness", [COARSE, 1.2])
def test_the_estimate_of_memory_is_no_less_than_what_a_fitting_takes(fineness: float) -> None:
    case = narrowed(along(180, 60, cover="40 mm"), across(60, 200), contents={"state": "still"})
    tracemalloc.start()
    try:
        level = solve_level(case, case.fittings[0], fineness)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    need = memory_needed(level.layers.count * level.section.network.nodes, in_space=True)
    assert 0.5 < peak / (IN_SPACE * need) < 1.0


def test_a_fitting_that_is_too_large_is_refused_before_it_is_built(monkeypatch: pytest.MonkeyPatch) -> None:
    """Between what a support of as many unknowns would need and what a fitting does; nothing is meshed in space."""
    case = narrowed(along(230, 45))
    counted: list[int] = []

    def counting(nodes: int, limit: float, *given: Any) -> None:
        counted.append(nodes)
        refuse_too_large(nodes, limit, *given)

    monkeypatch.setattr(support_level, "refuse_too_large", counting)
    refuse_large(case, 0.5, 1e12)
    between = 0.5 * (memory_needed(counted[0]) + memory_needed(counted[0], in_space=True))
    monkeypatch.setattr(support_level, "around", None)
    with pytest.raises(TooLarge, match=r"around V1 needs about .* \(--memory\)"):
        refuse_large(case, 0.5, between)
    refuse_large(case, 0.5, 1.01 * memory_needed(counted[0], in_space=True))
    assert len(set(counted)) == 1
