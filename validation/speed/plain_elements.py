"""A peer: one section on the gmsh mesh beside, by the second opinion's curved quadratic elements and Picard rounds.

The mesh is what a competent user would script, sizes at gmsh's points and no callback; on it the elements of
`validation.peers.elements` need one sparse symmetric factor a round, by SuperLU's best settings known to us, and meet
the self-regulating output exactly within each.
"""

from typing import Any

import numpy as np

from sim.case import Case
from sim.section.layout import Layout
from validation.peers.elements.field import our_laws
from validation.peers.elements.lines import Lines
from validation.peers.elements.mesh import FieldMesh
from validation.peers.elements.problem import Problem, fixed_entries, sources_of
from validation.peers.elements.rounds import few_of, settled
from validation.speed.plain_mesh import NAMES, PlainMesh, Sizes, plain_mesh

SETTLED = 1e-3  # K, some 2e-5 of these sections' spans: a round that moves no node by more is the last


def _curved(mesh: PlainMesh) -> FieldMesh:
    """The straight triangles as curved quadratic ones, and every line with its middle node on its circle."""
    from skfem import MeshTri1, MeshTri2

    n = mesh.point.shape[1]
    curved = MeshTri2.from_mesh(MeshTri1(mesh.point, mesh.triangle, sort_t=False, validate=False))
    key = np.minimum(*curved.facets) * n + np.maximum(*curved.facets)
    order = np.argsort(key)
    place, lines = curved.doflocs.copy(), {}
    for name, ends in mesh.lines.items():
        code = ends.min(axis=1) * n + ends.max(axis=1)
        middle = curved.dofs.facet_dofs[0, order[np.searchsorted(key, code, sorter=order)]]
        lines[name] = np.column_stack([ends[:, 0], middle, ends[:, 1]])
        if (circle := mesh.circles[name]) is not None:
            z = mesh.point[:, ends].mean(axis=2)
            off = z[0] + 1j * z[1] - circle[0]
            on = circle[0] + circle[1] * off / np.abs(off)
            place[:, middle] = np.stack([on.real, on.imag])
    return FieldMesh(MeshTri2(place, curved.t, sort_t=False), mesh.region, list(NAMES), lines)


def solve_plain(case: Case, layout: Layout, sizes: Sizes) -> dict[str, float]:
    """Sheath maximum K, unknowns, rounds. Raises RuntimeError if the rounds do not settle."""
    from skfem import Basis, ElementTriP2

    if layout.hulls and layout.hulls[0].void and case.insulation.void.conductivity is None:
        raise ValueError("radiation across a void of air is not in these finite elements")
    grid = _curved(plain_mesh(layout, sizes))
    basis = Basis(grid.mesh, ElementTriP2(), intorder=4)
    outer, condition = Lines(grid.points, grid.lines["outer"]), case.conditions[0]
    film: Any = case.outside.coefficient or our_laws(case)["outside"]
    problem = Problem(case, condition, grid, basis, np.asarray(basis.dx), outer, film, None, None)
    start = np.full(problem.nodes + few_of(problem)[1], condition.ambient + 20.0)
    field, _, rounds, _ = settled(problem, sources_of(problem), fixed_entries(problem), start, SETTLED)
    outline = [nodes.ravel() for name, nodes in grid.lines.items() if name.startswith(("body", "outl"))]
    return {
        "sheath": float(field[np.unique(np.concatenate(outline))].max()),
        "unknowns": float(problem.nodes),
        "rounds": float(rounds),
    }
