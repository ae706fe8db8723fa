"""A second opinion of an episode: the finite elements follow it on a mesh and with steps of their own.

Compared at the moments that ours writes: what stands in the table is the moment at which a quantity differs most, as a
part of the two bands. FiPy, which is given our cells, would be given our steps as well; it is asked of steady fields.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from time import perf_counter
from typing import Any

import numpy as np

from sim.case import case_for
from sim.case.episode import Episode
from sim.judge.episode_answers import judge_episodes
from sim.section.shapes import Array
from sim.solve.at_rest import MeshStore
from sim.solve.course import course, times
from sim.solve.episode_result import EpisodeResult
from sim.solve.paths import of_episode
from validation.opinion.compare import (
    ELEMENTS,
    LEAST_SPAN,
    NEAR,
    SECONDS,
    Compared,
    ConditionOpinion,
    Opinion,
    Verdict,
)
from validation.peers.elements.over_time import compared_paths, not_covered_over_time
from validation.peers.process import Job, Reply, ask

PATIENCE = 4.0  # times as long as for a steady field may the elements take
NO_FIPY = "FiPy is asked of steady fields alone: over time its steps would be ours"
WHERE = "of an episode stands here the moment at which ours and the finite elements are farthest apart, for their bands"
MEETING = 10.0  # s: two steps this near to a jump need not be on the same side of it


def name_of(episode: Episode) -> str:
    """What an episode is called among conditions."""
    return f"episode {episode.name}"


def with_episodes(opinion: Opinion, tell: Callable[[str, str], None]) -> Opinion:
    """An opinion with both answers of every episode of its case. Raises ValueError if a section cannot be meshed."""
    case, store = opinion.case, MeshStore()
    opinions = list[ConditionOpinion]()
    for episode in case.episodes:
        name, narrowed = name_of(episode), case_for(case, episode.condition)
        uncovered = not_covered_over_time(narrowed, episode, case.controls)
        if uncovered:
            missing = {ELEMENTS: f"not covered: {uncovered}"}
            opinions.append(ConditionOpinion(name, missing=missing, notes=(NO_FIPY,)))
            continue
        tell(name, "ours")
        begin = perf_counter()
        answer = judge_episodes(case, [episode], store)[0]
        own = perf_counter() - begin
        if answer.result is None:
            opinions.append(
                ConditionOpinion(name, failure=f"did not converge: {answer.failure}", notes=(NO_FIPY,))
            )
            continue
        tell(name, ELEMENTS)
        given = {
            "case": narrowed,
            "episode": episode,
            "controls": case.controls,
            "paths": compared_paths(tuple(answer.result.series)),
        }
        job = Job("validation.peers.elements.over_time", ("skfem", "gmsh"), given)
        reply = ask({ELEMENTS: job}, PATIENCE * SECONDS)[ELEMENTS]
        opinions.append(compared_over_time(name, answer.result, reply, own))
    return replace(opinion, conditions=(*opinion.conditions, *opinions))


def compared_over_time(name: str, result: EpisodeResult, reply: Reply, own: float = 0.0) -> ConditionOpinion:
    """Set the finite elements' course beside ours. own: seconds ours took."""
    seconds = {"ours": own}
    if reply.answer is None:
        return ConditionOpinion(name, missing={ELEMENTS: reply.failure}, notes=(NO_FIPY,), seconds=seconds)
    coarse, fine = reply.answer["coarse"], reply.answer["fine"]
    span = _span(result, fine)
    rows = [
        _row(path, result, coarse, fine, span)
        for path in fine["values"]
        if np.isfinite(fine["values"][path]).all() and np.isfinite(result.series[path].value).all()
    ]
    steps = f"{len(coarse['time'])} and {len(fine['time'])} moments"
    details = {ELEMENTS: f"{coarse['unknowns']:,} and {fine['unknowns']:,} unknowns, {steps}"}
    notes = (WHERE, NO_FIPY, *_switched(result, fine), *(result.notes if result.bracketed else ()))
    return ConditionOpinion(
        name, tuple(rows), {}, None, details, {}, notes, seconds | {ELEMENTS: reply.seconds}
    )


def _span(result: EpisodeResult, fine: Mapping[str, Any]) -> float:
    """From the coldest ambient to the hottest point, K."""
    warm = [
        float(np.nanmax(values))
        for path, values in fine["values"].items()
        if of_episode(path).measure.absolute
    ]
    return max(max(warm) - float(result.series["ambient"].value.min()), LEAST_SPAN)


def _row(
    path: str, result: EpisodeResult, coarse: Mapping[str, Any], fine: Mapping[str, Any], span: float
) -> Compared:
    measure, ours = of_episode(path).measure, result.series[path]
    moment = _away(result)
    theirs, other = (_at(of, path, result.time) for of in (fine, coarse))
    own = np.abs(measure.apart(theirs, other))
    own = np.maximum.accumulate(own[::-1])[::-1]  # what two meshes are apart may pass through nothing
    apart = np.abs(measure.apart(ours.value, theirs))
    room = ours.band + own
    scale = span if measure.absolute else max(float(np.abs(theirs).max()), LEAST_SPAN)
    if path == "frozen":
        scale = 1.0
    worst = int(np.argmax(np.where(moment, apart - room, -np.inf)))
    verdict: Verdict = "agree"
    if apart[worst] > room[worst]:
        verdict = "near" if apart[worst] - room[worst] <= NEAR * scale else "differ"
    return Compared(
        path,
        float(ours.value[worst]),
        float(ours.band[worst]),
        scale,
        elements=float(theirs[worst]),
        elements_band=float(own[worst]),
        elements_verdict=verdict,
        at=float(result.time[worst]),
    )


def _at(of: Mapping[str, Any], path: str, moments: Array) -> Array:
    """A quantity of the finite elements at moments (s)."""
    return course(times(np.array(of["time"])), np.array(of["values"][path])).at(moments)


def _away(result: EpisodeResult) -> Any:
    """Moments that are not within a few seconds of a switching, where a flow may be of either side."""
    switched = [t for moments in result.track.switchings.values() for t, _ in moments]
    if not switched:
        return np.ones(len(result.time), bool)
    return np.abs(result.time[:, None] - np.array(switched)).min(axis=1) > MEETING


def _switched(result: EpisodeResult, fine: Mapping[str, Any]) -> list[str]:
    """What both say of each control's switchings."""
    sentences = []
    for name, theirs in fine["switchings"].items():
        ours = result.track.switchings[name]
        both = list(zip(ours, theirs, strict=False))
        apart = max((abs(a - b) for (a, _), (b, _) in both), default=0.0)
        sentences.append(
            f"control {name}: {len(ours)} switchings, finite elements {len(theirs)}, {apart:.0f} s apart at most"
        )
    return sentences
