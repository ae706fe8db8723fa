"""Limits held over an episode: the case's over the part of it where they count, and the episode's own."""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np

from sim.case import Fitting
from sim.case.episode import STEADY
from sim.heat.thin import left_out
from sim.judge.limits import BRACKET, LimitCheck, Verdict, both, hold, verdict_of
from sim.judge.support import of_fitting
from sim.solve.convergence import Banded
from sim.solve.drive import AMBIENT
from sim.solve.episode_result import NAN, SHARES, EpisodeResult, Run
from sim.solve.measures import EPISODE_LIMITS, LIMITS
from sim.solve.paths import Quantity, coldest_contents, limited, of_episode, quantity

STILL = 0.05  # K in a quarter of the time before the power is lost: less is no cooling
HOLLOW = re.compile(r"hollows\.([0-9]+)\.min")
NO_INPUTS = "what the usual uncertainty of the inputs is worth is not evaluated in episodes"


def limited_rows(result: EpisodeResult) -> list[tuple[int, Quantity]]:
    """Sign and row of every quantity that a given limit holds."""
    given = result.case.limits
    return [
        (limit.sign, row)
        for limit, row in limited(result.fine.courses, of_episode)
        if getattr(given, limit.name) is not None
    ]


def checks_over_time(
    result: EpisodeResult,
    lost: float | None,
    warmed: Callable[[Run], float | None],
    warm_up: Banded,
    lasted: Banded,
    soonest: tuple[float, float],
    warm_to: float | None,
    doubt: str = "",
) -> tuple[tuple[LimitCheck, ...], tuple[str, ...]]:
    """Every limit held over the episode, the episode's own among them, and what is to be said of them.

    soonest: before what it does not cease to hold, and is not warm; doubt: why no pass is built on it, or "".
    """
    case, own_limits = result.case, result.episode.limits
    doubt = BRACKET if result.bracketed else doubt
    thin = left_out(case, result.fine.network.mesh)
    if thin:
        doubt = f"too thin to mesh and left out: {thin}; no pass is built on this"
    until = lost if own_limits is not None and own_limits.hold is not None else None
    warming = own_limits is not None and own_limits.warm_up is not None

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

    values = {row.path: result.number(worst_value, row.path, sign) for sign, row in limited_rows(result)}
    nothing = Banded(NAN, NAN, (NAN, NAN, NAN), NAN, NAN, True)
    every = dict.fromkeys(result.fine.courses, nothing) | values
    checks = list(hold(case.limits, every, of_episode, "over the episode", doubt))
    fitting = result.fine.network.support
    if isinstance(fitting, Fitting):
        metal = [result.number(worst_value, path, 1) for path in _beside_lumps(result, fitting)]
        coldest = min((one.value - one.band for one in metal), default=NAN)
        checks = [of_fitting(check, case, fitting, coldest) for check in checks]
    window, never = _window(until, warming), warming and np.isnan(warm_up.value)
    checks = [_within(check, window, never) for check in checks]
    if own_limits is not None:
        if own_limits.hold is not None:
            checks.append(_hold_check(own_limits.hold, lasted, soonest[0], lost, result, doubt))
        if own_limits.warm_up is not None:
            checks.append(_warm_check(own_limits.warm_up, warm_up, soonest[1], warm_to, result, doubt))
        if own_limits.frozen_share is not None:
            checks.append(_frozen_check(own_limits.frozen_share, result, doubt, freezing_of(result)[0]))
    notes: list[str] = []
    if checks:
        notes.append(NO_INPUTS)
    if checks and lost is None and (early := warmer_than_kept(result, result.episode.lasts)):
        notes.append(f"at the end: {early}")
    if case.limits.output_margin is not None:
        notes.append("the limits' output margin is held in conditions only, not in episodes")
    return tuple(checks), tuple(notes)


def _within(check: LimitCheck, window: str, never: bool) -> LimitCheck:
    """A check of a lowest temperature with the part of the episode where it counts; never: it is not warm in it."""
    if LIMITS[check.limit].sign <= 0:
        return check
    if never:
        nothing = replace(check, value=NAN, band=NAN, margin=NAN, spare=NAN, verdict="not evaluated")
        return replace(nothing, note=f"{window}, which it never is here")
    return replace(check, note=f"{window}; {check.note}") if window else check


