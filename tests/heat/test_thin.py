"""Layers and gaps thinner than the mesh: what is put back on faces, against closed forms and against what is meshed."""

import pytest
from plain_lines import FLAT, STORE, line, only

from sim.case import parse_case
from sim.heat.thin import left_out, lost_layers
from sim.judge.check import check
from sim.judge.limits import check_limits
from sim.solve.section import solve_section
from validation.checks.conduction.fourier import multilayer_cylinder

FLOW = {
    "contents__state": "flowing",
    "contents__temperature": "60 degC",
    "contents__film_coefficient": "200 W/m2/K",
}


def layers(*rows: tuple[float, float]) -> dict:
    """Insulation of layers (mm, W/m/K)."""
    made = [{"thickness": f"{mm} mm", "conductivity": f"{k} W/m/K"} for mm, k in rows]
    return {"fit": "snug", "layer": made}


@pytest.mark.parametrize("own", [0.0005, 160.0])
@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_lost_layer_among_concentric_ones(own: float, place: int) -> None:
    """Wherever it lies, resistances in series: 0.05 mm that resists as 4 mm of the rest, or not at all."""
    rows = [(25.0, 0.04), (25.0, 0.04)]
    rows.insert(place, (0.05, own))
    raw = line(insulation=layers(*rows), **FLOW)
    result = solve_section(only(raw), STORE, 1.5)
    assert lost_layers(result.solution.network.mesh) == [place]
    radii = [51.15e-3, 57.15e-3]
    for mm, _ in rows:
        radii.append(radii[-1] + mm * 1e-3)
    loss, _ = multilayer_cylinder(radii, [50.0, *(k for _, k in rows)], 200.0, 10.0, 60.0, -10.0)
    assert result.value("heat_out") == pytest.approx(loss, rel=3e-3)
    assert any("thinner than the mesh" in note for note in result.solution.network.notes)


@pytest.mark.parametrize("outermost", [False, True])
def test_a_lost_sheet_of_metal_spreads_as_a_meshed_one_of_equal_conductance(outermost: bool) -> None:
    """0.05 mm of 160 W/m/K as a thicker one of as many W/K along; without it the sheath would be 7 K hotter."""

    def field(mm: float, k: float) -> dict[str, float]:
        rows = [(5.5, 0.04), (40.0, 0.04)]
        rows.insert(2 if outermost else 1, (mm, k))
        result = solve_section(only(line(FLAT | {"height": "5 mm"}, insulation=layers(*rows))), STORE, 3.0)
        assert (len(lost_layers(result.solution.network.mesh)) == 1) == (mm < 0.1)
        return {p: q.value for p, q in result.quantities.items()}

    meshed = 0.6 if outermost else 0.35
    thin, thick, none = field(0.05, 160.0), field(meshed, 8.0 / meshed), field(0.05, 0.04)
    for path in ("wall.min", "tracers.T1.sheath_max", "barrier.max"):
        assert abs(thin[path] - thick[path]) < 0.15 * abs(none[path] - thick[path]) + 0.02


def test_a_lost_gap_is_its_air() -> None:
    """0.01 mm of air beneath a flat tracer, as a contact of k / 0.01 mm; the stated contact plays no part."""
    void = {"conductivity": "0.025 W/m/K"}
    lifted = line(FLAT | {"standoff": "0.01 mm"}, insulation__void=void)
    touching = line(FLAT | {"contact_conductance": "2500 W/m2/K"})
    gap, contact = (solve_section(only(raw), STORE, 1.5) for raw in (lifted, touching))
    assert any("beneath T1" in note for note in gap.solution.network.notes)
    for path in ("wall.min", "tracers.T1.sheath_max"):
        assert gap.value(path) == pytest.approx(contact.value(path), abs=0.05)


def test_between_put_back_and_meshed_nothing_jumps() -> None:
    """Thickness alone varies across the bound at which a layer becomes a region: every step moves the same way."""
    gathered = []
    for mm in (0.2, 0.3, 0.5, 1.0):
        raw = line(FLAT, insulation=layers((25.0, 0.04), (mm, 0.004), (25.0, 0.04)))
        gathered.append(solve_section(only(raw), STORE, 3.0).value("wall.min"))
    slope = [(b - a) / step for a, b, step in zip(gathered, gathered[1:], (0.1, 0.2, 0.5), strict=False)]
    assert slope == pytest.approx([slope[0]] * 3, rel=0.03)


@pytest.mark.parametrize(
    ("changes", "part"),
    [
        ({"insulation": layers((0.05, 160.0), (50.0, 0.04))}, "layer 1"),  # the tracer stands through it
        ({"insulation": layers((25.0, 0.04), (0.05, 160.0), (0.04, 0.01), (25.0, 0.04))}, "layer 2"),
    ],
)
def test_what_cannot_be_put_back_is_no_pass(changes: dict, part: str) -> None:
    raw = line(FLAT, limits={"wall_min": "-9 degC"}, **changes)
    result = solve_section(only(raw), STORE, 1.0)
    assert part in left_out(result.case, result.solution.network.mesh)
    (checks,) = check_limits(result)
    assert checks.verdict == "too close to call"
    assert "left out" in checks.note


def test_plain_sections_leave_nothing_out() -> None:
    for raw in (line(FLAT), line(FLAT | {"standoff": "2 mm"}), line(FLAT, insulation__fit="bridged")):
        result = solve_section(only(raw), STORE, 1.0)
        assert left_out(result.case, result.solution.network.mesh) == ""


@pytest.mark.slow
def test_no_pass_at_a_support_that_crosses_a_lost_layer() -> None:
    raw = line(
        FLAT | {"clock": 2.0},
        limits={"wall_min": "-9 degC"},
        insulation=layers((25.0, 0.04), (0.05, 160.0), (25.0, 0.04)),
    )
    raw |= {"support": [{"name": "S1", "family": "shoe"}]}
    answer = check(parse_case(raw), fineness=1.8)
    assert answer.conditions[0].verdict == "pass"
    assert answer.supports[0].verdict == "too close to call"
