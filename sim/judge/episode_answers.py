"""An episode judged: when a limit is broken and kept again, warm-up, hold after a power cut, ice, the verdict."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from sim.basics import NotMeshed
from sim.case import Case, case_for
from sim.case.episode import STEADY, Episode
from sim.heat.thin import put_back
from sim.judge.episode_limits import (
    Freezing,
    checks_over_time,
    contents_paths,
    extreme,
    freezing_of,
    limited_rows,
)
from sim.judge.limits import BRACKET, Judged
from sim.judge.support import SupportAnswer, doubt_of, fineness_of
from sim.section.mesh import PlanMesh
from sim.solve.at_rest import FINENESS, MeshStore
from sim.solve.convergence import Banded
from sim.solve.drive import power_lost
from sim.solve.episode_result import NAN, EpisodeResult, Run
from sim.solve.measures import LIMITS
from sim.solve.multigrid import MEMORY_LIMIT
from sim.solve.over_time import Start, ends_of, solve_episode
from sim.solve.paths import of_episode
from sim.solve.steady import NotConverged

SHOWN_MOMENTS = (0.1, 0.25, 0.5, 0.75, 1.0)  # of an episode, at which its fields are kept, beside its start


@dataclass(frozen=True)
class Extremes:
    """Least and largest value of a quantity over an episode, SI, and their moments, s."""

    min: Banded
    min_at: Banded
    max: Banded
    max_at: Banded


@dataclass(frozen=True)
class Broken:
    """When a limit is first broken, and first kept again after that, s; NaN: never."""

    first: Banded
    kept_again: Banded


@dataclass(frozen=True, repr=False, kw_only=True)
class EpisodeAnswer(Judged[EpisodeResult]):
    """One episode: what was followed and what is judged from it.

    limits: held, with the case's and the episode's own; broken: by the case's limits; warm_to: K, or None; warm_up and
    hold: s, NaN where it did not happen; power_lost: s or None; energy (J/m) and duty by tracer.
    """

    episode: Episode
    extremes: dict[str, Extremes] = field(default_factory=dict)
    broken: dict[str, Broken] = field(default_factory=dict)
    warm_to: float | None = None
    warm_up: Banded | None = None
    power_lost: float | None = None
    hold: Banded | None = None
    freezing: Freezing | None = None
    energy: dict[str, Banded] = field(default_factory=dict)
    duty: dict[str, Banded] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        return self.episode.name


def wanted(case: Case, names: Sequence[str] | None) -> list[Episode]:
    """The episodes to run, in the case's order: all, or those named and the earlier ones they start from."""
    if names is None:
        return list(case.episodes)
    by_name = {episode.name: episode for episode in case.episodes}
    needed: set[str] = set()
    for name in names:
        while name in by_name and name not in needed:
            needed.add(name)
            name = str(by_name[name].start)
    return [episode for episode in case.episodes if episode.name in needed]


def judge_episodes(
    case: Case,
    episodes: Sequence[Episode],
    store: MeshStore,
    fineness: float = FINENESS,
    progress: Callable[[str, str], None] | None = None,
    supports: Sequence[SupportAnswer] = (),
    memory: float | None = None,
    shown: Sequence[float] = SHOWN_MOMENTS,
) -> list[EpisodeAnswer]:
    """Follow and judge episodes of a case in their order. Raises ValueError if the section cannot be meshed.

    shown: parts of each at which the section's fields are kept, beside its start. supports: as judged in every
    condition; memory: most that a field around one may take, bytes (TooLarge, a ValueError, beyond).
    """
    answers: list[EpisodeAnswer] = []
    ends: dict[str, Start] = {}
    for episode in episodes:
        narrowed = case_for(case, episode.condition)
        tell = None if progress is None else partial(_report_progress, progress, episode.name)
        doubt = ""
        try:
            start = _start(episode, ends)
            if episode.support is None:
                kept = tuple(episode.lasts * part for part in shown)
                result = solve_episode(
                    narrowed, episode, case.controls, store, fineness, start, tell, moments=kept
                )
            else:
                result, doubt = _around(narrowed, episode, case, supports, fineness, memory, start, tell)
            ends[episode.name] = ends_of(result)
            answers.append(judge(result, doubt))
        except (NotConverged, NotMeshed) as error:
            unmeshed = isinstance(error, NotMeshed)
            if unmeshed and episode.support is None:
                raise
            answers.append(
                EpisodeAnswer(
                    episode.condition,
                    f"episode {episode.name}",
                    None,
                    str(error),
                    episode=episode,
                    unmeshed=unmeshed,
                )
            )
    return answers


