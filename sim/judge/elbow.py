"""A bend judged: limits held in the section swept around it, and its tracers on the outside against the inside.

The tracers lie in the bend where they lie on the straight pipe. Beside that they are turned together until the first of
them is at the clock position that faces away from the bend's centre, and at the opposite one.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import pi, sqrt

from sim.basics import NotMeshed
from sim.case import Case, CaseError
from sim.case.load import turned
from sim.judge.confidence import section_limits, sensitivity
from sim.judge.field_notes import range_notes as table_notes
from sim.judge.limits import Judged
from sim.section.layout import place
from sim.solve.at_rest import FINENESS, MeshStore, SectionResult
from sim.solve.convergence import Banded
from sim.solve.elbow import BentMeshes, bend_of, of_elbow, solve_elbow
from sim.solve.steady import NotConverged

SIDES = ("tracers_outside", "tracers_inside")
HALF_TURN = 6.0  # hours


@dataclass(frozen=True)
class Laid:
    """Tracers turned until the first is at a clock position; failure: why there is no result."""

    clock: float
    result: SectionResult | None
    failure: str = ""


@dataclass(frozen=True, repr=False, kw_only=True)
class ElbowAnswer(Judged[SectionResult]):
    """The bend in one condition.

    sides: the tracers on its outside and inside, by SIDES, none without tracers; straight: the straight section's
    result.
    """

    case: Case
    straight: SectionResult | None
    sides: Mapping[str, Laid] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @property
    def radius(self) -> float:
        """Of the bend, m."""
        return bend_of(self.case).radius

    @property
    def quantities(self) -> dict[str, Banded]:
        """Numbers of the bend as the tracers lie; those of a side under its name."""
        values = {} if self.result is None else of_elbow(self.result)
        for name, laid in self.sides.items():
            if laid.result is not None:
                values |= {f"{name}.{path}": value for path, value in of_elbow(laid.result).items()}
        return values


def judge_elbow(
    case: Case,
    straight: SectionResult | None,
    store: MeshStore,
    fineness: float = FINENESS,
    progress: Callable[[str], None] | None = None,
    *,
    sides: bool = True,
    inputs: bool = True,
) -> ElbowAnswer:
    """Solve and judge the bend of a case narrowed to one condition.

    store: meshes of the straight section; sides, inputs: whether the tracers are turned to either side, and what the
    inputs are worth is asked.
    """
    condition = case.conditions[0].name
    try:
        result = solve_elbow(case, store, fineness, progress)
    except NotConverged as error:
        return ElbowAnswer(condition, "elbow", None, str(error), case=case, straight=straight)
    except NotMeshed as error:
        text = f"elbow.radius: {error}"
        return ElbowAnswer(condition, "elbow", None, text, case=case, straight=straight, unmeshed=True)
    turns = _sides(case, result, store, fineness, progress) if sides else {}
    known = sensitivity(case, BentMeshes(store, bend_of(case)), result, fineness, inputs=inputs)
    return ElbowAnswer(
        condition,
        "elbow",
        result,
        "",
        section_limits(result, known),
        case=case,
        straight=straight,
        sides=turns,
        notes=_notes(case, result),
    )


def _sides(
    case: Case,
    as_laid: SectionResult,
    store: MeshStore,
    fineness: float,
    progress: Callable[[str], None] | None,
) -> dict[str, Laid]:
    """The tracers on the bend's outside and inside; as_laid: the result with the tracers where they are."""
    assert case.elbow is not None
    if not case.tracers:
        return {}
    turns = {}
    for name, clock in zip(SIDES, (case.elbow.outside, case.elbow.outside + HALF_TURN), strict=True):
        at = clock % 12.0
        try:
            one = turned(case, case.conditions[0].name, at)
            place(one)
            there = at == case.tracers[0].clock % 12.0
            turns[name] = Laid(at, as_laid if there else solve_elbow(one, store, fineness, progress))
        except CaseError as error:
            key = f"{error.key}: " if error.key else ""
            turns[name] = Laid(at, None, f"not possible: {key}{error.message}")
        except NotConverged as error:
            turns[name] = Laid(at, None, f"did not converge: {error}")
        except ValueError as error:
            turns[name] = Laid(at, None, f"not possible: {error}")
    return turns


def _ends(result: SectionResult) -> str:
    """How short the bend is beside the length over which a pipe evens out temperatures along itself."""
    network, bend = result.solution.network, bend_of(result.case)
    mesh, conductivity = network.mesh, result.solution.conductivity
    inside = mesh.of_kind("liquid", "gas", "wall") & (network.cell_node >= 0)
    along = float((conductivity * mesh.cell_area)[inside].sum())  # W m/K
    fall = result.value("wall.mean") - result.case.conditions[0].ambient
    quarter = 0.5 * pi * bend.radius
    words = (
        "the ends of the bend are left out: it is taken to go on without an end, and a quarter turn is"
        f" {quarter:.2g} m of pipe"
    )
    if fall * result.value("heat_out") > 0:
        reach = sqrt(along * fall / result.value("heat_out"))
        words += (
            f", beside {reach:.2g} m over which wall and contents even out what differs along them; the shorter the"
            " turn beside that, the nearer is the real bend to the straight pipe"
        )
    return words


def _notes(case: Case, result: SectionResult) -> tuple[str, ...]:
    """What a reader must know of the numbers of a bend."""
    assert case.elbow is not None
    notes = [*result.notes, *result.solution.network.notes, *table_notes(result.solution)]
    notes.append(_ends(result))
    notes.append("films inside and outside are those of a straight pipe")
    if case.conditions[0].sun is not None and case.conditions[0].sun.date is not None:
        notes.append("the sun has the bearing of the line throughout the bend")
    upright = abs((case.elbow.outside % 6.0) - 3.0) > 1e-9
    if upright and (case.contents.fill < 1.0 or case.insulation.fit == "oversize"):
        notes.append(
            "the bend leaves the horizontal: the level, and the side to which a shell hangs, are those at its start"
        )
    if any(region.kind == "void" for region in result.solution.network.mesh.layout.regions):
        notes.append("what surfaces in a void see of each other is that of the straight section")
    notes.append("supports and episodes are of the straight pipe, none is solved in the bend")
    return tuple(notes)
