"""FiPy on the full nonlinear problem of one condition, run as a program of its own (see worker.py).

python sweeps.py INPUT.pickle OUTPUT.npz. The property laws are ours, so that both solve the same physics;
mesh, discretisation, sweeps and linear solver are FiPy's.
"""

from __future__ import annotations

import pickle
import sys
from time import process_time

import numpy as np

MOST_SWEEPS = 60
SETTLED = 1e-6  # largest change of a cell in a sweep, K


def main(source: str, target: str) -> None:
    """Sweep the problem in `source` until it settles; write temperatures, sweeps and times to `target`."""
    with open(source, "rb") as stream:
        given = pickle.load(stream)
    sys.argv = sys.argv[:1]
    from fipy import CellVariable, DiffusionTerm, FaceVariable, ImplicitSourceTerm
    from fipy.meshes.mesh2D import Mesh2D

    from sim.heat.conductivity import CellConductivity
    from sim.heat.film import outside_coefficient
    from sim.heat.tracer import tracer_watts

    case, plan, shape = given["case"], given["mesh"], given["polygons"]
    condition = case.conditions[0]
    law = CellConductivity(case, plan)
    begin = process_time()
    mesh = Mesh2D(shape.vertex, shape.face_vertex, np.ma.masked_equal(shape.cell_faces, -1))
    gap, inner = mesh._cellDistances, len(plan.face_cells)
    # conductances beside those of the two half cells: the closed form in a wedge, a sheet along the cover
    beside = given["beside"] * gap[:inner] / mesh._faceAreas[:inner]
    meshed = process_time()
    temperature = CellVariable(mesh=mesh, value=condition.ambient + 20.0)
    conductivity = CellVariable(mesh=mesh, value=1.0)
    face, loss = FaceVariable(mesh=mesh, value=0.0), CellVariable(mesh=mesh, value=0.0)
    heat = CellVariable(mesh=mesh, value=0.0)
    equation = (
        DiffusionTerm(coeff=face) + heat - ImplicitSourceTerm(coeff=loss) + loss * condition.ambient == 0
    )
    cells, volume = plan.cover_cell, np.asarray(mesh.cellVolumes)
    sweeps = 0
    while sweeps < MOST_SWEEPS:
        sweeps += 1
        old = temperature.value.copy()
        k = law(old)
        conductivity.setValue(k)
        series = 1.0 / (
            1.0 / conductivity.harmonicFaceValue.value[:inner] + given["resistance"] / gap[:inner]
        )
        face.setValue(np.concatenate([series + beside, np.zeros(len(cells))]))
        inside = plan.cover_gap / k[cells]
        film = given["film"]
        for _ in range(3):
            surface = condition.ambient + (old[cells] - condition.ambient) / (1 + film * inside)
            film = outside_coefficient(
                surface,
                given["cover_angle"],
                ambient=condition.ambient,
                wind=condition.wind,
                wind_from_clock=condition.wind_from,
                diameter=2 * plan.layout.cover_radius,
                emissivity=case.barrier.emissivity if case.barrier else case.outside.emissivity,
                coefficient=case.outside.coefficient,
            )
        loss.setValue(np.bincount(cells, plan.cover_length / (1 / film + inside), plan.cells) / volume)
        watts = [
            float(tracer_watts(t, condition, beneath @ old))
            for t, beneath in zip(case.tracers, given["beneath"], strict=True)
        ]
        heat.setValue(np.array(watts) @ given["share"] / volume)
        equation.solve(var=temperature)
        if np.abs(temperature.value - old).max() < SETTLED:
            break
    seconds = np.array([meshed - begin, process_time() - meshed])
    np.savez(target, temperature=temperature.value, sweeps=sweeps, seconds=seconds)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