def _start(episode: Episode, ends: Mapping[str, Start]) -> Start | None:
    """The end of the episode it starts from; None for the steady state. Raises NotConverged where there is none."""
    if not isinstance(episode.start, str) or episode.start == STEADY:
        return None
    if episode.start not in ends:
        raise NotConverged(f'it starts at the end of "{episode.start}", which has none')
    return ends[episode.start]


def _around(
    narrowed: Case,
    episode: Episode,
    case: Case,
    supports: Sequence[SupportAnswer],
    fineness: float,
    memory: float | None,
    start: Start | None,
    tell: Callable[[str], None] | None,
) -> tuple[EpisodeResult, str]:
    """An episode around a support or a fitting, beside the steady answer there, and why no pass is built on it, or "".
    Raises NotConverged or NotMeshed where there is none."""
    from sim.solve.around import solve_around

    unmeshed = False
    for one in supports:
        if (one.name, one.condition) != (episode.support, episode.condition):
            continue
        unmeshed = one.unmeshed
        if one.result is not None:
            share = fineness_of(fineness / FINENESS)
            limit = MEMORY_LIMIT if memory is None else memory
            moving = BRACKET if narrowed.contents.state == "buoyant" else ""
            result = solve_around(
                narrowed, one.support, episode, case.controls, one.result, share, limit, start, tell
            )
            return result, doubt_of(one.result) or moving
    words = f"the steady field around {episode.support} has no answer to set it beside"
    raise NotMeshed(words) if unmeshed else NotConverged(words)


def _report_progress(progress: Callable[[str, str], None], name: str, what: str) -> None:
    progress(name, f"episode: {what}")


def judge(result: EpisodeResult, doubt: str = "") -> EpisodeAnswer:
    """Every answer of an episode that was followed, and its verdict. doubt: why no pass is built on it, or ""."""
    case, episode = result.case, result.episode
    lost = power_lost(case, episode)
    warm_to = episode.warm_to if episode.warm_to is not None else case.design.maintain
    low = [row.path for limit, row in limited_rows(result) if limit > 0]

    def warmed(run: Run) -> float | None:
        if warm_to is None:
            return None
        curves = [run.course(path) for path in contents_paths(run)]
        moments = [None if curve is None else curve.first(-1, warm_to)[0] for curve in curves]
        return None if None in moments else max(moment for moment in moments if moment is not None)

    def held_for(run: Run) -> float | None:
        """How long after the power is lost the first lowest temperature is broken, s."""
        broken = [_broken(run, path, case, lost or 0.0)[0] for path in low]
        moments = [t for t in broken if t is not None]
        return min(moments) - (lost or 0.0) if moments and lost is not None else None

    none = Banded(NAN, NAN, (NAN, NAN, NAN), NAN, NAN, False)
    warm_up = result.moment(warmed) if warm_to is not None else none
    lasted = result.moment(held_for) if lost is not None and low else none
    soonest = (result.earliest(lasted, held_for), result.earliest(warm_up, warmed))
    checks, notes = checks_over_time(result, lost, warmed, warm_up, lasted, soonest, warm_to, doubt)
    freezing, ice_notes = freezing_of(result)
    tracers = [tracer.name for tracer in case.tracers]
    return EpisodeAnswer(
        episode.condition,
        f"episode {episode.name}",
        result,
        "",
        checks,
        episode=episode,
        extremes=_extremes(result),
        broken=_every_broken(result),
        warm_to=warm_to,
        warm_up=warm_up,
        power_lost=lost,
        hold=lasted,
        freezing=freezing,
        energy={name: result.number(_energy, name) for name in tracers},
        duty={name: result.number(_duty, name) for name in tracers},
        notes=(
            *result.notes,
            *notes,
            *massless(case, result.fine.network.mesh),
            *weather_notes(case, episode),
            *ice_notes,
        ),
    )


