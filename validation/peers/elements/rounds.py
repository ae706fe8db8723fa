"""A round of the finite-element section: its system about a field, and rounds until the field stays."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.sparse import csc_matrix

from validation.peers.elements.bore import bore_system
from validation.peers.elements.lines import Array, Entries, solve_bordered
from validation.peers.elements.problem import Problem, Source, fixed_entries, sources_of
from validation.peers.elements.voids import add_radiation

MAX_ROUNDS = 60


def _conduction(problem: Problem, field: Array) -> csc_matrix:
    from skfem import BilinearForm
    from skfem.helpers import dot, grad

    @BilinearForm
    def flux(u: Any, v: Any, w: Any) -> Any:
        return w.k * dot(grad(u), grad(v))

    at_points = np.asarray(problem.basis.interpolate(field[: problem.nodes]))
    return flux.assemble(problem.basis, k=problem.conductivity(at_points) * problem.deep)


def _is_linear(problem: Problem, sources: list[Source]) -> bool:
    laws = [problem.case.pipe.material.conductivity]
    laws += [layer.conductivity for layer in problem.case.insulation.layers]
    if problem.case.contents.state == "still":
        laws += [problem.case.contents.fluid.conductivity, problem.case.contents.gas.conductivity]
    constant = all(getattr(law, "is_constant", False) for law in laws)
    fixed = all(getattr(s.tracer.output, "kind", "table") != "table" for s in sources)
    radiates = problem.bore is not None and problem.bore.exchange is not None
    varies = callable(problem.film) or callable(problem.void) or problem.voids is not None or radiates
    return constant and fixed and not varies


@dataclass
class Round:
    """One round's system: a sparse core (nodes, nodes) and the few unknowns beside it, see `solve_bordered`. own: the
    number of lumped contents, which come before the walls beneath tracers and the patches of voids."""

    core: csc_matrix
    load: Array
    columns: Array
    rows: Array
    corner: Array
    right: Array
    own: int


def few_of(problem: Problem) -> tuple[int, int]:
    """Number of lumped contents, and of all unknowns beside the nodes."""
    own = len(problem.bore.lumps) if problem.bore else 0
    voids = len(problem.voids.area) if problem.voids is not None else 0
    return own, own + len(problem.case.tracers) + voids


def assembled(problem: Problem, sources: list[Source], fixed: tuple[Entries, Array], field: Array) -> Round:
    """The system with the coefficients of a field (nodes + few,)."""
    n, (own, few) = problem.nodes, few_of(problem)
    outside, within, load = Entries(), Entries(), fixed[1].copy()
    columns, rows, corner, right = np.zeros((n, few)), np.zeros((few, n)), np.eye(few), np.zeros(few)
    h, sink = problem.film_at(problem.outer.values(field))
    outside.blocks(problem.outer.nodes, problem.outer.nodes, problem.outer.mass(h))
    load += problem.outer.vector(n, h * sink)
    if problem.bore:
        inside = bore_system(problem.bore, n, field)
        load += inside.load
        columns[:, :own], rows[:own], right[:own] = inside.columns, inside.columns.T, inside.right
        corner[:own, :own] = inside.corner
        within = inside.entries
    if problem.voids is not None:
        last = own + len(sources)
        columns[:, last:] = add_radiation(problem.voids, within, field, n)
        rows[last:] = -problem.voids.mean.toarray()
    for i, source in enumerate(sources, start=own):
        wall = float(field[n + i])
        power, slope = source.power(wall, problem.condition)
        load += (power - slope * wall) * source.unit_load
        columns[:, i] = -slope * source.unit_load
        rows[i] = -source.beneath
    core = _conduction(problem, field) + outside.matrix(n)
    for more in (fixed[0], within):
        core = core + more.matrix(n) if more.values else core
    return Round(csc_matrix(core), load, columns, rows, corner, right, own)


def iterated(problem: Problem, tolerance: float) -> tuple[Array, list[float], int, float]:
    """Solve, with the coefficients of the round before, until the field stays."""
    sources, fixed = sources_of(problem), fixed_entries(problem)
    start = np.full(problem.nodes + few_of(problem)[1], problem.condition.ambient + 20.0)
    return settled(problem, sources, fixed, start, tolerance)


def settled(
    problem: Problem, sources: list[Source], fixed: tuple[Entries, Array], field: Array, tolerance: float
) -> tuple[Array, list[float], int, float]:
    """The steady field from a first one, the tracers' outputs, rounds and the last change (K)."""
    n, (own, _) = problem.nodes, few_of(problem)
    linear = _is_linear(problem, sources)
    change = np.inf
    for count in range(1, MAX_ROUNDS + 1):
        r = assembled(problem, sources, fixed, field)
        new = solve_bordered(r.core, r.load, r.columns, r.rows, r.corner, r.right)
        change, field = float(abs(new - field)[: n + own].max()), new
        if linear or change < tolerance:
            powers = [s.power(float(field[n + own + i]), problem.condition)[0] for i, s in enumerate(sources)]
            return field, powers, count, 0.0 if linear else change
    raise RuntimeError(f"no convergence: the field still moves by {change:.3g} K a round")
