"""Footprints of a support in the plan, and the layers along the pipe."""

import numpy as np
import pytest
from support_lines import narrowed

from sim.section.extrude import z_layers
from sim.section.support_plan import LEG, place_support


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
