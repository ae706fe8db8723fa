"""FiPy on the very same prisms around a shoe, by python -m validation.peers.volumes.support [FINENESS].

Still contents, constant conductivities, one coefficient outside, perfect contacts, no sheets: one linear problem.
FiPy is given the conductances between our sites (its own distances run between centroids, which moves the wall by 1 to
2 % of the span on meshes this coarse), so it is the same discrete problem. Both solve to the same residual over that
of the same start; times are processor seconds of one run.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path
from time import process_time
from typing import Any

import numpy as np

from sim.case import case_for, parse_case
from sim.heat.network import network
from sim.heat.support_layers import support_network
from sim.section.extrude import z_layers
from sim.section.mesh import plan_mesh
from sim.section.support_plan import place_support
from sim.solve.balance import cell_temperature, evaluate, residual, step_matrix
from sim.solve.multigrid import Multigrid
from validation.peers.elements.support import HEAT, OUTSIDE_FILM, case
from validation.peers.volumes.polygons import polygons

WORKER = Path(__file__).with_name("support_worker.py")
RELATIVE = 1e-7


def compare(fineness: float) -> dict[str, float]:
    """Cells, seconds of both, largest and mean difference of a cell as a part of the span."""
    raw = case() | {"contents": {"state": "still"}}
    narrowed = case_for(parse_case(raw), "a")
    support = narrowed.supports[0]
    plan = network(narrowed, plan_mesh(place_support(narrowed, support), fineness))
    layers = z_layers(plan.mesh.layout, 0.6, 0.5, fineness)  # type: ignore[arg-type]
    net = support_network(plan, layers, support)
    start = narrowed.conditions[0].ambient + 20.0
    temperature = np.full(net.nodes, start)
    balance = evaluate(net, temperature, net.law())
    right = residual(net, balance, temperature)
    matrix = step_matrix(net, balance)
    begin = process_time()
    grid = Multigrid()
    grid.set_up(matrix)
    change, _ = grid.solve(matrix, right, RELATIVE)
    ours = process_time() - begin
    cells = cell_temperature(net, temperature + change).reshape(layers.count, -1)
    k = balance.conductivity.reshape(cells.shape)
    shape, mesh = polygons(plan.mesh), plan.mesh
    ambient = narrowed.conditions[0].ambient
    depth = mesh.cover_gap / k[:, mesh.cover_cell]
    coefficient = np.full(net.nodes, OUTSIDE_FILM)
    if "fin" in net.outlets:
        fin: Any = net.outlets["fin"]
        coefficient[fin.node] = fin.root(start, narrowed)[0]
    coefficient = coefficient.reshape(layers.count, -1)[:, plan.cover_node]
    outer = mesh.cover_length * layers.thickness[:, None] / (depth + 1 / coefficient)
    half = 0.5 * layers.thickness[:, None] / k
    share = (plan.heat_share[0][plan.cell_node] * HEAT)[None, :] * layers.thickness[:, None]
    with tempfile.TemporaryDirectory() as folder:
        given, found = Path(folder) / "in.npz", Path(folder) / "out.npz"
        np.savez(
            given,
            vertex=shape.vertex,
            face_vertex=shape.face_vertex,
            cell_faces=shape.cell_faces,
            edge=layers.edge,
            conductivity=k,
            heat=share,
            upright=balance.conductance[balance.parts["faces"]].reshape(layers.count, -1),
            axial=mesh.cell_area / (half[1:] + half[:-1]),
            outer=outer,
            surroundings=ambient,
            start=start,
            tolerance=RELATIVE,
        )
        environment = os.environ | {"OPENBLAS_NUM_THREADS": "1", "FIPY_SOLVERS": "scipy"}
        subprocess.run([sys.executable, str(WORKER), str(given), str(found)], check=True, env=environment)
        with np.load(found) as answer:
            theirs, seconds, left = answer["temperature"], answer["seconds"], float(answer["residual"])
    apart = np.abs(theirs.reshape(cells.shape) - cells) / (cells.max() - ambient)
    wall = mesh.kind == "wall"
    return {
        "cells": float(cells.size),
        "ours_seconds": ours,
        "fipy_mesh_seconds": seconds[0],
        "fipy_solve_seconds": seconds[2],
        "fipy_residual": left,
        "largest_difference": float(apart.max()),
        "mean_difference": float(apart.mean()),
        "wall_difference": float(apart[:, wall].max()),
    }


if __name__ == "__main__":
    for name, value in compare(float(sys.argv[1]) if len(sys.argv) > 1 else 0.8).items():
        print(f"{name:20s} {value:.5g}")
