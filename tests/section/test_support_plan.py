"""Footprints of a support in the plan, and the layers along the pipe."""

from __future__ import annotations

import numpy as np
import pytest
from support_lines import narrowed

from sim.section.extrude import presence, z_layers
from sim.section.mesh import plan_mesh
from sim.section.support_plan import INSERT, LEG, PAD, place_support


@pytest.mark.parametrize("family", ["shoe", "clamp", "hanger", "trunnion", "cradle", "flange"])
def test_parts_have_their_areas(family: str) -> None:
    case = narrowed({"family": family})
    support = case.supports[0]
    mesh = plan_mesh(place_support(case, support), 1.41)
    own = presence(mesh.layout, PAD | LEG | INSERT)[mesh.cell_region]  # type: ignore[arg-type]
    r_o, cover = case.pipe.outer_radius, case.pipe.outer_radius + 0.05
    if support.pad is not None:
        exact = 0.5 * support.pad.arc * ((r_o + support.pad.thickness) ** 2 - r_o**2)
        notch = 0.012 * min(support.pad.thickness, 0.005) if support.pad.arc > 6.28 else 0.0
        assert mesh.cell_area[own == PAD].sum() == pytest.approx(exact - notch, rel=0.01)
    if support.leg is not None:
        inner = r_o + (support.pad.thickness if support.pad is not None else 0.0)
        exact = support.leg.width * (cover - inner)
        assert mesh.cell_area[own == LEG].sum() == pytest.approx(exact, rel=0.02)
    if support.insert is not None:
        exact = 0.5 * support.insert.arc * (cover**2 - r_o**2)
        assert mesh.cell_area[own == INSERT].sum() == pytest.approx(exact, rel=0.01)
    assert mesh.cell_area.sum() == pytest.approx(np.pi * cover**2, rel=2e-3)
    assert mesh.cover_length.sum() == pytest.approx(2 * np.pi * cover, rel=1e-7)


def test_layers_end_where_the_parts_end() -> None:
    case = narrowed({})
    layout = place_support(case, case.supports[0])
    for fineness in (0.7, 1.0, 2.0):
        layers = z_layers(layout, 3.0, 0.5, fineness, (0.2,))
        for z in (0.060, 0.075, 0.2, 3.0):
            assert np.abs(layers.edge - z).min() < 1e-12
        assert (layers.thickness > 0).all()
        leg = layers.thickness[(layers.parts & LEG) > 0].sum()
        assert leg == pytest.approx(0.060)


def test_layers_double_with_the_fineness() -> None:
    case = narrowed({})
    layout = place_support(case, case.supports[0])
    counts = [z_layers(layout, 3.0, 0.5, f).count for f in (2.0, 4.0)]
    assert counts[1] == pytest.approx(2 * counts[0], rel=0.05)
