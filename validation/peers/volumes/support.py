"""FiPy on the very same prisms around a shoe, by python -m validation.peers.volumes.support [FINENESS].

Still contents, constant conductivities, one coefficient outside, perfect contacts, no sheets: one linear problem.
FiPy builds its own mesh of the prisms, with our sites as centres, and its own matrix. Ours is solved to 1e-7 of the
first residual, FiPy's to as much of its right-hand side. Times are of one run, a core each.
"""

import sys
from time import perf_counter

import numpy as np

from sim.case import case_for, parse_case
from sim.heat.network import network
from sim.heat.support_layers import support_network
from sim.section.extrude import z_layers
from sim.section.mesh import plan_mesh
from sim.section.support_plan import place_support
from sim.solve.balance import cell_temperature, evaluate, residual, step_matrix
from sim.solve.multigrid import Multigrid
from validation.peers.elements.support import case
from validation.peers.volumes.field import LEFT, apart
from validation.sketches.invented import LIQUID


def compare(fineness: float) -> dict[str, float]:
    """Cells, seconds of both, largest and mean difference of a cell as a part of the span; shape_error: how far
    FiPy's area over distance of a face is from ours, as a part of it."""
    raw = case() | {"contents": {"state": "still", "fluid": LIQUID}}
    narrowed = case_for(parse_case(raw), "a")
    support = narrowed.supports[0]
    plan = network(narrowed, plan_mesh(place_support(narrowed, support), fineness))
    layers = z_layers(plan.mesh.layout, 0.6, 0.5, fineness)  # type: ignore[arg-type]
    net = support_network(plan, layers, support)
    ambient = narrowed.conditions[0].ambient
    temperature = np.full(net.nodes, ambient + 20.0)
    balance = evaluate(net, temperature, net.law())
    right = residual(net, balance, temperature)
    matrix = step_matrix(net, balance)
    begin = perf_counter()
    grid = Multigrid()
    grid.set_up(matrix)
    change, _ = grid.solve(matrix, right, LEFT)
    ours = perf_counter() - begin
    cells = cell_temperature(net, temperature + change).reshape(layers.count, -1)
    peer = apart(net)
    theirs = cell_temperature(net, peer.temperature).reshape(cells.shape)
    difference = np.abs(theirs - cells) / (cells.max() - ambient)
    return {
        "cells": float(cells.size),
        "ours_seconds": ours,
        "fipy_mesh_seconds": peer.seconds[0],
        "fipy_solve_seconds": peer.seconds[2],
        "fipy_sweeps": float(peer.sweeps),
        "shape_error": peer.shape_error,
        "largest_difference": float(difference.max()),
        "mean_difference": float(difference.mean()),
        "wall_difference": float(difference[:, plan.mesh.kind == "wall"].max()),
    }


if __name__ == "__main__":
    for name, value in compare(float(sys.argv[1]) if len(sys.argv) > 1 else 0.8).items():
        print(f"{name:20s} {value:.5g}")
