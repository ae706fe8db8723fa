"""An episode judged: when a limit is broken and kept again, warm-up, hold after a power cut, ice, the verdict."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from sim.case import Case, case_for
from sim.case.episode import STEADY, Episode
from sim.heat.thin import left_out
from sim.judge.limits import BRACKET, LimitCheck, Verdict, both, hold, verdict_of, worst
from sim.solve.at_rest import FINENESS, MeshStore
from sim.solve.convergence import Banded
from sim.solve.drive import power_lost
from sim.solve.over_time import NAN, SHARES, EpisodeResult, Run, Start, ends_of, solve_episode
from sim.solve.paths import EPISODE_LIMITS, LIMITS, Quantity, limited, of_episode, quantity
from sim.solve.steady import NotConverged

ICE_NOTES = (
    "still water may cool several kelvin below its freezing point before ice forms, and then freezes at once in thin"
    " plates across the bore: it may be blocked long before the times given here (not computed)",
    "water that is closed in as it freezes raises the pressure until something bursts, and less ice than a full bore"
    " is enough for that (not computed)",
    "dead ends, instruments and supports freeze before the section does, which does not see them",
)
SHOWN_MOMENTS = (
    0.1,
    0.25,
    0.5,
    0.75,
    1.0,
)  # parts of an episode at which its fields are kept, beside its start
NO_INPUTS = "what the usual uncertainty of the inputs is worth is not evaluated in episodes"


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


@dataclass(frozen=True)
class Freezing:
    """Ice: its first moment (s) and clock position, moments of each share, the smallest free passage (m)."""

    first: Banded
    first_clock: float
    share: dict[float, Banded]
    smallest_passage: Banded


@dataclass(frozen=True)
class EpisodeAnswer:
    """One episode: what was followed (None if it did not converge, `failure` says why) and what is judged from it.

    limits: held, with the case's and the episode's own; broken: by the case's limits; warm_to: K, or None; warm_up and
    hold: s, NaN where it did not happen; power_lost: s or None; energy (J/m) and duty by tracer.
    """

    name: str
    condition: str
    episode: Episode
    result: EpisodeResult | None
    failure: str
    limits: tuple[LimitCheck, ...]
    verdict: Verdict
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

    def __repr__(self) -> str:
        return f"<{self.name}: {self.verdict}, {len(self.limits)} limits held>"


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
) -> list[EpisodeAnswer]:
    """Follow and judge episodes of a case in their order. Raises ValueError if the section cannot be meshed.

    The fields at SHOWN_MOMENTS of each are kept.
    """
    answers: list[EpisodeAnswer] = []
    ends: dict[str, Start] = {}
    for episode in episodes:
        narrowed = case_for(case, episode.condition)
        answer: EpisodeAnswer | None = None
        start: Start | None = None
        if episode.support is not None:
            answers.append(_around_support(episode))
            continue
        if isinstance(episode.start, str) and episode.start != STEADY:
            start = ends.get(episode.start)
            if start is None:
                failure = f'it starts at the end of "{episode.start}", which has none'
                answer = _failed(episode, failure)
        if answer is None:
            try:
                result = solve_episode(
                    narrowed,
                    episode,
                    case.controls,
                    store,
                    fineness,
                    start,
                    _teller(progress, episode.name),
                    moments=tuple(episode.lasts * part for part in SHOWN_MOMENTS),
                )
                ends[episode.name] = ends_of(result)
                answer = judge(result)
            except NotConverged as error:
                answer = _failed(episode, str(error))
        answers.append(answer)
    return answers


def _teller(progress: Callable[[str, str], None] | None, name: str) -> Callable[[str], None] | None:
    return None if progress is None else lambda what: progress(name, f"episode: {what}")


def _failed(episode: Episode, failure: str) -> EpisodeAnswer:
    return EpisodeAnswer(episode.name, episode.condition, episode, None, failure, (), "not converged")


def _around_support(episode: Episode) -> EpisodeAnswer:
    """What is said of an episode around a support, which this version does not follow."""
    note = (
        f"not evaluated: the field around support {episode.support} is not followed over time by this version"
    )
    return replace(_failed(episode, ""), verdict="not evaluated", notes=(note,))


def contents_path(run: Run) -> str:
    """The quantity that says how cold the contents are: the liquid where there is gas above it."""
    return "liquid.min" if "liquid.min" in run.courses else "contents.min"


def judge(result: EpisodeResult) -> EpisodeAnswer:
    """Every answer of an episode that was followed, and its verdict."""
    case, episode = result.case, result.episode
    lost = power_lost(case, episode)
    warm_to = episode.warm_to if episode.warm_to is not None else case.design.maintain
    low = [row.path for limit, row in _limited(result) if limit > 0]

    def warmed(run: Run) -> float | None:
        curve = run.course(contents_path(run))
        return None if warm_to is None or curve is None else curve.first(-1, warm_to)[0]

    def kept(run: Run) -> float | None:
        """How long after the power is lost the first lowest temperature is broken, s."""
        broken = [_broken(run, path, case, lost or 0.0)[0] for path in low]
        moments = [t for t in broken if t is not None]
        return min(moments) - (lost or 0.0) if moments and lost is not None else None

    none = Banded(NAN, NAN, (NAN, NAN, NAN), NAN, NAN, False)
    warm_up = result.number(warmed) if warm_to is not None else none
    held = result.number(kept) if lost is not None and low else none
    checks, notes = _held(result, lost, warmed, warm_up, held, warm_to)
    freezing, ice_notes = _freezing(result)
    tracers = [tracer.name for tracer in case.tracers]
    return EpisodeAnswer(
        name=episode.name,
        condition=episode.condition,
        episode=episode,
        result=result,
        failure="",
        limits=checks,
        verdict=worst([check.verdict for check in checks]),
        extremes=_extremes(result),
        broken=_every_broken(result),
        warm_to=warm_to,
        warm_up=warm_up,
        power_lost=lost,
        hold=held,
        freezing=freezing,
        energy={name: result.number(_energy, name) for name in tracers},
        duty={name: result.number(_duty, name) for name in tracers},
        notes=(*result.notes, *notes, *ice_notes),
    )


def _energy(run: Run, tracer: str) -> float:
    return run.track.energy[tracer]


def _duty(run: Run, tracer: str) -> float:
    return run.track.on_time[tracer] / run.track.time[-1]


def _limited(result: EpisodeResult) -> list[tuple[int, Quantity]]:
    """Sign and row of every quantity that a given limit holds."""
    given = result.case.limits
    return [
        (limit.sign, row)
        for limit, row in limited(result.fine.courses, of_episode)
        if getattr(given, limit.name) is not None
    ]


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
    found: dict[str, Broken] = {}
    for name in LIMITS:
        paths = [row.path for _, row in _limited(result) if row.limit == name]
        if not paths:
            continue

        found[name] = Broken(*(result.number(_first_of, paths, result.case, which) for which in (0, 1)))
    return found


def _extreme(run: Run, path: str, side: Literal["min", "max"], which: int) -> float | None:
    """The extreme of a quantity (0), or its moment (1)."""
    curve = run.course(path)
    return None if curve is None else curve.extreme(side)[which]


def _extremes(result: EpisodeResult) -> dict[str, Extremes]:
    found = {}
    for path in result.fine.courses:
        if np.isfinite(of_episode(path).measure.period):
            continue

        numbers = [result.number(_extreme, path, side, which) for side in ("min", "max") for which in (0, 1)]
        found[path] = Extremes(*numbers)
    return found


def _freezing(result: EpisodeResult) -> tuple[Freezing | None, tuple[str, ...]]:
    """When and where ice forms, and how much, of contents that freeze."""
    fluid, fine = result.case.contents.fluid, result.fine
    if "frozen" not in fine.courses:
        return None, ()
    assert fluid.freezes_at is not None
    start = fluid.freezes_at

    def first(run: Run) -> float | None:
        lump = run.course("contents.stored")  # of mixed contents, which stay at the freezing point
        if lump is not None:
            return lump.first(1, 0.0)[0]
        curve = run.course(contents_path(run))
        return None if curve is None else curve.first(1, start)[0]

    def share(run: Run, part: float) -> float | None:
        curve = run.course("frozen")
        return None if curve is None else curve.first(-1, part)[0]

    def narrowest(run: Run) -> float | None:
        curve = run.course("passage")
        iced = run.course("frozen")
        if curve is None or iced is None or iced.extreme("max")[0] <= 0.0:
            return None
        return curve.extreme("min")[0]

    begins = result.number(first)
    clock = NAN
    place = fine.course(f"{contents_path(fine)}_clock")
    if place is not None and np.isfinite(begins.value):
        after = int(np.searchsorted(place.times.at, begins.value))
        clock = float(place.value[min(after, len(place.value) - 1)])
    shares = {part: result.number(share, part) for part in SHARES}
    found = Freezing(begins, clock, shares, result.number(narrowest))
    return found, ICE_NOTES if np.isfinite(begins.value) else ()


def _held(
    result: EpisodeResult,
    lost: float | None,
    warmed: Callable[[Run], float | None],
    warm_up: Banded,
    held: Banded,
    warm_to: float | None,
) -> tuple[tuple[LimitCheck, ...], tuple[str, ...]]:
    """Every limit held over the episode, the episode's own among them, and what is to be said of them."""
    case, own = result.case, result.episode.limits
    doubt = BRACKET if result.bracketed else ""
    thin = left_out(case, result.fine.network.mesh)
    if thin:
        doubt = f"too thin to mesh and left out: {thin}; no pass is built on this"
    until = lost if own is not None and own.hold is not None else None
    warming = own is not None and own.warm_up is not None

    def worst_value(run: Run, path: str, sign: int) -> float | None:
        curve, begin, end = run.course(path), 0.0, None
        if curve is None:
            return None
        if sign > 0:
            end = until
            if warming:
                moment = warmed(run)
                begin = curve.times.lasts if moment is None else moment
                end = None if end is not None and end < begin else end
        return curve.extreme("min" if sign > 0 else "max", begin, end)[0]

    values = {row.path: result.number(worst_value, row.path, sign) for sign, row in _limited(result)}
    rest = {path: _nothing() for path in result.fine.courses if path not in values}
    checks = list(hold(case.limits, {**rest, **values}, of_episode, "over the episode", doubt))
    window = _window(until, warming)
    if window:
        checks = [replace(c, note=f"{window}; {c.note}") if LIMITS[c.limit].sign > 0 else c for c in checks]
    notes: list[str] = []
    if own is not None:
        if own.hold is not None:
            checks.append(_hold_check(own.hold, held, lost, result, doubt))
        if own.warm_up is not None:
            checks.append(_warm_check(own.warm_up, warm_up, warm_to, result, doubt))
        if own.frozen_share is not None:
            checks.append(_frozen_check(own.frozen_share, result, doubt))
    if checks:
        notes.append(NO_INPUTS)
    if case.limits.output_margin is not None:
        notes.append("the limits' output margin is held in conditions only, not in episodes")
    return tuple(checks), tuple(notes)


