"""The whole judgement of a case: every condition solved, limits held, the design set beside the field."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, Any

from sim.beside import start as start_beside
from sim.case import Case, case_for
from sim.case.changes import changes
from sim.case.notes import remarks
from sim.heat.film import range_notes
from sim.heat.thin import lost_layers
from sim.judge.confidence import (
    NO_CHANGES,
    Sensitivity,
    doubt_note,
    section_limits,
    sensitivity,
    support_with_inputs,
)
from sim.judge.elbow import ElbowAnswer, judge_elbow
from sim.judge.field_notes import freezing_notes, gap_note
from sim.judge.field_notes import range_notes as table_notes
from sim.judge.limits import WOULD_DECIDE, Judged, Verdict, exit_code, worst
from sim.judge.reasons import NO_ASYMMETRY, asymmetries, reasons
from sim.judge.sensors import SensorReading, read_sensors
from sim.judge.simplified import Simplified, simplified
from sim.judge.support import SupportAnswer, judge_support, refuse_large
from sim.solve.at_rest import FINENESS, MeshStore, SectionResult
from sim.solve.convergence import Banded
from sim.solve.design_loss import loss_at
from sim.solve.section import solve_section
from sim.solve.steady import NotConverged

if TYPE_CHECKING:
    from sim.case.episode import Episode
    from sim.judge.episode_answers import EpisodeAnswer


@dataclass(frozen=True, repr=False, kw_only=True)
class ConditionAnswer(Judged[SectionResult]):
    """One condition: its field and all that is judged from it.

    loss: the field's heat loss at the simplified method's pipe temperature, tracers unpowered, W/m; None if it did not
    converge. changes: what the condition changes of the case, a line a key.
    """

    case: Case
    simplified: Simplified
    sensors: tuple[SensorReading, ...]
    asymmetries: tuple[str, ...]
    reasons: tuple[str, ...]
    notes: tuple[str, ...]
    loss: Banded | None = None
    changes: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        return self.condition

    title = name


@dataclass(frozen=True)
class Answer:
    """A checked case. seconds: computing time by part (mesh, solve, total); not_run: names of episodes left out;
    elbows: the case's bend in each condition."""

    case: Case
    conditions: tuple[ConditionAnswer, ...]
    seconds: dict[str, float]
    supports: tuple[SupportAnswer, ...] = ()
    episodes: tuple[EpisodeAnswer, ...] = ()
    not_run: tuple[str, ...] = ()
    elbows: tuple[ElbowAnswer, ...] = ()

    def __repr__(self) -> str:
        places = len(self.conditions), len(self.supports)
        episodes = f", {len(self.episodes)} episodes" if self.episodes else ""
        text = f"{places[0]} conditions, {places[1]} answers at supports{episodes}"
        return f"<{self.case.title}: {self.verdict}; {text}>"

    @property
    def judged(self) -> tuple[Judged[Any], ...]:
        """Every place that is judged: sections, bends, supports and fittings, episodes."""
        return (*self.conditions, *self.elbows, *self.supports, *self.episodes)

    @property
    def verdict(self) -> Verdict:
        return worst([one.verdict for one in self.judged])

    @property
    def not_followed(self) -> tuple[str, ...]:
        """Places at which limits are held in the conditions alone, by episode: "cut: support S1, elbow"."""
        by_episode = []
        for one in self.episodes:
            if one.result is None or not one.limits:
                continue
            case = one.result.case
            places = [f"support {s.name}" for s in case.supports if s.name != one.episode.support]
            places += [f"fitting {f.name}" for f in case.fittings if f.name != one.episode.support]
            places += ["elbow"] * (case.elbow is not None)
            by_episode += [f"{one.name}: {', '.join(places)}"] * bool(places)
        return tuple(by_episode)

    @property
    def exit_code(self) -> int:
        """As of `sim.judge.limits.exit_code`."""
        return exit_code(self.verdict)