def massless(case: Case, mesh: PlanMesh) -> tuple[str, ...]:
    """What is thinner than the mesh and put back on faces stores nothing over time."""
    return tuple(f"stores no heat over time: {words}" for words in put_back(case, mesh))


def weather_notes(case: Case, episode: Episode) -> tuple[str, ...]:
    """What of a file of weather is not used, and what it does not give."""
    file, condition = episode.file, case.conditions[0]
    if file is None:
        return ()
    notes = [
        f"{file.name}: {column} is missing at {count} of {file.count} moments and is not used at all"
        for column, count in file.gaps.items()
    ]
    if episode.wind is None and case.outside.coefficient is None:
        notes.append(
            "the wind of the file comes as fast as at its own height (10 m in EPW), and its direction is not used: it"
            " blows from wind_from, or evenly all round without one"
        )
    if file.has_sun and condition.sun is None and episode.sun is None:
        notes.append(
            "the sun of the file is not counted, as the condition has none (its absorptivity and bearing)"
        )
    has_sky = {"sky_W_m2", "dew_point_degC"} & file.values.keys()
    if not has_sky and condition.sky is not None and episode.sky is None:
        notes.append("the file gives no sky: the condition's is there throughout")
    return tuple(notes)


def _energy(run: Run, tracer: str) -> float:
    """Energy of a tracer, J/m; around a support or a fitting that of the line at the far end."""
    if run.network.section is None:
        return run.track.energy[tracer]
    output = run.courses[f"tracers.{tracer}.output"]
    return float(output.curve.integrate(0.0, output.times.lasts))


def _duty(run: Run, tracer: str) -> float:
    return run.track.on_time[tracer] / run.track.time[-1]


def _broken(run: Run, path: str, case: Case, begin: float = 0.0) -> tuple[float | None, float | None]:
    """First moment from `begin` on at which the limit on a quantity is broken, and first kept again."""
    curve, row = run.course(path), of_episode(path)
    allowed = getattr(case.limits, row.limit)
    return (None, None) if curve is None else curve.first(LIMITS[row.limit].sign, allowed, begin)


def _first_of(run: Run, paths: list[str], case: Case, which: int) -> float | None:
    """Of the quantity that breaks its limit first, the moment of that (0) or of its being kept again (1)."""
    pairs = [pair for path in paths if (pair := _broken(run, path, case))[0] is not None]
    return min(pairs, key=lambda pair: pair[0] or 0.0)[which] if pairs else None


def _every_broken(result: EpisodeResult) -> dict[str, Broken]:
    """Of every limit that is given: of several tracers the first that breaks it."""
    broken: dict[str, Broken] = {}
    for name in LIMITS:
        paths = [row.path for _, row in limited_rows(result) if row.limit == name]
        if not paths:
            continue
        broken[name] = Broken(*(result.moment(_first_of, paths, result.case, which) for which in (0, 1)))
    return broken


def _extremes(result: EpisodeResult) -> dict[str, Extremes]:
    by_path = {}
    for path, curve in result.fine.courses.items():
        if np.isfinite(of_episode(path).measure.period):
            continue
        numbers = [result.number(extreme, path, side, which) for side in ("min", "max") for which in (0, 1)]
        for i in (1, 3):  # where a course turns is known to a step
            moment = numbers[i]
            if np.isfinite(moment.value):
                numbers[i] = replace(moment, band=moment.band + curve.step(moment.value))
        by_path[path] = Extremes(*numbers)
    return by_path