def _nothing() -> Banded:
    return Banded(NAN, NAN, (NAN, NAN, NAN), NAN, NAN, True)


def _window(until: float | None, warming: bool) -> str:
    """Over which part of the episode the lowest temperatures are held."""
    after = "from the moment it is warm" if warming else ""
    before = "until the power is lost, then by `hold`" if until is not None else ""
    return both(after, before) if after and before else after or before


def _check(limit: str, value: float, band: float, allowed: float, verdict: Verdict, note: str) -> LimitCheck:
    margin = EPISODE_LIMITS[limit].margin(value, allowed)
    path = "frozen_max" if limit == "frozen_share" else limit
    assert quantity(path).limit == limit
    return LimitCheck(limit, path, value, band, allowed, margin, verdict, note, spare=margin)


def _doubted(verdict: Verdict, note: str, doubt: str) -> tuple[Verdict, str]:
    if not doubt:
        return verdict, note
    return "too close to call" if verdict == "pass" else verdict, both(note, doubt)


def _hold_check(
    allowed: float, held: Banded, lost: float | None, result: EpisodeResult, doubt: str
) -> LimitCheck:
    if lost is None:
        return _check("hold", NAN, NAN, allowed, "not evaluated", "the power is not lost in this episode")
    if not any(limit > 0 for limit, _ in _limited(result)):
        return _check("hold", NAN, NAN, allowed, "not evaluated", "no lowest temperature is given to hold")
    left = result.episode.lasts - lost
    if np.isnan(held.value):
        if left < allowed:
            why = "it still holds at the end of the episode, which is too short"
            return _check("hold", left, NAN, allowed, "not evaluated", why)
        verdict: Verdict = "pass" if np.isnan(held.band) else "too close to call"
        verdict, note = _doubted(verdict, "it still holds at the end of the episode", doubt)
        return _check("hold", left, 0.0, allowed, verdict, note)
    verdict, note = _doubted(verdict_of(held.value - allowed, held.band, 0), "", doubt)
    return _check("hold", held.value, held.band, allowed, verdict, note)


