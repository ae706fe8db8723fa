"""A second and a third opinion of a user's case: FiPy on the very same cells, finite elements on a mesh of their own.

FiPy solves the same discrete problem, so its answer must be ours to the tolerance of the sweeps: that checks assembly,
iteration and linear solver. The finite elements share the case and the property and film laws, nothing else, and have
a band of their own from two element sizes: that checks geometry, mesh and discretisation. Neither checks the inputs.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from time import perf_counter
from typing import Any, Literal

import numpy as np

from sim.case import Case, case_for, load_case
from sim.heat.tracer import tracer_watts
from sim.section.shapes import Array
from sim.solve.at_rest import FINENESS, MeshStore, SectionResult
from sim.solve.measures import CLOCK, Measure
from sim.solve.paths import Quantity, of_episode, quantity
from sim.solve.quantities import cover_surface, quantities, wall_surface
from sim.solve.section import solve_section
from sim.solve.states import may_have_several, with_outputs
from sim.solve.steady import NotConverged, Solution
from validation.peers.elements.field import not_covered
from validation.peers.elements.values import value_of
from validation.peers.process import Job, Reply, ask

Verdict = Literal["agree", "near", "differ", "none"]
Ask = Callable[[Mapping[str, Job], float], dict[str, Reply]]

SAME = 1e-6  # K and W/m: largest difference from FiPy, ten times the change at which its sweeps stop
NEAR = 1e-4  # of the span: a difference beyond the bands that is smaller than this is told of, and nothing rests on it
LEAST_SPAN = 1e-3  # K and W/m, where a field is all but uniform
SECONDS = 300.0  # a peer may take for one condition
FIPY, ELEMENTS = "FiPy", "finite elements"
SUPPORTS = (
    "the supports of this case are not compared here: a support's field is checked in three dimensions by `coldspot"
    " verify --full`, one shoe by finite elements and by FiPy"
)
AVERAGES = "averages over time are not compared: what is compared is the answer without them"
BEND = (
    "the elbow of this case is not compared here, only its straight section: a bend is checked by `coldspot verify"
    " --full` with finite elements"
)

GIVEN_OUTPUTS = (
    "the tracers' output rises with temperature: the finite elements are given our outputs, and as theirs stands what "
    "the tables say at the wall temperatures they find"
)


@dataclass(frozen=True)
class Compared:
    """One quantity by all three, by its path; numbers as stored.

    band: ours, from three meshes; span: what a percentage is of (the hottest point over ambient, or the heat loss);
    None where a peer has no such number. at: the moment of an episode, s; None of a steady field.
    """

    quantity: str
    ours: float
    band: float
    span: float
    fipy: float | None = None
    fipy_verdict: Verdict = "none"
    elements: float | None = None
    elements_band: float | None = None
    elements_verdict: Verdict = "none"
    at: float | None = None

    @property
    def declared(self) -> Quantity:
        return quantity(self.quantity) if self.at is None else of_episode(self.quantity)

    @property
    def measure(self) -> Measure:
        return self.declared.measure

    @property
    def verdicts(self) -> tuple[Verdict, Verdict]:
        return self.fipy_verdict, self.elements_verdict

    def apart(self, value: float | None) -> float:
        """Ours less a peer's value; hours the short way round; NaN where there is none."""
        if value is None:
            return float("nan")
        return self.measure.apart(self.ours, value)


@dataclass(frozen=True)
class Around:
    """Angle from 12 o'clock (rad, increasing) and temperature (K) of the pipe's outside and of the outside surface."""

    wall: tuple[Array, Array]
    cover: tuple[Array, Array]


@dataclass(frozen=True)
class ConditionOpinion:
    """One condition by all three. failure: why there is no answer of ours; missing: why a peer has none, by name."""

    name: str
    rows: tuple[Compared, ...] = ()
    around: Mapping[str, Around] = field(default_factory=dict)
    farthest_node: float | None = None  # largest difference of a node from FiPy, K
    details: Mapping[str, str] = field(default_factory=dict)
    missing: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    seconds: Mapping[str, float] = field(default_factory=dict)
    failure: str = ""

    @property
    def differing(self) -> tuple[Compared, ...]:
        return tuple(row for row in self.rows if "differ" in row.verdicts)


@dataclass(frozen=True)
class Opinion:
    """A case by all three."""

    case: Case
    conditions: tuple[ConditionOpinion, ...]

    @property
    def exit_code(self) -> int:
        """0 all agree, 1 some differ, 3 an answer is missing."""
        if any(c.differing for c in self.conditions):
            return 1
        return 3 if any(c.failure or c.missing for c in self.conditions) else 0


