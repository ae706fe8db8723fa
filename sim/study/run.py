"""One variant to one row: a pure function, the same bit for bit wherever it runs.

Every solve starts from the same temperatures (never from the variant before), so that a row does not depend on
what its process did earlier. Meshes are shared within a process; a mesh is itself a pure function of the layout.
"""

import math
import threading
from collections import OrderedDict
from dataclasses import dataclass
from time import perf_counter, process_time
from typing import Any

from sim.case import Case, CaseError, case_for, parse_case
from sim.heat.network import network
from sim.judge.confidence import sensitivity, support_with_inputs
from sim.judge.elbow import judge_elbow
from sim.judge.support import SupportAnswer, judge_support
from sim.section.layout import layout_key, place
from sim.section.mesh import PlanMesh, plan_mesh
from sim.section.sizing import BoreGrading
from sim.solve.at_rest import FINENESS, MeshStore, SectionResult
from sim.solve.convergence import Banded
from sim.solve.quantities import quantities
from sim.solve.section import solve_section
from sim.solve.states import may_have_several
from sim.solve.steady import NotConverged, solve

from .edit import edited
from .row import condition_row
from .variants import Base, Variant

CELLS_KEPT = 300_000  # of all meshes a process remembers, so that its memory stays flat

Results = dict[str, dict[str, dict[str, Any]]]


@dataclass(frozen=True)
class Row:
    """One finished variant. status: "done" or "failed", with its reason.

    results: by condition, then by part, as `condition_row` gives them. seconds, cpu: of computing, wall and CPU.
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
    """Compute one variant. Never raises for a variant that cannot be computed: the row says why.

    What could be computed of a variant that fails in a condition or at a support stays in its row.
    """
    begin, cpu = perf_counter(), process_time()
    results: Results = {}
    reasons: dict[str, str] = {}
    try:
        case = parse_case(edited(base.raw, variant.changes), source=base.source, varied=True)
        around: list[SupportAnswer] = []
        for name in base.conditions:
            failed = _condition(base, case, name, (variant.meshes or base.meshes) == 3, results, around)
            if failed:
                reasons[name] = failed
        if base.episodes:
            reasons |= _episodes(base, case, around, results)
    except Exception as error:  # whatever one variant does, the study goes on and says what it was
        reasons = {name: _reason(error) for name in base.places}
    alike = len(reasons) == len(base.places) and len(set(reasons.values())) == 1
    reason = next(iter(reasons.values())) if alike else "; ".join(f"{n}: {why}" for n, why in reasons.items())
    status = "failed" if reasons else "done"
    return Row(variant.key, status, reason, results, perf_counter() - begin, process_time() - cpu)


def _reason(error: Exception) -> str:
    if isinstance(error, CaseError):
        return f"not a valid case: {error.key + ': ' if error.key else ''}{error.message}"
    if isinstance(error, NotConverged):
        return f"did not converge: {error}"
    return f"could not be computed: {type(error).__name__}: {error}"


def _meshes() -> RecentMeshes:
    meshes: RecentMeshes | None = getattr(_own, "meshes", None)
    if meshes is None:
        meshes = _own.meshes = RecentMeshes()
    return meshes


def _episodes(base: Base, case: Case, around: list[SupportAnswer], results: Results) -> dict[str, str]:
    """Follow the episodes into results; returns why those that could not be were not, by place."""
    from sim.judge.episode_answers import judge_episodes, wanted

    from .episodes import episode_row, place_name

    reasons: dict[str, str] = {}
    try:
        followed = judge_episodes(
            case, wanted(case, base.episodes), _meshes(), base.fineness, supports=around
        )
    except Exception as error:
        return {place_name(name): _reason(error) for name in base.episodes}
    for answer in followed:
        if answer.name in base.episodes:
            results[place_name(answer.name)] = episode_row(answer, case_for(case, answer.condition))
            if answer.result is None:
                reasons[place_name(answer.name)] = answer.trouble
    return reasons


def _condition(
    base: Base, case: Case, name: str, three: bool, results: Results, around: list[SupportAnswer]
) -> str:
    """Compute one condition into results, and its supports into `around`; returns why it, or a part, could not be."""
    meshes = _meshes()
    try:
        narrowed = case_for(case, name)
        chosen = [s for s in narrowed.interruptions if base.supports is None or s.name in base.supports]
        # Contents that move are found from mesh to mesh, and may be a bracket that only a band tells; of several steady
        # states each is judged by its own band. Beside a field in three dimensions the section's meshes cost little.
        moving = narrowed.contents.state == "buoyant"
        bend = narrowed.elbow is not None
        banded = three or bool(chosen) or moving or bend or may_have_several(narrowed)
        # The finest of the three is never coarser than the one mesh whose band it gives.
        result = (
            solve_section(narrowed, meshes, max(base.fineness, FINENESS if base.meshes == 1 else 0.0))
            if banded
            else _one_mesh(narrowed, meshes, base.fineness)
        )
        known = sensitivity(narrowed, meshes, result, base.fineness, inputs=False)
        elbow = (
            judge_elbow(narrowed, result, meshes, base.fineness, sides=False, inputs=False) if bend else None
        )
    except Exception as error:
        return _reason(error)
    answers: dict[str, SupportAnswer | None] = {}
    reasons = [f"elbow {elbow.trouble}"] if elbow is not None and elbow.failure else []
    for support in chosen:
        try:
            answer = judge_support(narrowed, support, result, base.fineness / FINENESS)
            answer = support_with_inputs(answer, narrowed.limits, known)
            answers[support.name] = answer
            around.append(answer)
            if answer.result is None:
                reasons.append(f"{answer.kind} {support.name} {answer.trouble}")
        except Exception as error:
            answers[support.name] = None
            kind = "support" if support in narrowed.supports else "fitting"
            reasons.append(f"{kind} {support.name}: {_reason(error)}")
    results[name] = condition_row(result, answers, banded=banded, known=known, elbow=elbow)
    return "; ".join(reasons)


def _one_mesh(case: Case, meshes: MeshStore, fineness: float) -> SectionResult:
    mesh = meshes.get(case, fineness)
    solution = solve(network(case, mesh))
    values = {p: Banded(v, 0.0, (v,), math.nan, v, True) for p, v in quantities(solution).items()}
    return SectionResult(case, solution, values, (mesh.cells,), (fineness,))
