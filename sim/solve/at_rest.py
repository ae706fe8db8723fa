"""One condition on three meshes where the contents do not move, and what every result holds: fields and bands."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from time import perf_counter

import numpy as np
from scipy.spatial import cKDTree

from sim.basics import ZERO_CELSIUS
from sim.case import Case
from sim.heat.network import Network, network
from sim.section.layout import layout_key, place
from sim.section.mesh import IntArray, PlanMesh, plan_mesh
from sim.section.shapes import Array
from sim.section.sizing import BoreGrading
from sim.solve.convergence import Banded, banded
from sim.solve.paths import Quantity, quantity
from sim.solve.quantities import quantities
from sim.solve.states import States, same_state, steady_states
from sim.solve.steady import Solution, cell_temperature

FINENESS = 3.0  # of the finest mesh
RATIO = float(np.sqrt(2.0))
ROUNDING = 1e-7  # of a quantity, K or W/m: what the solver's tolerance leaves open


ESTIMATES = (
    "steady flow that would not last",
    "estimate",
)  # answers of moving contents with a band of their model


class MeshStore:
    """Meshes by layout and fineness, so that conditions of one geometry share them.

    kept: a folder for what a long run that is stopped can go on with, or None."""

    def __init__(self, kept: Path | None = None) -> None:
        self.kept = kept
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
    reaches from one bound to the other; ends: what a quantity with a limit cannot pass there whatever the flow, K by
    path, see `sim.solve.bounds`. further: the other stable steady states, warmer than this one; unstable: mean
    walls of those between, K; complete: whether these are known to be all. coarse: the solution on the coarsest mesh,
    of contents that do not move. basis: what the answer of moving contents is ("steady flow", "steady flow that would
    not last", "estimate", "average", "bracket"), or ""; parts: the bands of such an answer by part (mesh, model, ...).
    """

    case: Case
    solution: Solution
    quantities: dict[str, Banded]
    cells: tuple[int, ...]
    fineness: tuple[float, ...]
    notes: tuple[str, ...] = ()
    bracketed: bool = False
    ends: Mapping[str, float] = field(default_factory=dict)
    further: tuple[SectionResult, ...] = ()
    unstable: tuple[float, ...] = ()
    complete: bool = True
    coarse: Solution | None = None
    basis: str = ""
    parts: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

    def __repr__(self) -> str:
        name = self.case.conditions[0].name
        return f"<{name}: {len(self.quantities)} numbers in SI and K on meshes of {self.cells} cells>"

    @property
    def states(self) -> tuple[SectionResult, ...]:
        """Every stable steady state, the coldest first."""
        return (self, *self.further)

    def value(self, path: str) -> float:
        return self.quantities[path].value


def transfer(solution: Solution, target: Network) -> Array:
    """Starting temperatures on another mesh of the same section: each node takes its nearest cell's, K."""
    return carried(solution.network, solution.temperature, target)


def carried(old: Network, temperature: Array, target: Network) -> Array:
    """As `transfer`, of any node temperatures."""
    new = target.mesh
    cells = cell_temperature(old, temperature)
    nearest = _nearest(old.mesh, new)
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


@lru_cache(maxsize=16)
def _nearest(old: PlanMesh, new: PlanMesh) -> IntArray:
    """The cell of one mesh nearest to each of another's, (cells,); conditions on the same meshes share it."""
    nearest: IntArray = cKDTree(old.site).query(new.site)[1]
    return nearest


def levels_of(fineness: float) -> tuple[float, float, float]:
    """Fineness of the three meshes, coarse to fine."""
    return fineness / RATIO**2, fineness / RATIO, fineness