def second_opinion(
    path: Path,
    condition: str | None = None,
    *,
    fineness: float = FINENESS,
    progress: Callable[[str, str], None] = lambda condition, what: None,
    peers: Ask = ask,
) -> Opinion:
    """Solve the conditions of a case file (or one of them) by all three.

    progress(condition, what) hears what is being done. Raises CaseError on a bad case, ValueError on a condition it
    does not have or a section that cannot be meshed.
    """
    case = load_case(path)
    names = [c.name for c in case.conditions]
    if condition is not None and condition not in names:
        raise ValueError(f'condition "{condition}" is not in the case; accepted: {", ".join(names)}')
    store = MeshStore()
    opinions = []
    for name in names if condition is None else [condition]:

        def tell(what: str, name: str = name) -> None:
            progress(name, what)

        opinions += of_condition(case_for(case, name), store, fineness, tell, peers)
    return Opinion(case, tuple(opinions))


def of_condition(
    case: Case,
    store: MeshStore,
    fineness: float,
    tell: Callable[[str], None],
    peers: Ask,
) -> list[ConditionOpinion]:
    """The three answers of a case narrowed to one condition, in each of its steady states that are stable.

    Raises ValueError if it cannot be meshed.
    """
    name, begin = case.conditions[0].name, perf_counter()
    notes: tuple[str, ...] = (SUPPORTS,) if case.supports else ()
    notes += (BEND,) if case.elbow is not None else ()
    if case.contents.state == "buoyant" and case.contents.average:
        contents = case.contents.model_copy(update={"average": False})
        case = case.model_copy(update={"contents": contents})
        notes += (AVERAGES,)
    try:
        result = solve_section(case, store, fineness, tell)
    except NotConverged as error:
        return [ConditionOpinion(name, notes=notes, failure=f"did not converge: {error}")]
    own = perf_counter() - begin
    if result.bracketed:
        notes += ("our bands reach from bound to bound, and the peers solve the field shown", *result.notes)
    if len(result.states) == 1:
        return [_opinion_of(result, notes, own, tell, peers)]
    notes += ("the peers look for no steady states beside ours",)
    each = [_opinion_of(state, notes, own, tell, peers) for state in result.states]
    return [
        replace(opinion, name=f"{name}, mean wall {state.value('wall.mean') - 273.15:.1f} degC")
        for opinion, state in zip(each, result.states, strict=True)
    ]


def _opinion_of(
    result: SectionResult,
    notes: tuple[str, ...],
    own: float,
    tell: Callable[[str], None],
    peers: Ask,
) -> ConditionOpinion:
    """What the peers say of one field of ours; where it may be one of several they are led to it."""
    # of contents that were not resolved, the field shown is that of the estimate
    shown = result.solution.network.case
    rises = may_have_several(shown)
    start = result.value("wall.mean") if rises else None
    jobs = {
        FIPY: Job("validation.peers.volumes.field", ("fipy",), {"solution": result.solution, "start": start})
    }
    uncovered = not_covered(shown)
    if not uncovered:
        given = with_outputs(shown, result.solution.balance.heat) if rises else shown
        jobs[ELEMENTS] = Job("validation.peers.elements.field", ("skfem", "gmsh"), {"case": given})
    tell(" and ".join(jobs))
    replies = peers(jobs, SECONDS)
    if uncovered:
        replies[ELEMENTS] = Reply(failure=f"not covered: {uncovered}")
    elif rises and (elements := replies[ELEMENTS].answer) is not None:
        notes += (GIVEN_OUTPUTS,)
        _outputs_by_table(shown, elements)
    return compare(result, replies, notes, own)


def _outputs_by_table(case: Case, elements: Mapping[str, Any]) -> None:
    """Put what the tables give at the finite elements' own walls in place of the outputs they were given."""
    for level in ("coarse", "fine"):
        for tracer in case.tracers:
            numbers = elements[level]["tracers"][tracer.name]
            numbers["output"] = float(tracer_watts(tracer, case.conditions[0], numbers["wall"]))


