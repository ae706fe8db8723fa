"""One condition of a case on three meshes: the field on the finest, and every quantity with its band."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter

import numpy as np
from scipy.spatial import cKDTree

from sim.case import Case
from sim.heat.network import Network, network
from sim.section.layout import layout_key, place
from sim.section.mesh import PlanMesh, plan_mesh
from sim.section.shapes import Array
from sim.section.sizing import BoreGrading
from sim.solve.convergence import Banded, banded
from sim.solve.paths import Quantity, quantity
from sim.solve.quantities import quantities
from sim.solve.steady import Solution, cell_temperature, solve

FINENESS = 3.0  # of the finest mesh
RATIO = float(np.sqrt(2.0))
ROUNDING = 1e-7  # of a quantity, K or W/m: what the solver's tolerance leaves open


class MeshStore:
    """Meshes by layout and fineness, so that conditions of one geometry share them."""

    def __init__(self) -> None:
        self._meshes: dict[tuple[object, ...], PlanMesh] = {}
        self.seconds = 0.0

    def get(self, case: Case, fineness: float, grading: BoreGrading | None = None) -> PlanMesh:
        """The mesh of a case's layout, graded for contents that move. Raises ValueError if it cannot be meshed."""
        key = (*layout_key(case), fineness, grading)
        if key not in self._meshes:
            begin = perf_counter()
            self._meshes[key] = plan_mesh(place(case), fineness, grading)
            self.seconds += perf_counter() - begin
        return self._meshes[key]


@dataclass(frozen=True)
class SectionResult:
    """One condition: solution on the finest mesh, banded quantities by path, cells of each mesh.

    notes: what a reader must know of this field; bracketed: the moving contents were not resolved, and every band
    reaches from one bound to the other.
    """

    case: Case
    solution: Solution
    quantities: dict[str, Banded]
    cells: tuple[int, ...]
    fineness: tuple[float, ...]
    notes: tuple[str, ...] = ()
    bracketed: bool = False

    def value(self, path: str) -> float:
        return self.quantities[path].value


def transfer(solution: Solution, target: Network) -> Array:
    """Starting temperatures on another mesh of the same section: each node takes its nearest cell's, K."""
    return carried(solution.network, solution.temperature, target)


def carried(old: Network, temperature: Array, target: Network) -> Array:
    """As `transfer`, of any node temperatures."""
    new = target.mesh
    cells = cell_temperature(old, temperature)
    nearest = cKDTree(old.mesh.site).query(new.site)[1]
    start = np.full(target.nodes, float(cells.mean()))
    known = target.cell_node >= 0
    start[target.cell_node[known]] = cells[nearest[known]]
    start[target.halves.node] = cells[nearest][target.halves.cell]
    if old.bore is not None and target.bore is not None:
        for name in ("liquid", "gas", "surface"):
            a, b = getattr(old.bore, name), getattr(target.bore, name)
            if a >= 0 and b >= 0:
                start[b] = temperature[a]
    return start


def levels_of(fineness: float) -> tuple[float, float, float]:
    """Fineness of the three meshes, coarse to fine."""
    return fineness / RATIO**2, fineness / RATIO, fineness


def solve_section(
    case: Case,
    meshes: MeshStore | None = None,
    fineness: float = FINENESS,
    progress: Callable[[str], None] | None = None,
) -> SectionResult:
    """Solve a case narrowed to one condition on three meshes.

    Raises NotConverged if a heat balance does not settle, ValueError if the section cannot be meshed.
    """
    store = meshes or MeshStore()
    if case.contents.state == "buoyant":
        from sim.solve.buoyant import solve_buoyant

        return solve_buoyant(case, store, fineness, progress)
    levels = levels_of(fineness)
    found: list[dict[str, float]] = []
    cells: list[int] = []
    solution: Solution | None = None
    for level in levels:
        mesh = store.get(case, level)
        if progress is not None:
            progress(f"{mesh.cells} cells")
        net = network(case, mesh)
        solution = solve(net, None if solution is None else transfer(solution, net))
        found.append(dict(quantities(solution)))
        cells.append(mesh.cells)
    assert solution is not None
    return SectionResult(case, solution, bands_of(found), tuple(cells), levels)


def bands_of(found: list[dict[str, float]]) -> dict[str, Banded]:
    """Every quantity of three meshes, coarse to fine, with its band."""
    bands: dict[str, Banded] = {}
    for path in found[-1]:
        # A thin layer of liquid or gas may hold no cell of a coarser mesh: there the contents are the other part alone,
        # and their own numbers stand for both.
        row = quantity(path)
        at = ".".join(("contents", *row.keys[1:])) if row.keys[0] in ("liquid", "gas") else path
        coarse, middle, fine = (f[path] if path in f else f[at] for f in found)
        bands[path] = band_of(row, (coarse, middle, fine), ROUNDING)
    return bands


def band_of(row: Quantity, values: tuple[float, float, float], rounding: float) -> Banded:
    """The value of a quantity on the finest of three meshes with the band that is declared for it."""
    fine = values[-1]
    if row.band == "index":
        return banded(values, RATIO, rounding)
    spread = max(abs(row.measure.apart(v, fine)) for v in values) if row.band == "spread" else 0.0
    return Banded(fine, spread, values, float("nan"), fine, True)
