"""What no flow of the contents passes: any exchange in the bore, put into the wall's own network. All invented."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, LIQUID, ROUND, STORE, line, only
from scipy.sparse.linalg import splu

from sim.case import Case
from sim.heat.network import network
from sim.heat.tracer import tracer_watts
from sim.judge.limits import check_limits
from sim.section.shapes import Array
from sim.solve.at_rest import MeshStore
from sim.solve.balance import step_matrix
from sim.solve.bounds import ends, heated_low, insulated, touching, uneven, with_contents
from sim.solve.bracket import bracket
from sim.solve.buoyant import scout
from sim.solve.motion import Work
from sim.solve.quantities import region_mask
from sim.solve.section import solve_section
from sim.solve.states import with_outputs
from sim.solve.steady import solve

PLASTIC = {
    "outer_diameter": "114.3 mm",
    "wall": "10 mm",
    "material": {"conductivity": "0.4 W/m/K", "density": "950 kg/m3", "specific_heat": "1900 J/kg/K"},
}
HALF = FLAT | {"output": "10 W/m"}
FALLING = {"at": [["-10 degC", "40 W/m"], ["30 degC", "0 W/m"]]}
OIL = LIQUID | {
    "conductivity": "0.13 W/m/K",
    "density": "950 kg/m3",
    "specific_heat": "1900 J/kg/K",
    "viscosity": "1 Pa s",
    "expansion": "7e-4 1/K",
}
WET = {"from_clock": 5, "to_clock": 7, "factor": 8}


def pair(one: float, other: float) -> list[dict[str, Any]]:
    return [HALF | {"name": "T1", "clock": one}, HALF | {"name": "T2", "clock": other}]


def falling(one: float, other: float, watts: str) -> list[dict[str, Any]]:
    """A self-regulating tracer beside one of fixed output."""
    return [
        HALF | {"name": "T1", "clock": one, "output": FALLING},
        HALF | {"name": "T2", "clock": other, "output": watts},
    ]


@dataclass(frozen=True)
class Bore:
    """A line with an adiabatic bore of n wall cells beside it and m tracers, as temperatures linear in all heats.

    still (n,) K: without heat; rise (n, m) K per W/m of each tracer, response (n, n) of each cell; beneath: the same
    three of the wall beneath the tracers; angle (n,).
    """

    still: Array
    rise: Array
    response: Array
    beneath: tuple[Array, Array, Array]
    angle: Array


def bore(case: Case) -> Bore:
    bare = with_contents(case, state="empty", film_coefficient=0.0)
    mesh, count = STORE.get(bare, 1.0), len(case.tracers)
    fields = [
        solve(network(with_outputs(bare, w), mesh)) for w in np.vstack([np.zeros(count), np.eye(count)])
    ]
    solution, net = fields[0], fields[0].network
    rise = np.stack([field.temperature - solution.temperature for field in fields[1:]], axis=1)
    wall, inside = region_mask(solution, "wall"), region_mask(solution, "liquid", "gas")
    pair = mesh.face_cells[(wall[mesh.face_cells].any(1)) & (inside[mesh.face_cells].any(1))]
    cell = np.unique(np.where(wall[pair[:, 0]], pair[:, 0], pair[:, 1]))
    node = net.cell_node[cell]
    unit = np.zeros((net.nodes, len(node)))
    unit[node, np.arange(len(node))] = 1.0
    response = splu(step_matrix(net, solution.balance).tocsc()).solve(unit)
    every = (solution.temperature, rise, response)
    below = (net.beneath @ every[0], net.beneath @ rise, net.beneath @ response)
    angle = np.arctan2(*mesh.site[cell].T)
    return Bore(every[0][node], rise[node], response[node], below, angle)


def exchange(angle: Array, size: float, rng: np.random.Generator) -> Array:
    """A random exchange between wall places: arcs that are mixed, streams that carry heat round; rows and columns sum
    to zero, what is off the diagonal is not positive."""
    n = len(angle)
    matrix = np.zeros((n, n))
    for _ in range(rng.integers(1, 4)):
        strength = size * 10 ** rng.uniform(-2, 3)
        if rng.random() < 0.3:
            places = rng.choice(n, rng.integers(2, 6), replace=False)
            for i, j in zip(places, np.roll(places, 1), strict=True):
                matrix[i, i] += strength
                matrix[i, j] -= strength
            continue
        mixed = np.zeros(n, bool)
        for _ in range(rng.integers(1, 3)):
            first, width = rng.uniform(0, 2 * np.pi), rng.uniform(0.05, 4.0)
            mixed |= np.mod(angle - first, 2 * np.pi) < width
        share = mixed / max(mixed.sum(), 1)
        matrix += strength * (np.diag(share) - np.outer(share, share) * mixed.sum() / max(mixed.sum(), 1))
    return matrix


def coldest_and_hottest(case: Case, tries: int) -> tuple[float, float]:
    """Of the bore's wall over random exchanges in the bore, each with the outputs that the walls then have, K."""
    at, rng, found = bore(case), np.random.default_rng(0), []
    size = float(np.trace(np.linalg.inv(at.response))) / len(at.angle)
    for _ in range(tries):
        given = exchange(at.angle, size, rng)
        mixed = np.linalg.inv(np.eye(len(given)) + at.response @ given)
        still, rise, response = at.beneath
        # of the walls beneath the tracers, the temperature without heat, and for each W/m
        alone = still - response @ given @ mixed @ at.still
        each = rise - response @ given @ mixed @ at.rise
        found.append(mixed @ (at.still + at.rise @ met(case, alone, each)))
    return min(float(t.min()) for t in found), max(float(t.max()) for t in found)


