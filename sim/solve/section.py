"""One condition of a case on three meshes, whether its contents move or not."""

from collections.abc import Callable, Mapping
from dataclasses import replace

from sim.case import Case
from sim.solve.at_rest import FINENESS, MeshStore, SectionResult, solve_at_rest
from sim.solve.quantities import quantities
from sim.solve.states import may_have_several
from sim.solve.steady import Solution


def solve_section(
    case: Case,
    meshes: MeshStore | None = None,
    fineness: float = FINENESS,
    progress: Callable[[str], None] | None = None,
    ask: Callable[[Solution], Mapping[str, float]] = quantities,
) -> SectionResult:
    """Solve a case narrowed to one condition on three meshes.

    ask: the numbers to ask of contents that do not move. Raises NotConverged if a heat balance does not settle,
    ValueError if the section cannot be meshed.
    """
    store = meshes or MeshStore()
    if case.contents.state == "buoyant":
        from sim.solve.buoyant import solve_buoyant  # needed only here, and slow to import

        moving = solve_buoyant(case, store, fineness, progress)
        if not may_have_several(case):
            return moving
        note = (
            "the tracers' output rises with the wall's temperature: further steady states are not looked for where the "
            "contents move, so nothing passes"
        )
        return replace(moving, complete=False, notes=(*moving.notes, note))
    return solve_at_rest(case, store, fineness, progress, ask)
