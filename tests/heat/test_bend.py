"""A section swept around a bend: what is refused, and what a tracer on either side gives. Exact: `elbow.torus`."""

import numpy as np
import pytest

from sim.case import parse_case
from sim.heat.network import network
from sim.section.bend import Bend
from sim.section.layout import place
from sim.section.mesh import PlanMesh, bent, plan_mesh
from sim.solve.steady import solve


def shell(inner: float, outer: float) -> dict[str, object]:
    """Inner and outer face of an insulation held at 20 and 0 degC; radii in mm."""
    metal = {"conductivity": "10000 W/m/K", "density": "1 kg/m3", "specific_heat": "100 J/kg/K"}
    return {
        "pipe": {"outer_diameter": f"{2 * inner} mm", "wall": "1 mm", "material": metal},
        "contents": {"state": "flowing", "temperature": "20 degC", "film_coefficient": "1e7 W/m2/K"},
        "insulation": {"layer": [{"thickness": f"{outer - inner} mm", "conductivity": "0.04 W/m/K"}]},
        "outside": {"coefficient": "1e6 W/m2/K"},
        "condition": [{"name": "c", "ambient": "0 degC"}],
    }


def swept(mesh: PlanMesh, radius: float, outside: float = 1.0) -> PlanMesh:
    return bent(mesh, Bend(radius, outside))


def test_a_section_that_reaches_the_centre_is_refused() -> None:
    mesh = plan_mesh(place(parse_case(shell(30.0, 60.0))), 1.0)
    with pytest.raises(ValueError, match="bend's centre"):
        swept(mesh, 0.06)


def test_a_tracer_outside_is_longer_and_gives_more_for_a_metre_of_axis() -> None:
    raw = shell(57.15, 107.15) | {
        "contents": {"state": "mixed"},
        "tracer": [{"name": "T1", "clock": 3, "shape": "round", "diameter": "8 mm", "output": "20 W/m"}],
    }
    case = parse_case(raw)
    mesh = plan_mesh(place(case), 1.0)
    outside, inside = (
        solve(network(case, swept(mesh, 0.1524, turn))).balance for turn in (np.pi / 2, -np.pi / 2)
    )
    body = mesh.of_kind("tracer")
    x = float(np.average(mesh.site[body, 0], weights=mesh.cell_area[body]))
    assert outside.heat[0] == pytest.approx(20.0 * (1 + x / 0.1524), rel=1e-3)
    assert outside.heat[0] + inside.heat[0] == pytest.approx(40.0, rel=1e-12)
    assert outside.source.sum() == pytest.approx(outside.heat[0], rel=1e-12)
    assert outside.watts[0] == inside.watts[0] == 20.0
