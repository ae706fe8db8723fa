"""Grey exchange against closed forms, and its joints: exactly the exchange of the patches, whatever the emissivity."""

import numpy as np
import pytest

from sim.heat.radiation import gebhart, spread
from sim.section.enclosure import exchange_areas, patches
from sim.section.shapes import Arc, Array

INNER, OUTER = 1.0, 2.5


def annulus(parts: int) -> tuple[Array, np.ndarray]:
    bounds = [Arc(0.0, 0.0, INNER, 0.0, -2 * np.pi), Arc(0.0, 0.0, OUTER, 0.0, 2 * np.pi)]
    patched = patches(bounds, [np.linspace(0.0, 1.0, parts + 1)] * 2)
    return exchange_areas(bounds, patched), patched.wall


@pytest.mark.parametrize(("one", "other"), [(0.9, 0.9), (1.0, 1.0), (0.2, 0.7), (1.0, 0.05)])
def test_grey_cylinders(one: float, other: float) -> None:
    """q = A1 / (1 / e1 + (A1 / A2) (1 / e2 - 1)) sigma (T1^4 - T2^4) between concentric cylinders (Incropera et al.,
    table of two-surface enclosures, from memory)."""
    exchange, wall = annulus(12)
    grey = gebhart(exchange, np.where(wall == 0, one, other))
    exact = 2 * np.pi * INNER / (1 / one + INNER / OUTER * (1 / other - 1))
    assert grey[np.ix_(wall == 0, wall == 1)].sum() == pytest.approx(exact, rel=1e-6)
    assert grey == pytest.approx(grey.T, abs=1e-14)


def flows(joints: tuple, warmth: Array, nodes: int, surfaces: int) -> Array:
    """Heat into each surface (surfaces,) when the patch nodes are left to themselves; warmth: sigma T^4 of surfaces."""
    a, b, area = joints
    matrix = np.zeros((nodes, nodes))
    np.add.at(matrix, (a, a), area)
    np.add.at(matrix, (b, b), area)
    np.add.at(matrix, (a, b), -area)
    np.add.at(matrix, (b, a), -area)
    assert np.linalg.eigvalsh(matrix).min() > -1e-9
    inner = np.arange(surfaces, nodes)
    free = np.linalg.solve(matrix[np.ix_(inner, inner)], -matrix[inner, :surfaces] @ warmth)
    return -matrix[:surfaces] @ np.concatenate([warmth, free])


@pytest.mark.parametrize("emissivity", [0.05, 0.9, 1.0])
def test_joints_exchange_what_the_patches_do(emissivity: float) -> None:
    """Three unequal surfaces a patch: the sum over each is that of Gebhart's exchange between the patches' means."""
    exchange, wall = annulus(9)
    grey = gebhart(exchange, np.full(len(wall), emissivity))
    n = len(grey)
    patch, area = np.repeat(np.arange(n), 3), np.tile([0.2, 0.5, 0.3], n)
    joints, count = spread(grey, patch, np.arange(3 * n), area, 3 * n)
    warmth = np.random.default_rng(2).uniform(1.0, 2.0, 3 * n)
    mean = np.bincount(patch, warmth * area)
    into = np.bincount(patch, flows(joints, warmth, 3 * n + count, 3 * n))
    assert into == pytest.approx(grey @ mean - grey.sum(axis=1) * mean, rel=1e-9)


def test_one_temperature_exchanges_nothing_and_mirrors_take_no_part() -> None:
    exchange, wall = annulus(6)
    grey = gebhart(exchange, np.where(wall == 0, 0.8, 0.0))
    assert np.abs(grey[:, wall == 1]).max() < 1e-15
    grey[np.abs(grey) < 1e-15] = 0.0
    whole = gebhart(exchange, np.full(len(wall), 0.8))
    n = len(whole)
    joints, count = spread(whole, np.arange(n), np.arange(n), np.ones(n), n)
    assert flows(joints, np.full(n, 3.0), n + count, n) == pytest.approx(np.zeros(n), abs=1e-12)
    none, count = spread(np.zeros((n, n)), np.arange(n), np.arange(n), np.ones(n), n)
    assert count == 0
    assert len(none[0]) == 0
