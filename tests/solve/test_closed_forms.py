"""Whole sections against closed forms, and the order of the mesh."""

import numpy as np
import pytest
from plain_lines import layout, line, numbers

from validation.checks.conduction.fourier import (
    TwoLayerAnnulus,
    eccentric_shape_factor,
    multilayer_cylinder,
    thin_wall_fin,
)

AMBIENT = 263.15
STAINLESS = {"conductivity": "15 W/m/K", "density": "7900 kg/m3", "specific_heat": "500 J/kg/K"}
PERFECT = {"conductivity": "9000 W/m/K", "density": "7900 kg/m3", "specific_heat": "500 J/kg/K"}
TWO_LAYERS = line(
    contents__state="flowing",
    contents__temperature="60 degC",
    contents__film_coefficient="200 W/m2/K",
    insulation={
        "fit": "snug",
        "layer": [
            {"thickness": "30 mm", "conductivity": "0.05 W/m/K"},
            {"thickness": "30 mm", "conductivity": "0.035 W/m/K"},
        ],
    },
)


def test_multilayer_cylinder_at_second_order() -> None:
    """Loss and wall against resistances in series; the error falls by 4 when the cells are halved."""
    radii = [51.15e-3, 57.15e-3, 87.15e-3, 117.15e-3]
    loss, at = multilayer_cylinder(radii, [50.0, 0.05, 0.035], 200.0, 10.0, 60.0, -10.0)
    values = [numbers(TWO_LAYERS, f) for f in (1.5, 3.0, 6.0)]
    error = [abs(q["heat_out"] / loss - 1) for q in values]
    assert error[1] < 6e-4
    assert np.log2(error[0] / error[1]) == pytest.approx(2.0, abs=0.15)
    assert np.log2(error[1] / error[2]) == pytest.approx(2.0, abs=0.15)
    span = 70.0
    assert values[1]["wall.max"] - 273.15 == pytest.approx(at[0], abs=1e-5 * span)
    assert values[1]["wall.min"] - 273.15 == pytest.approx(at[1], abs=1e-5 * span)
    assert values[1]["barrier.mean"] - 273.15 == pytest.approx(at[3], abs=5e-5 * span)
    assert values[1]["barrier.max"] - values[1]["barrier.min"] < 1e-9


HEATED = {
    "name": "T1",
    "clock": 6.0,
    "shape": "flat",
    "width": "12 mm",
    "height": "0.1 mm",
    "output": "20 W/m",
    "body_conductivity": "0.04 W/m/K",
    "contact_conductance": "1e7 W/m2/K",
}


@pytest.mark.parametrize(
    ("inside", "contents", "closed"),
    [
        ("empty", {"state": "empty", "film_coefficient": "0 W/m2/K"}, {}),
        ("mixed", {"state": "mixed", "film_coefficient": "80 W/m2/K"}, {"film_inside": 80.0}),
        ("still", {"state": "still"}, {"k_contents": 0.6}),
    ],
)
@pytest.mark.parametrize("barrier", [False, True])
def test_heated_arc_on_a_pipe_under_insulation(
    inside: str, contents: dict, closed: dict, barrier: bool
) -> None:
    """A tracer of no height and of the insulation's conductivity is an arc of heat.

    Its heat sits half its height off the pipe, which takes q' ln(r_s/r_2)/(2 pi k) from every mean within.
    """
    changes = {f"contents__{k}": v for k, v in contents.items()} | {"pipe__material": STAINLESS}
    if barrier:
        changes["barrier"] = {"thickness": "1 mm", "conductivity": "100 W/m/K", "emissivity": 0.3}
        closed = closed | {"sheet": 0.1}
    exact = TwoLayerAnnulus(51.15e-3, 57.15e-3, 107.15e-3, 15.0, 0.04, 10.0, 20.0, 12e-3, inside, **closed)
    shift = 20.0 * np.log(57.20 / 57.15) / (2 * np.pi * 0.04)
    values = numbers(line(HEATED, **changes), 2.0)
    around = np.linspace(0.0, np.pi, 91)
    outer, bore = exact.outside_of_pipe(around, 4000) - shift, exact.bore(around) - shift
    span = outer.max()
    assert values["wall.max"] - AMBIENT == pytest.approx(outer.max(), abs=1.5e-3 * span)
    assert values["wall.min"] - AMBIENT == pytest.approx(min(outer.min(), bore.min()), abs=1.5e-3 * span)
    assert values["wall.min_clock"] == pytest.approx(0.0, abs=0.3) or values["wall.min_clock"] > 11.7
    surface = exact.surface([0.0, np.pi])
    assert values["barrier.max"] - AMBIENT == pytest.approx(surface[0], abs=1e-3 * span)
    assert values["barrier.min"] - AMBIENT == pytest.approx(surface[1], abs=1e-3 * span)
    if inside == "mixed":
        assert values["contents.mean"] - AMBIENT == pytest.approx(exact.mean - shift, abs=1e-3 * span)