def met(case: Case, alone: Array, each: Array) -> Array:
    """Outputs (m,) W/m with which walls at alone + each @ outputs give just these."""
    watts = np.zeros(len(alone))
    for _ in range(300):
        wall = alone + each @ watts
        change = [
            float(tracer_watts(t, case.conditions[0], w)) for t, w in zip(case.tracers, wall, strict=True)
        ] - watts
        if np.abs(change).max() < 1e-7:
            return watts
        watts = watts + 0.2 * change
    raise AssertionError("the outputs do not settle")


@pytest.mark.parametrize(
    "case",
    [
        only(line(FLAT | {"clock": 12.0}, pipe=PLASTIC)),
        only(line(ROUND | {"clock": 3.0}, pipe=PLASTIC)),
        only(line(FLAT)),
        only(line(*pair(4.0, 8.0), pipe=PLASTIC)),
        only(line(*pair(12.0, 6.0), pipe=PLASTIC)),
        only(line(*pair(12.0, 6.0))),
        only(line(*falling(5.0, 7.0, "8 W/m"), pipe=PLASTIC)),
        only(line(*falling(4.5, 7.5, "15 W/m"), pipe=PLASTIC)),
        only(line(*falling(5.0, 7.0, "0 W/m"), pipe=PLASTIC)),
        only(line(HALF, HALF | {"name": "T2", "clock": 12.0, "on": False}, pipe=PLASTIC)),
    ],
    ids=[
        *("plastic 12", "round 3", "steel 5", "plastic 4 and 8", "plastic 12 and 6", "steel 12 and 6"),
        *("one falls", "one falls, farther apart", "one that falls beside one of no heat", "one is off"),
    ],
)
def test_no_exchange_passes_the_ends(case: Case) -> None:
    low, high = coldest_and_hottest(case, 400)
    bare = insulated(case, STORE, 1.0)
    computed = ends(case, bare, STORE, 1.0)
    assert computed["contents.min"] <= low
    assert computed["wall.min"] <= low + 1e-3 * (high - low)
    assert computed["wall.max"] >= high
    assert all(computed[f"tracers.{t.name}.sheath_max"] >= high for t in case.tracers)


def test_an_adiabatic_bore_alone_is_no_bound_for_two_tracers() -> None:
    case = only(line(*pair(12.0, 6.0), pipe=PLASTIC))
    assert coldest_and_hottest(case, 400)[0] < insulated(case, STORE, 1.0).value("contents.min") - 0.5


def test_heated_from_above_the_bracket_takes_in_what_is_colder_than_rest() -> None:
    """A layered flow, found steady: its coldest contents are colder than contents that stand still."""
    case = only(line(FLAT | {"clock": 12.0}, pipe=PLASTIC, contents={"state": "buoyant", "fluid": OIL}))
    store = MeshStore()
    flow, still = (
        solve_section(case, store, 1.0),
        solve_section(with_contents(case, state="still"), store, 1.0),
    )
    assert not flow.bracketed
    assert flow.value("contents.min") < still.value("contents.min") - 0.5
    bracketed = bracket(case, store, 1.0, "a test")
    for path in ("contents.min", "wall.min", "wall.max", "contents.mean", "tracers.T1.sheath_max"):
        assert abs(bracketed.value(path) - flow.value(path)) <= bracketed.quantities[path].band
    assert bracketed.ends["contents.min"] < flow.value("contents.min")
    assert bracketed.ends["wall.max"] > flow.value("wall.max")


