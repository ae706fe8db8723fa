"""One condition on three meshes in a bend: the section swept around it, and what that is for a radian of the bend."""

from collections.abc import Callable
from dataclasses import replace

from sim.case import Case
from sim.case.clock_face import clock_to_angle
from sim.case.line import bend_radius
from sim.section.bend import Bend
from sim.section.mesh import PlanMesh, bent
from sim.section.sizing import BoreGrading
from sim.solve.at_rest import FINENESS, MeshStore, SectionResult, solve_at_rest
from sim.solve.convergence import Banded

MOVING = "the flow of contents that move is not resolved in a bend, where they also turn across it"


class BentMeshes(MeshStore):
    """The meshes of a store, swept around a bend."""

    def __init__(self, straight: MeshStore, bend: Bend) -> None:
        super().__init__()
        self._straight, self._bend = straight, bend
        self._bent: dict[PlanMesh, PlanMesh] = {}

    def get(self, case: Case, fineness: float, grading: BoreGrading | None = None) -> PlanMesh:
        """As of the store. Raises ValueError if the section cannot be meshed or reaches the bend's centre."""
        mesh = self._straight.get(case, fineness, grading)
        if mesh not in self._bent:
            self._bent[mesh] = bent(mesh, self._bend)
        return self._bent[mesh]


def bend_of(case: Case) -> Bend:
    """The bend of a case that has one."""
    assert case.elbow is not None
    radius = bend_radius(case.pipe, case.elbow)
    assert radius is not None  # refused when the case was read
    return Bend(radius, clock_to_angle(case.elbow.outside))


def solve_elbow(
    case: Case,
    meshes: MeshStore | None = None,
    fineness: float = FINENESS,
    progress: Callable[[str], None] | None = None,
) -> SectionResult:
    """Solve a case narrowed to one condition in its bend, on three meshes; quantities are of a metre of the axis.

    meshes: of the straight section. Contents that move are given as a bracket, and nothing is known of where it ends.
    Raises NotConverged if a heat balance does not settle, ValueError if the section cannot be meshed.
    """
    store = BentMeshes(meshes or MeshStore(), bend_of(case))
    if case.contents.state != "buoyant":
        return solve_at_rest(case, store, fineness, progress)
    from sim.solve.bracket import bracket  # needed only here, and slow to import

    result = bracket(case, store, fineness, MOVING, progress)
    # that no flow passes an end is known of plane flow alone
    notes = tuple(note for note in result.notes if "a pass may rest on it" not in note)
    return replace(result, ends={}, notes=notes)


def of_elbow(result: SectionResult) -> dict[str, Banded]:
    """Quantities of a bend: those of the section, and what a radian of the bend loses, gives and takes of tracer."""
    radius, values = bend_of(result.case).radius, dict(result.quantities)
    tracing = result.solution.network.tracing
    for path in ("heat_in", "heat_out", "from_contents"):
        values[f"per_radian.{path}"] = _times(result.quantities[path], radius)
    for i, tracer in enumerate(result.case.tracers):
        length = float(tracing.length[i]) * radius
        values[f"per_radian.output.{tracer.name}"] = _times(
            result.quantities[f"tracers.{tracer.name}.output"], length
        )
        values[f"per_radian.tracer.{tracer.name}"] = Banded(
            length, 0.0, (length,), float("nan"), length, True
        )
    return values


def _times(banded: Banded, factor: float) -> Banded:
    return replace(
        banded,
        value=factor * banded.value,
        band=factor * banded.band,
        values=tuple(factor * value for value in banded.values),
        extrapolated=factor * banded.extrapolated,
    )