def solve_at_rest(
    case: Case,
    store: MeshStore,
    fineness: float = FINENESS,
    progress: Callable[[str], None] | None = None,
    ask: Callable[[Solution], Mapping[str, float]] = quantities,
) -> SectionResult:
    """Solve a case narrowed to one condition, whose contents do not move, on three meshes.

    ask: the numbers to ask of each solution. Raises NotConverged if a heat balance does not settle, ValueError if the
    section cannot be meshed or its contents move.
    """
    if case.contents.state == "buoyant":
        raise ValueError("contents that move are solved by sim.solve.section.solve_section")
    levels = levels_of(fineness)
    values: list[list[dict[str, float]]] = []
    cells: list[int] = []
    states: States | None = None
    solved: tuple[Solution, ...] = ()
    for level in levels:
        mesh = store.get(case, level)
        if progress is not None:
            progress(f"{mesh.cells} cells")
        net = network(case, mesh)
        if states is None:
            states = steady_states(net)
            solved = states.stable
        else:
            solved = tuple(same_state(net, state, transfer(state, net)) for state in solved)
        values.append([dict(ask(state)) for state in solved])
        cells.append(mesh.cells)
    assert states is not None
    return of_states(
        [
            SectionResult(
                case,
                state,
                bands_of([level[i] for level in values], case.foil is not None),
                tuple(cells),
                levels,
                coarse=first,
            )
            for i, (state, first) in enumerate(zip(solved, states.stable, strict=True))
        ],
        states,
    )


def of_states(each: list[SectionResult], states: States) -> SectionResult:
    """The coldest of the stable states, to which a line warms up from the ambient, with the others beside it."""
    if len(each) == 1 and states.complete:
        return each[0]
    between = tuple(quantities(state)["wall.mean"] for state in states.unstable)
    means = " and ".join(f"{one.value('wall.mean') - ZERO_CELSIUS:.1f}" for one in each)
    note = "the tracers' output rises with the wall's temperature"
    if len(each) > 1:
        apart = (
            f" (unstable between them: {', '.join(f'{t - ZERO_CELSIUS:.1f}' for t in between)})"
            if between
            else ""
        )
        note += (
            f", and the line has {len(each)} steady states, with a mean wall of {means} degC{apart}: which "
            "one it takes depends on where it starts. Numbers are of the coldest; every limit is held in each"
        )
    if not states.complete:
        note += ": it is not certain that all its steady states were found, so nothing passes"
    return replace(
        each[0], further=tuple(each[1:]), unstable=between, complete=states.complete, notes=(note,)
    )


def bands_of(levels: list[dict[str, float]], foil: bool = False) -> dict[str, Banded]:
    """Every quantity of three meshes, coarse to fine, with its band. foil: whether it lies over the tracers."""
    bands: dict[str, Banded] = {}
    for path in levels[-1]:
        # A thin layer of liquid or gas may hold no cell of a coarser mesh: there the contents are the other part alone,
        # and their own numbers stand for both.
        row = quantity(path)
        at = ".".join(("contents", *row.keys[1:])) if row.keys[0] in ("liquid", "gas") else path
        coarse, middle, fine = (f[path] if path in f else f[at] for f in levels)
        bands[path] = band_of(row, (coarse, middle, fine), ROUNDING)
    return foiled(bands) if foil else bands


def foiled(bands: dict[str, Banded]) -> dict[str, Banded]:
    """Bands of what lies under foil, from the wall's and that of its rise above the wall, where they are wider.

    The foil's heat enters the pipe within a cell of its ends. Refined, the wall warms there and the rise falls: the two
    may cancel by chance on three meshes, and each is told of by its own.
    """
    wall = bands["wall.mean"]
    wider = dict(bands)
    for path, tracer_at in bands.items():
        if path.startswith("tracers.") and path.endswith((".sheath_max", ".mean")):
            rises = [value - base for value, base in zip(tracer_at.values, wall.values, strict=True)]
            apart = wall.band + banded((rises[0], rises[1], rises[2]), RATIO, ROUNDING).band
            wider[path] = replace(tracer_at, band=max(tracer_at.band, apart))
    return wider


def band_of(row: Quantity, values: tuple[float, float, float], rounding: float) -> Banded:
    """The value of a quantity on the finest of three meshes with the band that is declared for it."""
    fine = values[-1]
    if row.band == "index":
        return banded(values, RATIO, rounding)
    spread = max(abs(row.measure.apart(v, fine)) for v in values) if row.band == "spread" else 0.0
    return Banded(fine, spread, values, float("nan"), fine, True)