@pytest.mark.slow
def test_the_layered_flow_of_a_large_plastic_line_is_inside(monkeypatch: pytest.MonkeyPatch) -> None:
    """DN 225 of water, tracer at the top, above the Rayleigh number that was verified: colder than rest, inside the
    bracket."""
    monkeypatch.setattr("sim.solve.buoyant.VERIFIED", 1e10)
    pipe = PLASTIC | {"outer_diameter": "225 mm", "wall": "13 mm"}
    case = only(line(FLAT | {"clock": 12.0}, pipe=pipe, contents={"state": "buoyant", "fluid": "water"}))
    store = MeshStore()
    moving, state = scout(case, store, 1.5, Work(4e6), print)
    assert moving.rayleigh(state.temperature) > 1e8
    flow = touching(moving.solution(moving.steady(state, 1.0, 1e-6, Work())))
    still = solve_section(with_contents(case, state="still"), store, 1.0)
    assert flow["contents.min"] < still.value("contents.min")
    bracketed = bracket(case, store, 1.0, "a test")
    assert (
        abs(bracketed.value("contents.min") - flow["contents.min"])
        <= bracketed.quantities["contents.min"].band
    )
    assert bracketed.ends["contents.min"] < flow["contents.min"]


@pytest.mark.parametrize(
    ("clocks", "low"),
    [((5.0,), True), ((4.0, 8.0), True), ((3.5,), False), ((6.0, 12.0), False), ((2.0,), False)],
)
def test_stirred_from_below_or_layered(clocks: tuple[float, ...], low: bool) -> None:
    tracers = [FLAT | {"name": f"T{i}", "clock": clock} for i, clock in enumerate(clocks)]
    assert heated_low(only(line(*tracers))) is low


def test_no_end_is_claimed_where_the_argument_does_not_hold() -> None:
    for changes in (
        {"layer__wet": WET},
        {"insulation__fit": "oversize", "insulation__bore": "134 mm", "insulation__void": {"filling": "air"}},
        {"outside": {}, "condition__wind": "9 m/s", "condition__wind_from": 3},
        {"outside": {}, "condition__sky": {"temperature": "-30 degC"}},
        {"outside": {}, "condition__sun": {"irradiance": "800 W/m2", "clock": 12, "absorptivity": 0.6}},
    ):
        case = only(line(FLAT, **changes))
        assert uneven(case)
        assert ends(case, insulated(case, STORE, 1.0), STORE, 1.0) == {}
    less = only(line(FLAT, limits={"contents_min": "5 degC", "output_margin": "10 %"}))
    assert ends(less, insulated(less, STORE, 1.0), STORE, 1.0) == {}


def test_a_pass_on_the_safe_end_says_so_and_clears_it() -> None:
    contents = {"state": "buoyant", "fluid": LIQUID}
    plain = only(line(FLAT, contents=contents))
    end = bracket(plain, STORE, 1.0, "a test").ends["contents.min"] - 273.15
    for below, verdict in ((0.1, "pass"), (-0.01, "too close to call")):
        limits = {"contents_min": f"{end - below:.4f} degC"}
        case = only(line(FLAT, contents=contents, limits=limits))
        (check,) = check_limits(bracket(case, STORE, 1.0, "a test"))
        assert check.verdict == verdict
        assert "not resolved" in check.note
        assert f"no flow takes it past {end:.2f} degC" in check.note or verdict != "pass"
    by_name = {"contents_min": f"{end - 0.5:.4f} degC", "margin": "1 K"}
    (check,) = check_limits(
        bracket(only(line(FLAT, contents=contents, limits=by_name)), STORE, 1.0, "a test")
    )
    assert check.verdict == "too close to call"


def test_the_estimate_is_as_cold_as_the_wall_it_touches() -> None:
    """Not as the bulk: 0.4 K too warm for a light oil."""
    case = only(line(FLAT, contents={"state": "buoyant", "fluid": OIL}))
    bracketed = bracket(case, STORE, 1.0, "a test")
    assert bracketed.value("contents.min") < bracketed.value("contents.mean") - 0.05
    assert bracketed.value("contents.min_clock") == pytest.approx(bracketed.value("wall.min_clock"), abs=0.3)
    assert any("whatever the contents do" in note for note in bracketed.notes)
    assert bracketed.value("contents.min") == pytest.approx(bracketed.value("wall.min"), abs=0.1)