def compare(
    result: SectionResult, replies: Mapping[str, Reply], notes: tuple[str, ...] = (), own: float = 0.0
) -> ConditionOpinion:
    """Set the peers' replies beside a result. own: seconds ours took."""
    solution = result.solution
    ambient = result.case.conditions[0].ambient
    span = max(float(solution.temperature.max()) - ambient, LEAST_SPAN)
    heat = max(abs(result.value("heat_out")), abs(result.value("heat_in")), LEAST_SPAN)
    around = {"ours": Around(wall_surface(solution), cover_surface(solution))}
    rows = tuple(
        Compared(path, banded.value, banded.band, span if quantity(path).measure.absolute else heat)
        for path, banded in result.quantities.items()
        if _compared(path, banded.value, case=result.case)
    )
    details, farthest = {}, None
    if (peer := replies[FIPY].answer) is not None:
        theirs = replace(solution, temperature=peer["temperature"])
        farthest = float(np.abs(peer["temperature"] - solution.temperature).max())
        rows = _with_fipy(rows, theirs, around["ours"].wall)
        around[FIPY] = Around(wall_surface(theirs), cover_surface(theirs))
        cells, sweeps = solution.network.mesh.cells, peer["sweeps"]
        details[FIPY] = f"{cells:,} cells, {sweeps} sweeps, largest difference of a node {farthest:.1e} K"
    if (peer := replies[ELEMENTS].answer) is not None:
        rows = _with_elements(rows, peer, result.case, around["ours"].wall)
        fine = peer["fine"]
        around[ELEMENTS] = Around(fine["around"]["wall"], fine["around"]["cover"])
        details[ELEMENTS] = f"{peer['coarse']['unknowns']:,} and {fine['unknowns']:,} unknowns"
    return ConditionOpinion(
        result.case.conditions[0].name,
        rows,
        around,
        farthest,
        details,
        {name: reply.failure for name, reply in replies.items() if reply.answer is None},
        notes,
        {"ours": own} | {name: reply.seconds for name, reply in replies.items() if reply.answer is not None},
    )


def _compared(path: str, value: float, case: Case) -> bool:
    peers = quantity(path).peers
    flowing = peers == "flowing contents" and case.contents.state == "flowing"
    return bool(np.isfinite(value)) and (peers == "always" or flowing)


def _with_fipy(
    rows: tuple[Compared, ...], theirs: Solution, wall: tuple[Array, Array]
) -> tuple[Compared, ...]:
    values = quantities(theirs)
    out = []
    for row in rows:
        value = values.get(row.quantity)
        if value is not None:
            verdict = judged(replace(row, band=0.0), value, SAME, wall, SAME, near=0.0)
            row = replace(row, fipy=value, fipy_verdict=verdict)
        out.append(row)
    return tuple(out)


def _with_elements(
    rows: tuple[Compared, ...], elements: Mapping[str, Any], case: Case, wall: tuple[Array, Array]
) -> tuple[Compared, ...]:
    """Values of the finer mesh; their band is how far the coarser one is from it."""
    by_name = {row.quantity: row for row in rows}
    bands: dict[str, tuple[float, float]] = {}
    for row in rows:
        fine, coarse = (value_of(elements[level], row.quantity, case) for level in ("fine", "coarse"))
        if fine is not None and coarse is not None:
            bands[row.quantity] = fine, abs(row.measure.apart(fine, coarse))
    out = []
    for row in rows:
        if row.quantity in bands:
            value, band = bands[row.quantity]
            room = 0.0
            if row.measure is CLOCK:
                extreme = quantity(row.quantity).place_of
                room = by_name[extreme].band + bands[extreme][1]
            verdict = judged(row, value, band, wall, room)
            row = replace(row, elements=value, elements_band=band, elements_verdict=verdict)
        out.append(row)
    return tuple(out)


def judged(
    row: Compared,
    value: float,
    band: float,
    wall: tuple[Array, Array],
    room: float,
    near: float = NEAR,
) -> Verdict:
    """Whether a peer's value agrees with ours: within both bands.

    A place agrees, too, where it is nearer than two of our samples around the clock, or where our wall is as hot or
    cold (within `room`, K) at the peer's place as at ours: of two equal extremes either may be named.
    """
    apart = abs(row.apart(value))
    if apart <= row.band + band:
        return "agree"
    if row.measure is CLOCK:
        hours, temperature = wall[0] * 6 / np.pi, wall[1]
        here, there = (np.interp(h % 12, hours, temperature, period=12) for h in (row.ours, value))
        sampled = apart <= row.band + band + 24 / max(len(hours), 1)
        return "agree" if sampled or abs(here - there) <= room else "differ"
    return "near" if apart - row.band - band <= near * row.span else "differ"