def _beside_lumps(result: EpisodeResult, fitting: Fitting) -> list[str]:
    """The coldest places of bodies whose hollows are full of contents that are no cells."""
    if result.fine.network.plan.bore is None:
        return []
    full = [body.hollow is not None and body.hollow.filled == "contents" for body in fitting.body]
    return [f"bodies.{n}.min" for n, one in enumerate(full, 1) if one]


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
    allowed: float, lasted: Banded, soonest: float, lost: float | None, result: EpisodeResult, doubt: str
) -> LimitCheck:
    unknown = partial(_check, "hold", NAN, NAN, allowed, "not evaluated")
    if lost is None:
        return unknown("the power is not lost in this episode")
    if not any(limit > 0 for limit, _ in limited_rows(result)):
        return unknown("no lowest temperature is given to hold")
    if warm := warmer_than_kept(result, lost):
        doubt = both(f"when the power is lost: {warm}", doubt)
    left = result.episode.lasts - lost
    if np.isnan(lasted.value):
        if left < allowed:
            why = "it still holds at the end of the episode, which is too short"
            return _check("hold", left, NAN, allowed, "not evaluated", why)
        verdict: Verdict = "pass" if np.isnan(lasted.band) else "too close to call"
        why = "it still holds at the end of the episode"
        if result.case.contents.temperature is not None:
            why += ", with contents whose temperature is given, power or none"
        verdict, note = _doubted(verdict, why, doubt)
        return _check("hold", left, 0.0, allowed, verdict, note)
    band, why = _one_sided(lasted, soonest)
    verdict = verdict_of(lasted.value - allowed, band, 0)
    verdict, note = _doubted("too close to call" if why and verdict == "fail" else verdict, why, doubt)
    return _check("hold", lasted.value, band, allowed, verdict, note)


def warmer_than_kept(result: EpisodeResult, lost: float) -> str:
    """Why what follows a moment, s, is of the start and not of the controls; "" where it is not.

    A steady start is at full output. A control that switches is in its cycle once it has come on again, and one that
    gives a share once the contents no longer cool.
    """
    if result.episode.start != STEADY:
        return ""
    for control in result.controls:
        reading = result.fine.course(AMBIENT if control.sensor == AMBIENT else f"sensors.{control.sensor}")
        assert reading is not None
        hottest = reading.extreme("max", 0.0, lost)[0]
        switched = [on for at, on in result.track.switchings.get(control.name, ()) if at <= lost]
        if control.full_below is None:
            waits = hottest > control.off_above and True not in switched
        else:
            waits = hottest > control.full_below and _cooling(result, lost)
        if waits:
            return (
                "the line still cools then from the steady field of full output, in which it starts, and"
                f" {control.name} would keep it colder: a longer time before, or another start, would show that"
            )
    return ""


def _cooling(result: EpisodeResult, at: float) -> bool:
    """Whether the coldest contents fell in the last quarter of the time before a moment, s."""
    curve = result.fine.course(coldest_contents(result.fine.courses))
    if curve is None or at <= 0.0:
        return True
    before, after = curve.at(np.array([0.75 * at, at]))
    return bool(before - after > STILL)


def _one_sided(moment: Banded, soonest: float) -> tuple[float, str]:
    """Band of a moment that a limit is held against, s, and, where only its earlier end is known, that it is so."""
    if not np.isinf(moment.band) or not np.isfinite(soonest):
        return moment.band, ""
    return (
        moment.value - soonest,
        "its band is of the earlier end alone: by its value's band it may not come at all",
    )


def _warm_check(
    allowed: float, warm_up: Banded, soonest: float, warm_to: float | None, result: EpisodeResult, doubt: str
) -> LimitCheck:
    unknown = partial(_check, "warm_up", NAN, NAN, allowed, "not evaluated")
    if warm_to is None:
        return unknown("neither warm_to nor design.maintain says what is warm")
    if np.isnan(warm_up.value):
        lasts = result.episode.lasts
        if np.isinf(warm_up.band):
            why = "some meshes reach it, some do not"
            return _check("warm_up", lasts, np.inf, allowed, "too close to call", why)
        if lasts < allowed:
            return unknown("it is not warm at the end of the episode, which is too short")
        return _check("warm_up", lasts, 0.0, allowed, "fail", "it is not warm at the end of the episode")
    band, why = _one_sided(warm_up, soonest)
    verdict = verdict_of(allowed - warm_up.value, band, 0)
    verdict, note = _doubted("too close to call" if why and verdict == "pass" else verdict, why, doubt)
    return _check("warm_up", warm_up.value, band, allowed, verdict, note)


