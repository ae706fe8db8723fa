"""One variant to one row: a pure function, the same bit for bit wherever it runs.

Every solve starts from the same temperatures (never from the variant before), so that a row does not depend on
what its process did earlier. Meshes are shared within a process; a mesh is itself a pure function of the layout.
"""

from __future__ import annotations

import math
import threading
from collections import OrderedDict
from dataclasses import dataclass
from time import perf_counter, process_time
from typing import Any

from sim.case import Case, CaseError, case_for, parse_case
from sim.heat.network import network
from sim.judge.limits import check_limits
from sim.section.layout import layout_key, place
from sim.section.mesh import PlanMesh, plan_mesh
from sim.section.sizing import BoreGrading
from sim.solve.convergence import Banded
from sim.solve.paths import limited
from sim.solve.quantities import quantities
from sim.solve.section import MeshStore, SectionResult, of_states, solve_section
from sim.solve.states import steady_states
from sim.solve.steady import NotConverged

from .edit import edited
from .variants import Base, Variant

CELLS_KEPT = 300_000  # of all meshes a process remembers, so that its memory stays flat

Results = dict[str, dict[str, dict[str, float | None]]]


@dataclass(frozen=True)
class Row:
    """One finished variant. status: "done" or "failed", with its reason.

    results: by condition, then "values", "bands" (three meshes only) and "margins", each a number by path; temperatures
    in K, heat in W/m; a margin is by limit (and tracer), positive is safe. seconds, cpu: of computing, wall and CPU.
    """

    key: str
    status: str
    reason: str
    results: Results
    seconds: float
    cpu: float


class RecentMeshes(MeshStore):
    """Meshes by layout and fineness, the least recently used given up first."""

    def __init__(self, cells: int = CELLS_KEPT) -> None:
        super().__init__()
        self._recent: OrderedDict[tuple[object, ...], PlanMesh] = OrderedDict()
        self._most = cells

    def get(self, case: Case, fineness: float, grading: BoreGrading | None = None) -> PlanMesh:
        """The mesh of a case's layout, graded for contents that move. Raises ValueError if it cannot be meshed."""
        key = (*layout_key(case), fineness, grading)
        mesh = self._recent.get(key)
        if mesh is None:
            mesh = self._recent[key] = plan_mesh(place(case), fineness, grading)
            while len(self._recent) > 1 and sum(m.cells for m in self._recent.values()) > self._most:
                self._recent.popitem(last=False)
        self._recent.move_to_end(key)
        return mesh


_own = threading.local()


def run_variant(base: Base, variant: Variant) -> Row:
    """Compute one variant. Never raises for a variant that cannot be computed: the row says why."""
    begin, cpu = perf_counter(), process_time()
    status, reason = "done", ""
    results: Results = {}
    try:
        results = _results(base, variant)
    except CaseError as error:
        key = f"{error.key}: " if error.key else ""
        status, reason = "failed", f"not a valid case: {key}{error.message}"
    except NotConverged as error:
        status, reason = "failed", f"did not converge: {error}"
    except Exception as error:  # whatever one variant does, the study goes on and says what it was
        status, reason = "failed", f"could not be computed: {type(error).__name__}: {error}"
    return Row(variant.key, status, reason, results, perf_counter() - begin, process_time() - cpu)


def _results(base: Base, variant: Variant) -> Results:
    case = parse_case(edited(base.raw, variant.changes), source=base.source, varied=True)
    meshes = getattr(_own, "meshes", None)
    if meshes is None:
        meshes = _own.meshes = RecentMeshes()
    three = (variant.meshes or base.meshes) == 3
    results: Results = {}
    for name in base.conditions:
        narrowed = case_for(case, name)
        # Contents that move are found from mesh to mesh, and may be a bracket that only a band tells.
        banded = three or narrowed.contents.state == "buoyant"
        # The finest of the three is never coarser than the one mesh whose band it gives.
        result = (
            solve_section(narrowed, meshes, max(base.fineness, 3.0 if base.meshes == 1 else 0.0))
            if banded
            else _one_mesh(narrowed, meshes, base.fineness)
        )
        results[name] = _row(result, banded=banded)
    return results


def _one_mesh(case: Case, meshes: MeshStore, fineness: float) -> SectionResult:
    mesh = meshes.get(case, fineness)
    states = steady_states(network(case, mesh))
    each = []
    for solution in states.stable:
        values = {p: Banded(v, 0.0, (v,), math.nan, v, True) for p, v in quantities(solution).items()}
        each.append(SectionResult(case, solution, values, (mesh.cells,), (fineness,)))
    return of_states(each, states)


def _row(result: SectionResult, *, banded: bool) -> dict[str, dict[str, float | None]]:
    """The numbers of a row. Of several steady states a quantity with a limit is that of the state nearest to it."""
    if not result.complete:
        raise NotConverged(result.notes[-1])
    checks = check_limits(result)
    shown = dict(result.quantities)
    for state in result.further:
        for limit, row in limited(state.quantities):
            if limit.sign * (state.value(row.path) - shown[row.path].value) < 0:
                shown[row.path] = state.quantities[row.path]
    values: dict[str, Any] = {p: q.value for p, q in shown.items()}
    bands: dict[str, Any] = {p: q.band for p, q in shown.items()} if banded else {}
    tracers = [t.name for t in result.case.tracers]
    if tracers:
        hottest = max(tracers, key=lambda n: values[f"tracers.{n}.sheath_max"])
        values["tracers.sheath_max"] = values[f"tracers.{hottest}.sheath_max"]
        values["tracers.output"] = math.fsum(values[f"tracers.{n}.output"] for n in tracers)
        if banded:
            bands["tracers.sheath_max"] = max(bands[f"tracers.{n}.sheath_max"] for n in tracers)
            bands["tracers.output"] = math.fsum(bands[f"tracers.{n}.output"] for n in tracers)
    margins: dict[str, Any] = {}
    for check in checks:
        known = margins.get(check.limit)
        margins[check.limit] = check.margin if known is None else min(known, check.margin)
    allowed = {check.limit: check.allowed for check in checks}
    return {
        "values": _finite(values),
        "bands": _finite(bands),
        "margins": _finite(margins),
        "limits": _finite(allowed),
        "mesh": {"cells": float(result.cells[-1]), "bracketed": float(result.bracketed)},
    }


def _finite(numbers: dict[str, Any]) -> dict[str, float | None]:
    return {k: float(v) if math.isfinite(v) else None for k, v in numbers.items()}
