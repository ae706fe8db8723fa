"""How cost grows with the number of cells, and the floor under it: the time to read the matrix from memory."""

import resource
from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter, process_time
from typing import Any

import numpy as np

from sim.case import Case, case_for, load_case
from sim.heat.network import network
from sim.heat.support_layers import support_network
from sim.section.extrude import z_layers
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.section.support_plan import place_support
from sim.solve.balance import evaluate, residual, step_matrix
from sim.solve.direct import factor
from sim.solve.multigrid import Multigrid
from sim.solve.steady import solve
from validation.speed.plane import ROOT

PLANE = (1.0, 1.9, 3.4, 6.0, 11.0, 19.0, 34.0)
SOLID = (0.4, 0.65, 1.0, 1.5, 2.1, 2.8, 3.5)
RELATIVE = 1e-8  # of the right side, where iterations end
REACH, LENGTH = 0.59, 3.6  # of the shoe: decay along the line and half of the stretch, m
LARGE = 30_000_000  # numbers in each array of the bandwidth's measurement, far more than any cache holds


@dataclass(frozen=True)
class Grown:
    """Processor s of mesh, assembly and solution (set-up or factor, and iterations), memory held, iterations, and the
    bytes a solution must read."""

    cells: int
    mesh: float
    assembly: float
    setup: float
    solve: float
    peak: float
    iterations: int
    read: float

    @property
    def total(self) -> float:
        return self.mesh + self.assembly + self.setup + self.solve


def bandwidth() -> float:
    """Bytes per second of a triad a = b + s c on arrays far larger than the cache, best of several."""
    b, c, a = np.ones(LARGE), np.ones(LARGE), np.empty(LARGE)
    best = np.inf
    for _ in range(5):
        begin = perf_counter()
        np.multiply(c, 3.0, out=a)
        np.add(a, b, out=a)
        best = min(best, perf_counter() - begin)
    return 5 * 8 * LARGE / best  # c read, a written, a and b read, a written


def _peak() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6


def _spent(run: Callable[[], Any]) -> tuple[float, Any]:
    begin = process_time()
    result = run()
    return process_time() - begin, result


def plane() -> list[Grown]:
    """The shipped winter case's first step, from about a thousand to a million cells."""
    case = load_case(ROOT / "cases" / "winter-brine.toml")
    case = case_for(case, case.conditions[0].name)
    layout = place(case)
    rows = []
    for fineness in (PLANE[0], *PLANE):  # the first once more, warm
        meshing, mesh = _spent(lambda f=fineness: plan_mesh(layout, f))  # type: ignore[misc]
        begin = process_time()
        net = network(case, mesh)
        temperature = np.full(net.nodes, case.conditions[0].ambient + 20.0)
        balance = evaluate(net, temperature, net.law())
        left = residual(net, balance, temperature)
        assembly = process_time() - begin
        setup, factors = _spent(lambda n=net, b=balance: factor(step_matrix(n, b)))  # type: ignore[misc]
        solving, _ = _spent(lambda f=factors, r=left: f.solve(r))  # type: ignore[misc]
        peak = _peak()
        # a column factor is read once forward, once backward: value and row number
        read = 12.0 * (factors.L.nnz + factors.U.nnz)
        rows.append(Grown(mesh.cells, meshing, assembly, setup, solving, peak, 1, read))
    return rows[1:]


def matrix_bytes(matrix: Any) -> float:
    """Bytes of a compressed sparse matrix: values, column numbers, row starts."""
    return float(matrix.data.nbytes + matrix.indices.nbytes + matrix.indptr.nbytes)


def _cycle_bytes(grid: Multigrid) -> float:
    """Bytes of one iteration: the matrix once for the direction; a cycle reads every level's thrice (two sweeps and a
    residual) and its transfers once."""
    levels = grid.hierarchy.levels
    total = matrix_bytes(levels[0].A)
    for level in levels[:-1]:
        total += 3 * matrix_bytes(level.A) + matrix_bytes(level.P) + matrix_bytes(level.R)
    return total


def linear_problem(case: Case, fineness: float) -> tuple[Any, np.ndarray, float]:
    """The first step's matrix and right side of the shoe, and the seconds they took from the section's field on."""
    support = case.supports[0]
    plan = network(case, plan_mesh(place_support(case, support), fineness))
    start = solve(plan).temperature
    begin = process_time()
    layers = z_layers(plan.mesh.layout, LENGTH, REACH, fineness, (support.allowance_over / 2,))  # type: ignore[arg-type]
    net = support_network(plan, layers, support)
    temperature = np.tile(start, layers.count)
    balance = evaluate(net, temperature, net.law())
    matrix = step_matrix(net, balance)
    return matrix, residual(net, balance, temperature), process_time() - begin


def solid() -> list[tuple[Grown, float]]:
    """The shoe's first step by multigrid, and for each the bytes of its finest matrix alone over all iterations."""
    case: Case = load_case(ROOT / "cases" / "shoe-and-cradle.toml")
    case = case_for(case, case.conditions[0].name)
    rows = []
    for fineness in (SOLID[0], *SOLID):
        matrix, right, assembly = linear_problem(case, fineness)
        grid = Multigrid()
        setup, _ = _spent(lambda g=grid, m=matrix: g.set_up(m))  # type: ignore[misc]
        solving, (_, count) = _spent(lambda g=grid, m=matrix, r=right: g.solve(m, r, RELATIVE))  # type: ignore[misc]
        row = Grown(
            matrix.shape[0], 0.0, assembly, setup, solving, _peak(), count, count * _cycle_bytes(grid)
        )
        rows.append((row, count * matrix_bytes(matrix)))
        del grid, matrix
    return rows[1:]