def check(
    case: Case,
    *,
    fineness: float = FINENESS,
    progress: Callable[[str, str], None] | None = None,
    solved: Callable[[SectionResult], None] | None = None,
    memory: float | None = None,
    episodes: Sequence[str] | None = None,
    around: bool = True,
    kept: Path | None = None,
) -> Answer:
    """Solve and judge every condition of a case, and every episode after them.

    around: false leaves out what stands on the line (supports), whose limits are then not among the answers.
    episodes: names of those to run, with the earlier ones they start from; all by default, () for none.

    kept: a folder for what a long run that is stopped goes on with.
    memory: most that a support's field may take, bytes (3e9 by default; TooLarge, a ValueError, beyond).
    fineness: of the finest of the three meshes (3 by default; twice as fine is 4 times the cells).
    progress: called with (condition, what is being done: "section: 2013 cells"); solved: with every section solved.
    Raises ValueError if the section cannot be meshed.
    """
    begin = perf_counter()
    if case.episodes and episodes != ():
        start_beside("sim.solve.over_time", "sim.solve.around")  # warms up while the conditions are solved
    if around:
        refuse_large(case, fineness / FINENESS, memory)
    store = MeshStore(kept)
    answers = []
    supports: list[SupportAnswer] = []
    elbows: list[ElbowAnswer] = []
    known = remarks(case)
    narrowed_cases = [case_for(case, condition.name) for condition in case.conditions]
    # all of them first: their pictures are drawn while they are judged
    sections = [_section(narrowed, store, fineness, progress, solved) for narrowed in narrowed_cases]
    for narrowed, (steady, failure) in zip(narrowed_cases, sections, strict=True):
        name = narrowed.conditions[0].name
        known_changes = NO_CHANGES if steady is None else sensitivity(narrowed, store, steady, fineness)
        judged = _judge(narrowed, steady, failure, store, fineness, known_changes)
        notes = (*known[name], *judged.notes)
        answers.append(replace(judged, changes=changes(case, name), notes=notes))
        if narrowed.elbow is not None:
            tell = _teller(progress, name, "elbow")
            elbows.append(judge_elbow(narrowed, steady, store, fineness, tell))
        for support in narrowed.interruptions if around else ():
            kind = "fitting" if support in narrowed.fittings else "support"
            tell = _teller(progress, name, f"{kind} {support.name}")
            at_support = judge_support(narrowed, support, steady, fineness / FINENESS, memory, tell)
            supports.append(support_with_inputs(at_support, narrowed.limits, known_changes))
    chosen: list[Episode] = []
    over_time: list[EpisodeAnswer] = []
    if case.episodes:  # imported only where there are any: it takes a seventh of a section's time
        from sim.judge.episode_answers import judge_episodes, wanted

        chosen = wanted(case, episodes)
        over_time = judge_episodes(case, chosen, store, fineness, progress, supports=supports, memory=memory)
    total = perf_counter() - begin
    seconds = {"mesh": store.seconds, "solve": total - store.seconds, "total": total}
    left = tuple(e.name for e in case.episodes if e not in chosen)
    return Answer(case, tuple(answers), seconds, tuple(supports), tuple(over_time), left, tuple(elbows))


def _teller(progress: Callable[[str, str], None] | None, name: str, stage: str) -> Callable[[str], None]:
    return lambda what: progress(name, f"{stage}: {what}") if progress is not None else None


def _section(
    case: Case,
    store: MeshStore,
    fineness: float,
    progress: Callable[[str, str], None] | None,
    solved: Callable[[SectionResult], None] | None,
) -> tuple[SectionResult | None, str]:
    """A condition's section, or why it did not converge."""
    try:
        result = solve_section(case, store, fineness, _teller(progress, case.conditions[0].name, "section"))
    except NotConverged as error:
        return None, str(error)
    if solved is not None:
        solved(result)
    return result, ""


def _judge(
    case: Case,
    result: SectionResult | None,
    failure: str,
    store: MeshStore,
    fineness: float,
    known: Sensitivity,
) -> ConditionAnswer:
    one_line = simplified(case)
    loss = None
    if result is not None:
        # the film in the bore is a term where the one line starts from the contents, not from the wall
        from_contents = "film in the bore" in one_line.terms
        with suppress(NotConverged):
            loss = loss_at(case, store, one_line.pipe_temperature, fineness, contents=from_contents)
    limits = section_limits(result, known) if result is not None else ()
    asymmetric = asymmetries(case)
    notes = _notes(case, result) if result is not None else ()
    doubt = doubt_note(limits)
    if doubt:
        notes = (doubt, *notes)
    if any(WOULD_DECIDE in check.note for check in limits):
        notes = (f"too close to call without them: {WOULD_DECIDE}", *notes)
    if not asymmetric:
        notes = (*notes, NO_ASYMMETRY)
    return ConditionAnswer(
        case.conditions[0].name,
        "section",
        result,
        failure,
        limits,
        case=case,
        simplified=one_line,
        sensors=read_sensors(result) if result is not None else (),
        asymmetries=asymmetric,
        reasons=reasons(case),
        notes=notes,
        loss=loss,
    )


def _notes(case: Case, result: SectionResult) -> tuple[str, ...]:
    """What a reader must know of this field: ranges of correlations and of property tables, meshed areas."""
    condition = case.conditions[0]
    mesh = result.solution.network.mesh
    notes: list[str] = [*result.notes, *result.solution.network.notes]
    if case.outside.coefficient is None:
        surface = result.solution.temperature[result.solution.network.cover_node]
        notes += range_notes(
            surface,
            ambient=condition.ambient,
            wind=condition.wind,
            diameter=2 * mesh.layout.cover_radius,
            wind_from_clock=condition.wind_from,
        )
    notes += table_notes(result.solution)
    if condition.sun is not None and condition.sun.date is not None and result.value("from_sun") <= 0.0:
        notes.append("the sun is below the horizon at the condition's date and hour: it adds nothing")
    notes += freezing_notes(result)
    stirring = gap_note(result.solution)
    if stirring is not None:
        notes.append(stirring)
    lost = lost_layers(mesh)
    for region, error in zip(mesh.layout.regions, mesh.area_error, strict=True):
        if abs(error) > 0.01 and not (region.kind in ("layer", "wet") and region.index in lost):
            notes.append(
                f"the mesh's {region.kind} is {100 * error:+.1f} % of its true area (parts too thin to mesh)"
            )
    return tuple(notes)
