"""The order of accuracy: the manufactured fields themselves, the meshes, and that a wrong mean of k is found out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sim.heat.joints import Faces
from validation.checks.mesh.manufactured import Result, coarse, deep, errors_of, order, rows_of
from validation.checks.mesh.order_fields import Array, Exact, plane, rings, sleeve
from validation.checks.mesh.order_meshes import edges, interface_broken, sites, square
from validation.checks.mesh.order_problems import GOOD, POOR, PROBLEMS, RADII, _square_case, mean
from validation.checks.mesh.order_solve import Errors
from validation.published.rows import Levels

LAYERS = (0.6, 50.0, 0.04)
FIELDS: dict[str, tuple[Exact, float, tuple[float, ...]]] = {
    "plane": (plane(POOR, np.pi), 1.0, (GOOD, POOR)),
    "rings": (rings(RADII, LAYERS), 0.1, LAYERS),
    "sleeve": (sleeve(RADII, 0.04, np.pi / 0.2), 0.1, LAYERS),
}
STEP = 1e-5


@pytest.mark.parametrize("name", FIELDS)
def test_gradient_and_source_are_those_of_the_temperature(name: str) -> None:
    """By central differences: the gradient of T, and the source - k div grad T."""
    exact, size, layers = FIELDS[name]
    p = size * np.random.default_rng(3).uniform(0.25, 0.9, (40, 3))
    for of_layer in layers:
        k = np.full(len(p), of_layer)
        shifts = STEP * size * np.eye(3)
        twice = 2 * STEP * size
        slope = np.stack(
            [(exact.temperature(p + s, k) - exact.temperature(p - s, k)) / twice for s in shifts], axis=-1
        )
        gradient = exact.gradient(p, k)
        assert gradient == pytest.approx(slope, abs=1e-6 * float(np.abs(gradient).max()))
        bent = sum(
            (exact.gradient(p + s, k)[:, i] - exact.gradient(p - s, k)[:, i]) / twice
            for i, s in enumerate(shifts)
        )
        scale = of_layer * float(np.abs(gradient).max()) / size
        assert exact.source(p, k) == pytest.approx(-of_layer * np.asarray(bent), abs=1e-6 * scale)


def _matched(exact: Exact, p: Array, normal: Array, first: float, second: float) -> None:
    one, other = np.full(len(p), first), np.full(len(p), second)
    span = float(np.ptp(exact.temperature(p, other))) + 1e-9
    assert exact.temperature(p, one) == pytest.approx(exact.temperature(p, other), abs=1e-9 * span)
    flux = np.stack([k[:, None] * exact.gradient(p, k) for k in (one, other)])
    through = (flux * normal).sum(axis=-1)
    assert through[0] == pytest.approx(through[1], abs=1e-9 * float(np.abs(flux).max()))


def test_temperature_and_flux_match_on_every_interface() -> None:
    t = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    around = np.stack([np.cos(t), np.sin(t), 0 * t], axis=-1)
    z = np.array([0.0, 0.0, 0.03])
    for name in ("rings", "sleeve"):
        for i in (0, 1):
            _matched(FIELDS[name][0], RADII[i] * around + z, around, LAYERS[i], LAYERS[i + 1])
    s = np.random.default_rng(4).uniform(0, 1, (20, 3))
    x, y, up = np.array([1.0, 0, 0]), np.array([0.5, 1, 1]), np.array([0.0, 0, 1])
    _matched(FIELDS["plane"][0], s * [0, 1, 1] + [0.5, 0, 0], np.tile(x, (20, 1)), GOOD, POOR)
    _matched(FIELDS["plane"][0], s * [1, 1, 0] * y + [0.5, 0, 0.5], np.tile(up, (20, 1)), POOR, 1.0)
    end = np.column_stack([0.11 * s[:, :2], np.full(20, 0.1)])
    _matched(FIELDS["sleeve"][0], end, np.tile(up, (20, 1)), 0.04, 0.2)


def test_heat_is_the_flux_through_the_boundary() -> None:
    """The weighted heat by the midpoint rule, of the flux of the gradient."""
    middle = (np.arange(4000) + 0.5) / 4000
    exact = plane(POOR)
    p = np.stack([np.ones(4000), middle, 0 * middle], axis=-1)
    assert -(POOR * exact.gradient(p, np.full(4000, POOR))[:, 0]).mean() == pytest.approx(
        exact.heat, rel=1e-6
    )
    t = 2 * np.pi * middle
    out = np.stack([np.cos(t), np.sin(t), 0 * t], axis=-1)
    for exact in (rings(RADII, LAYERS), sleeve(RADII, 0.04)):
        flux = -0.04 * (exact.gradient(RADII[2] * out, np.full(4000, 0.04)) * out).sum(axis=1)
        around = 2 * np.pi * RADII[2] * (flux * exact.weight(RADII[2] * out)).mean()
        assert around == pytest.approx(exact.heat, rel=1e-6)


@pytest.mark.parametrize("kind", ["uniform", "graded", "random"])
def test_cells_fill_the_square_and_keep_its_interface(kind: str) -> None:
    mesh = square(_square_case(), sites(kind, 16, seed=2))
    assert mesh.cell_area.sum() == pytest.approx(1.0, rel=1e-9)
    assert mesh.cell_area[mesh.cell_region == 0].sum() == pytest.approx(0.5, rel=1e-9)
    assert interface_broken(mesh) == 0.0
    assert mesh.cover_length.sum() == pytest.approx(4.0, rel=1e-9)
    assert 0.5 in edges(kind, 16)


def _shallow(number: int) -> Result:
    problem = PROBLEMS[number]
    return errors_of(replace(problem, quick=(12, 24, 48), seeds=min(problem.seeds, 4)), full=False)


@pytest.mark.parametrize("number", [0, 1, 2])
def test_second_order_with_the_program_s_own_mean(number: int) -> None:
    assert all(row.passed for row in rows_of(_shallow(number), full=False))


@pytest.mark.parametrize("number", [0, 1, 2])
def test_arithmetic_mean_of_k_is_found_out(number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the arithmetic mean for the series conductance the order falls to one, and every row fails."""

    def arithmetic(self: Faces, conductivity: Array, temperature: Array) -> Array:
        mean = 0.5 * (conductivity[self.cell_a] + conductivity[self.cell_b])
        return self.area / (self.half_a + self.half_b) * mean

    monkeypatch.setattr(Faces, "conductance", arithmetic)
    result = _shallow(number)
    assert order(result.size, result.l2) < 1.35
    assert not any(row.passed for row in rows_of(result, full=False))


def test_mean_of_errors_is_geometric() -> None:
    one, other = Errors(4, 0.5, 1e-2, 1e-1, 1.0), Errors(4, 0.5, 1e-4, 1e-3, 4.0)
    assert mean([one, other]).l2 == pytest.approx(1e-3)
    assert mean([one, other]).heat == pytest.approx(2.0)


def test_picture_has_a_line_for_every_mesh() -> None:
    from validation.published.pictures_order import drawn_order

    size = np.array([0.1, 0.05, 0.025])
    panels = drawn_order([Levels("squares", d, size, size**2, 3 * size**2) for d in (2, 3)]).axes
    assert [axes.get_legend().get_texts()[0].get_text() for axes in panels] == ["squares: 2.00"] * 2


@pytest.mark.slow
@pytest.mark.parametrize("full", [False, True])
def test_second_order_everywhere(full: bool) -> None:
    missed = [(r.check, r.quantity, r.computed) for r in (deep() if full else coarse()) if not r.passed]
    assert not missed
