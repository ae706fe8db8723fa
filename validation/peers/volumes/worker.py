"""FiPy on given cells, run as a program of its own: FiPy reads its process's arguments when imported.

python worker.py INPUT.npz OUTPUT.npz. The input holds a mesh's polygons, cell conductivities, contact
resistances of faces, heat per cell and the outside's film; the output cell temperatures and times in seconds.
"""

from __future__ import annotations

import sys
from time import process_time

import numpy as np


def main(source: str, target: str) -> None:
    """Solve the steady conduction problem in `source` and write temperatures and times to `target`."""
    given = np.load(source)
    sys.argv = sys.argv[:1]
    from fipy import CellVariable, DiffusionTerm, FaceVariable, ImplicitSourceTerm
    from fipy.meshes.mesh2D import Mesh2D
    from fipy.solvers.scipy import LinearLUSolver

    begin = process_time()
    cell_faces = np.ma.masked_equal(given["cell_faces"], -1)
    mesh = Mesh2D(given["vertex"], given["face_vertex"], cell_faces)
    meshed = process_time()
    temperature = CellVariable(mesh=mesh, value=float(given["ambient"]))
    conductivity = CellVariable(mesh=mesh, value=given["conductivity"])
    face = FaceVariable(mesh=mesh, value=conductivity.harmonicFaceValue.value)
    # a contact is in series with the two half cells
    gap = mesh._cellDistances
    face.setValue(1.0 / (1.0 / face.value + given["resistance"] / gap))
    exterior = mesh.exteriorFaces.value
    face.setValue(0.0, where=mesh.exteriorFaces)
    # the outside film in series with the outer half cell, as an implicit source of the outer cells
    outer = np.flatnonzero(exterior)
    cells = mesh.faceCellIDs[0].filled(-1)[outer]
    normal = np.asarray(mesh.faceNormals)[:, outer]
    apart = mesh.faceCenters.value[:, outer] - mesh.cellCenters.value[:, cells]
    centre_to_face = np.abs((apart * normal).sum(axis=0))
    area = mesh._faceAreas[outer]
    film = area / (1.0 / float(given["film"]) + centre_to_face / given["conductivity"][cells])
    per_volume = np.bincount(cells, film, mesh.numberOfCells) / mesh.cellVolumes
    loss = CellVariable(mesh=mesh, value=per_volume)
    heat = CellVariable(mesh=mesh, value=given["heat"] / mesh.cellVolumes)
    equation = (
        DiffusionTerm(coeff=face) + heat - ImplicitSourceTerm(coeff=loss) + loss * float(given["ambient"])
        == 0
    )
    assembled = process_time()
    equation.solve(var=temperature, solver=LinearLUSolver())
    solved = process_time()
    np.savez(
        target,
        temperature=temperature.value,
        centre=mesh.cellCenters.value,
        seconds=np.array([meshed - begin, assembled - meshed, solved - assembled]),
    )


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