def _frozen_check(allowed: float, result: EpisodeResult, doubt: str, ice: "Freezing | None") -> LimitCheck:
    if ice is None:
        why = "the contents have no freezing data, or none of them is followed"
        return _check("frozen_share", NAN, NAN, allowed, "not evaluated", why)
    firsts = {"frozen": ice.first} | {f"hollows.{n}.frozen": first for n, first in ice.hollows.items()}
    shares = {path: result.number(extreme, path, "max") for path in firsts}
    worst = max(shares, key=lambda path: np.nan_to_num(shares[path].value, nan=np.inf))
    band = max(
        one.band + (_by_earlier_ice(result, path, firsts[path]) if result.least else 0.0)
        for path, one in shares.items()
    )
    verdict, note = _doubted(verdict_of(allowed - shares[worst].value, band), "", doubt)
    if worst != "frozen":
        note = both(f"in the hollow of body {worst.split('.')[1]}", note)
    return _check("frozen_share", shares[worst].value, band, allowed, verdict, note)


def extreme(run: Run, path: str, side: Literal["min", "max"], which: int = 0) -> float | None:
    """The least or greatest value of a quantity (0), or its moment, s (1)."""
    curve = run.course(path)
    return None if curve is None else curve.extreme(side)[which]


def _by_earlier_ice(result: EpisodeResult, path: str, first: Banded) -> float:
    """What a frozen share around a support or a fitting may be more, were the first ice earlier by the band of its
    moment, at the share's steepest rise; without end where the band alone makes ice."""
    curve = result.fine.course(path)
    if curve is None or np.isnan(first.value):
        return float(np.inf) if np.isinf(first.band) else 0.0
    step, rise = np.diff(curve.times.at), np.diff(curve.value)
    return float((rise[step > 0.0] / step[step > 0.0]).max(initial=0.0)) * first.band


ICE_NOTES = (
    "still water may cool several kelvin below its freezing point before ice forms, and then freezes at once in thin"
    " plates across the bore: it may be blocked long before the times given here (not computed)",
    "water that is closed in as it freezes raises the pressure until something bursts, and less ice than a full bore"
    " is enough for that (not computed)",
    "dead ends, instruments and supports freeze before the section does, which does not see them",
    "dead ends and instruments that are not among its bodies freeze before {}, which does not see them",
)


@dataclass(frozen=True)
class Freezing:
    """Ice in the bore: its first moment (s) and clock position, moments of each share, the smallest free passage (m).

    hollows: moment of the first ice in a fitting's hollows, by the number of the body.
    """

    first: Banded
    first_clock: float
    share: dict[float, Banded]
    smallest_passage: Banded
    hollows: dict[int, Banded]


def contents_paths(run: Run) -> list[str]:
    """The quantities that say how cold the contents are: in the bore, and in each hollow of a fitting."""
    return [coldest_contents(run.courses), *(path for path in run.courses if HOLLOW.fullmatch(path))]


def freezing_of(result: EpisodeResult) -> tuple[Freezing | None, tuple[str, ...]]:
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
        curve = run.course(coldest_contents(run.courses))
        return None if curve is None else curve.first(1, start)[0]

    def in_hollow(run: Run, path: str) -> float | None:
        curve = run.course(path)
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

    begins = result.moment(first, stays=True)
    clock = NAN
    place = fine.course(f"{coldest_contents(fine.courses)}_clock")
    if place is not None and np.isfinite(begins.value):
        after = int(np.searchsorted(place.times.at, begins.value))
        clock = float(place.value[min(after, len(place.value) - 1)])
    shares = {part: result.moment(share, part) for part in SHARES}
    hollows = {
        int(match[1]): result.moment(in_hollow, path, stays=True)
        for path in fine.courses
        if (match := HOLLOW.fullmatch(path))
    }
    ice = Freezing(begins, clock, shares, result.number(narrowest), hollows)
    any_ice = np.isfinite([one.value for one in (begins, *hollows.values())]).any()
    what = fine.network.support
    unseen = ICE_NOTES[2] if what is None else ICE_NOTES[3].format(what.name)
    return ice, (*ICE_NOTES[:2], unseen) if any_ice else ()
