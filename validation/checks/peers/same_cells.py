"""FiPy on the very same cells: an independent solver of the discrete problem, in a process of its own."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sim.case import Case, case_for, parse_case
from sim.heat.network import network
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.quantities import region_mask
from sim.solve.steady import Solution, cell_temperature, solve
from validation.checks.sketches.invented import SECTIONS
from validation.peers.volumes.polygons import polygons
from validation.published.rows import Row

WORKER = Path(__file__).parents[2] / "peers" / "volumes" / "worker.py"


def by_fipy(case: Case, fineness: float) -> tuple[Solution, NDArray[np.float64], NDArray[np.float64]]:
    """Our solution, FiPy's cell temperatures on the same cells (K) and its processor times (mesh, assembly, solve; s).

    For still contents, constant conductivities and a given outside coefficient, without sheets. Raises
    subprocess.CalledProcessError if FiPy fails.
    """
    film = case.outside.coefficient
    assert film is not None
    mesh = plan_mesh(place(case), fineness)
    net = network(case, mesh)
    ours = solve(net)
    ambient = case.conditions[0].ambient
    conductivity = net.law()(np.full(mesh.cells, ambient))
    resistance = np.zeros(len(mesh.face_cells) + len(mesh.cover_cell))
    resistance[net.face] = net.faces.resistance
    heat = (ours.balance.heat @ net.heat_share)[net.cell_node]
    shape = polygons(mesh)
    with tempfile.TemporaryDirectory() as folder:
        given, found = Path(folder) / "in.npz", Path(folder) / "out.npz"
        np.savez(
            given,
            vertex=shape.vertex,
            face_vertex=shape.face_vertex,
            cell_faces=shape.cell_faces,
            conductivity=conductivity,
            resistance=resistance,
            heat=heat,
            film=film,
            ambient=ambient,
        )
        subprocess.run([sys.executable, str(WORKER), str(given), str(found)], check=True, capture_output=True)
        with np.load(found) as answer:
            return ours, answer["temperature"], answer["seconds"]


def flat_tracers() -> list[Row]:
    """FiPy on the same cells: two demonstration sections with flat tracers, the same harmonic face conductivities.

    (For a round tracer we add the closed form of the innermost wedge, which FiPy's problem then lacks.)
    """
    out = []
    whole = SECTIONS["half_filled"]["contents"] | {"fill": 1.0}
    sections = {
        "half_filled": SECTIONS["half_filled"],
        "flat_mixed, but still": SECTIONS["flat_mixed"] | {"contents": whole},
    }
    for name, section in sections.items():
        case = parse_case(section)
        case = case_for(case, case.conditions[0].name)
        ours, theirs, _ = by_fipy(case, 2.0)
        cells = cell_temperature(ours.network, ours.temperature)
        span = float(cells.max()) - case.conditions[0].ambient
        for kind in (("wall",), ("liquid", "gas"), ("tracer",)):
            inside = region_mask(ours, *kind)
            for what, reduce in (("lowest", np.min), ("highest", np.max)):
                out.append(
                    Row(
                        f"FiPy on the same cells, {name}",
                        "FiPy (@fipy2009), harmonic face values, LU",
                        f"{'/'.join(kind)}, {what} cell",
                        float(reduce(theirs[inside])) - 273.15,
                        float(reduce(cells[inside])) - 273.15,
                        0.005 * span,
                        "0.5 % of the span: FiPy's distances run between centroids, ours between sites",
                        "degC",
                    )
                )
    return out


GROUPS = (flat_tracers,)