def test_thin_wall_is_a_fin() -> None:
    """A line source on a thin wall that loses the same everywhere: insulation so thin that it hardly spreads heat.

    What heat needs to spread through the wall's thickness, about 0.3 q'/k, is not in the fin: here 0.4 % of it.
    """
    source = HEATED | {"width": "0.4 mm", "height": "0.01 mm", "body_conductivity": "0.02 W/m/K"}
    raw = line(
        source,
        pipe={
            "outer_diameter": "100 mm",
            "wall": "0.5 mm",
            "material": STAINLESS | {"conductivity": "60 W/m/K"},
        },
        contents__state="empty",
        contents__film_coefficient="0 W/m2/K",
        layer__thickness="2 mm",
        layer__conductivity="0.02 W/m/K",
        outside__coefficient="1e5 W/m2/K",
    )
    per_area = 1 / (0.05 * np.log(52 / 50) / 0.02 + 0.05 / 0.052 / 1e5)  # on the pipe's outside
    low, mean, high = thin_wall_fin(49.75e-3, 0.5e-3, 60.0, per_area * 50 / 49.75, 20.0)
    values = numbers(raw, 2.0)
    assert values["wall.mean"] - AMBIENT == pytest.approx(mean, rel=5e-3)
    assert values["wall.max"] - AMBIENT == pytest.approx(high, rel=0.01)
    assert values["wall.min"] - AMBIENT == pytest.approx(low, rel=0.03)


def test_eccentric_cylinders() -> None:
    """A hanging shell whose drop a tracer of the void's own conductivity sets: S' = 2 pi/acosh(...)."""
    raw = line(
        HEATED | {"clock": 12.0, "height": "5 mm", "output": "0 W/m", "body_conductivity": "0.1 W/m/K"},
        pipe__material=PERFECT,
        contents__state="flowing",
        contents__temperature="60 degC",
        contents__film_coefficient="1e7 W/m2/K",
        insulation={
            "fit": "oversize",
            "bore": "150 mm",
            "void": {"conductivity": "0.1 W/m/K"},
            "layer": [{"thickness": "10 mm", "conductivity": "9000 W/m/K"}],
        },
        outside__coefficient="1e7 W/m2/K",
    )
    drop = layout(raw).drop
    assert drop == pytest.approx(12.85e-3, abs=1e-9)
    exact = eccentric_shape_factor(150e-3, 114.3e-3, drop) * 0.1 * 70.0
    assert numbers(raw, 3.0)["heat_out"] == pytest.approx(exact, rel=5e-4)


def test_wet_ring_is_a_layer_of_its_own_conductivity() -> None:
    """Wet over all but a sliver: within the sliver's share of a layer that conducts three times as much."""
    wet = {"from_clock": 6.0, "to_clock": 5.99, "factor": 3.0}
    flowing = {
        "contents__state": "flowing",
        "contents__temperature": "60 degC",
        "contents__film_coefficient": "1000 W/m2/K",
    }
    values = numbers(line(layer__wet=wet, **flowing), 1.5)["heat_out"]
    dry = numbers(line(layer__conductivity="0.12 W/m/K", **flowing), 1.5)["heat_out"]
    assert values == pytest.approx(dry, rel=2e-3)