def _warm_check(
    allowed: float, warm_up: Banded, warm_to: float | None, result: EpisodeResult, doubt: str
) -> LimitCheck:
    if warm_to is None:
        why = "neither warm_to nor design.maintain says what is warm"
        return _check("warm_up", NAN, NAN, allowed, "not evaluated", why)
    if np.isnan(warm_up.value):
        lasts = result.episode.lasts
        if np.isinf(warm_up.band):
            return _check(
                "warm_up", lasts, np.inf, allowed, "too close to call", "some meshes reach it, some do not"
            )
        if lasts < allowed:
            why = "it is not warm at the end of the episode, which is too short"
            return _check("warm_up", NAN, NAN, allowed, "not evaluated", why)
        return _check("warm_up", lasts, 0.0, allowed, "fail", "it is not warm at the end of the episode")
    verdict, note = _doubted(verdict_of(allowed - warm_up.value, warm_up.band, 0), "", doubt)
    return _check("warm_up", warm_up.value, warm_up.band, allowed, verdict, note)


def _frozen_check(allowed: float, result: EpisodeResult, doubt: str) -> LimitCheck:
    if "frozen" not in result.fine.courses:
        why = "the contents have no freezing data, or none of them is followed"
        return _check("frozen_share", NAN, NAN, allowed, "not evaluated", why)

    def most(run: Run) -> float | None:
        curve = run.course("frozen")
        return None if curve is None else curve.extreme("max")[0]

    found = result.number(most)
    verdict, note = _doubted(verdict_of(allowed - found.value, found.band), "", doubt)
    return _check("frozen_share", found.value, found.band, allowed, verdict, note)
