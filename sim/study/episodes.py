"""Episodes in a study: which are followed in every variant, and what a row keeps of one.

An episode stands in a row as a place of its own beside the conditions, called "episode NAME". It is always followed on
three meshes, so that what it answers has its own band.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from sim.case import Case, CaseError
from sim.solve.measures import EPISODE_LIMITS, LIMITS

from .row import NOT_COMPUTED, Part, decisive, plain
from .schema import StudyFile
from .supports import NONE, chosen, chosen_supports, left_out

if TYPE_CHECKING:
    from sim.judge.episode_answers import EpisodeAnswer
    from sim.judge.limits import LimitCheck
    from sim.solve.convergence import Banded

EPISODE = "episode "


def place_name(episode: str) -> str:
    """What an episode is called among the conditions of a study."""
    return EPISODE + episode


def chosen_episodes(file: StudyFile, case: Case, source: str, conditions: list[str]) -> tuple[str, ...]:
    """Names of the episodes that are followed; () for none. Raises CaseError for one that cannot be."""
    known = [episode.name for episode in case.episodes]
    if file.episodes == "all" and not known:
        raise CaseError("asks for all episodes, and the case has none", file=source, key="episodes")
    followed = chosen(file.episodes or NONE, known, "episode", source)
    for name in followed:
        episode = case.episodes[known.index(name)]
        if episode.condition not in conditions:
            message = (
                f'"{name}" is of condition "{episode.condition}", which is left out; accepted: run it too'
            )
            raise CaseError(message, file=source, key="episodes")
        if episode.support in left_out(case, chosen_supports(file, case, source)):
            message = f'"{name}" follows the field around "{episode.support}", which is left out'
            raise CaseError(f"{message}; accepted: compute it", file=source, key="episodes")
        if place_name(name) in conditions:
            message = f'a condition is called "{place_name(name)}" too; accepted: another name for either'
            raise CaseError(message, file=source, key="episodes")
    return followed


def episode_row(answer: EpisodeAnswer, case: Case) -> Part:
    """What a row keeps of an episode, in the parts of `condition_row`.

    Of a temperature the least or largest over the episode, of what a limit holds the value that was held; when each
    limit is first broken, hold, warm-up, largest frozen share, least passage, energy, duty. NaN: it did not happen.
    """
    by_limit: dict[str, list[LimitCheck]] = {}
    for check in answer.limits:
        by_limit.setdefault(check.limit, []).append(check)
    worst = {limit: decisive(checks) for limit, checks in by_limit.items()}
    values, bands = _numbers(answer, worst) if answer.result is not None else ({}, {})
    margins = {limit: check.spare for limit, check in worst.items()}
    allowed = {limit: check.allowed for limit, check in worst.items()}
    verdicts: dict[str, str] = {limit: check.verdict for limit, check in worst.items()}
    if answer.result is None:
        limits = answer.episode.limits
        given = [(name, getattr(case.limits, name)) for name in LIMITS]
        given += [(name, getattr(limits, name)) for name in EPISODE_LIMITS if limits is not None]
        for name, limit in given:
            if limit is not None:
                verdicts[name], margins[name], allowed[name] = NOT_COMPUTED, math.nan, limit
    result = answer.result
    return {
        "values": plain(values),
        "bands": plain(bands),
        "levels": {},
        "margins": plain(margins),
        "limits": plain(allowed),
        "verdicts": verdicts,
        "mesh": {
            "cells": result.cells[-1] if result is not None else 0,
            "meshes": 3,
            "bracketed": int(result is not None and result.bracketed),
            "states": 1,
            "supports": int(answer.episode.support is not None),
        },
    }


def _numbers(
    answer: EpisodeAnswer, checks: dict[str, LimitCheck]
) -> tuple[dict[str, float], dict[str, float]]:
    banded: dict[str, Banded] = {}
    for path, extremes in answer.extremes.items():
        if path.endswith((".min", "_min")) or path == "passage":
            banded[path] = extremes.min
        elif path.endswith((".max", "_max", ".frozen")):
            banded[path] = extremes.max
    banded |= {f"first_broken.{limit}": broken.first for limit, broken in answer.broken.items()}
    for name in ("energy", "duty"):
        banded |= {f"{name}.{tracer}": value for tracer, value in getattr(answer, name).items()}
    for name in ("hold", "warm_up"):
        value = getattr(answer, name)
        if value is not None:
            banded[name] = value
    values = {path: value.value for path, value in banded.items()}
    bands = {path: value.band for path, value in banded.items()}
    if "frozen" in answer.extremes:
        frozen = answer.extremes["frozen"].max
        values["frozen_max"], bands["frozen_max"] = frozen.value, frozen.band
    for check in checks.values():
        if check.limit not in ("hold", "warm_up"):  # which may not have happened: then there is no number
            values[check.quantity], bands[check.quantity] = check.value, check.band
        if check.limit == "sheath_max":
            values["tracers.sheath_max"], bands["tracers.sheath_max"] = check.value, check.band
    return values, bands


def refuse_unfollowed(file: StudyFile, source: str, followed: tuple[str, ...]) -> None:
    """Raises CaseError where a key of an episode or of a control is varied and no episode is followed."""
    keys = [axis.key for axis in file.axes] + [entry.key for entry in file.uncertain]
    keys += [key for axis in file.axes for choice in axis.choices for key in choice.set]
    keys += [file.search.key] if file.search is not None else []
    for key in keys:
        if not followed and key is not None and key.partition(".")[0] in ("episode", "control"):
            message = f'are not followed, and "{key}" is varied; accepted: "all", or their names'
            raise CaseError(message, file=source, key="episodes")
