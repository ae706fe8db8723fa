"""Random episodes over the whole schema, each from one seed, lived through on small meshes. Every number is invented.

    python tests/random_episodes.py 200

lives 200 of them and counts how they end. An episode may end without convergence, which is an answer (exit code 3);
it may not crash, lose energy, or leave the temperatures between which it lives.
"""

from __future__ import annotations

import json
import math
import sys
import traceback
from collections import Counter
from dataclasses import dataclass
from time import process_time
from typing import Any

import numpy as np
from random_cases import TRIES, _Draw
from random_whole import _later, whole_raw

from sim.case import CaseError, parse_case
from sim.judge.check import check
from sim.judge.episode_answers import EpisodeAnswer, judge_episodes
from sim.report.results import as_json, results
from sim.solve.at_rest import MeshStore
from sim.solve.over_time import EpisodeResult

FINENESS = 1.0  # of the finest of three meshes
CLOSES = 1e-8  # of the heat that passed
BEYOND = 0.5  # K past the temperatures that drive it: ten times what a step tolerates
IN_SPACE = 40  # one seed of so many follows the field around a support


@dataclass(frozen=True)
class Lived:
    """How a random episode ended: "lived", "not converged", "refused" (no mesh this coarse), or a fault's name."""

    seed: int
    end: str
    said: str
    seconds: float


def episode_raw(seed: int) -> dict[str, Any]:
    """A valid case over the whole schema with one condition and one or two episodes."""
    d = _Draw(seed + 2 * 10**6)
    for _ in range(TRIES):
        raw = whole_raw(seed)
        raw["condition"] = [raw["condition"][0] if d.chance(0.5) else raw["condition"][-1] | {"name": "now"}]
        in_space = seed % IN_SPACE == IN_SPACE - 1 and "support" in raw
        if in_space:
            raw["support"] = raw["support"][:1]
        else:
            raw.pop("support", None)
        raw |= _later(d, raw)
        first = raw["episode"][0]
        first["lasts"] = f"{d.spread(3.0, 72.0):g} h"
        if d.chance(0.5):
            first.pop("change")
        if d.chance(0.4):
            first["start"] = d.celsius(-25.0, 60.0)
        if d.chance(0.3):
            raw["episode"].append(
                {"name": "E2", "condition": "now", "lasts": "6 h", "start": "E1", "control": ["C1"]}
                | ({"support": first["support"]} if in_space else {})
            )
        try:
            parse_case(raw)
        except CaseError:
            continue
        return raw
    raise RuntimeError(f"no valid episode in {TRIES} draws of seed {seed}")


def live(seed: int) -> Lived:
    """Live through the episodes of a seed; whatever it dies of is told, not raised."""
    begin = process_time()
    try:
        end, said = _lived(episode_raw(seed))
    except Exception as error:
        last = traceback.extract_tb(error.__traceback__)[-1]
        end = f"crash: {type(error).__name__}"
        said = f"{str(error)[:200]} ({last.filename.rpartition('/')[2]}, line {last.lineno})"
    return Lived(seed, end, said, process_time() - begin)


def _lived(raw: dict[str, Any]) -> tuple[str, str]:
    case = parse_case(raw)
    try:
        if case.supports:
            whole = check(case, fineness=FINENESS, memory=1e9)
            if not _finite(json.loads(as_json(results(whole)))):
                return "numbers that are none", ""
            answers = list(whole.episodes)
        else:
            answers = judge_episodes(case, case.episodes, MeshStore(), FINENESS)
    except ValueError as refusal:
        if "to be meshed" in str(refusal) or "memory" in str(refusal):
            return "refused", str(refusal)
        raise
    for answer in answers:
        if answer.result is None:
            return ("not converged", answer.failure) if answer.failure else ("silent", "no answer, no reason")
        for result in (answer.result, answer.result.other):
            if result is not None and (fault := _unsound(answer, result)):
                return fault
    return "lived", ""


def _unsound(answer: EpisodeAnswer, result: EpisodeResult) -> tuple[str, str] | None:
    """What no episode may do, if this one did."""
    for run in (*result.runs, result.tight):
        if not abs(run.track.closure) < CLOSES:
            return "energy does not close", f"{answer.name}: {run.track.closure:.2e}"
    for path, series in result.series.items():
        if np.isnan(series.value).any() and not np.isnan(series.value).all():
            return "a series with holes", f"{answer.name}: {path}"
        if np.isinf(series.value).any():
            return "a series without end", f"{answer.name}: {path}"
    frozen = result.fine.courses.get("frozen")
    if frozen is not None and not -1e-9 <= frozen.value.min() <= frozen.value.max() <= 1 + 1e-9:
        return "frozen share is no share", f"{answer.name}: {frozen.value.min()} to {frozen.value.max()}"
    coldest = _coldest_driver(result)
    for path in ("contents.min", "wall.min"):
        course = result.fine.courses.get(path)
        if course is not None and np.nanmin(course.value, initial=math.inf) < coldest - BEYOND:
            return (
                "colder than anything beside it",
                f"{answer.name}: {path} {np.nanmin(course.value)} < {coldest}",
            )
    return None


def _coldest_driver(result: EpisodeResult) -> float:
    """The coldest of what the line can lose heat to, and of its start, K."""
    track, episode = result.track, result.episode
    coldest = [min(track.values["ambient"]), float(track.fields[0][1].min())]
    if episode.contents_temperature is not None:
        coldest += episode.contents_temperature.values
    coldest += [c.contents_temperature for c in episode.changes if c.contents_temperature is not None]
    if result.case.contents.temperature is not None:
        coldest.append(result.case.contents.temperature)
    sky = result.case.conditions[0].sky is not None or episode.weather is not None
    return min(coldest) - (60.0 if sky else 0.0)


def _finite(tree: Any) -> bool:
    if isinstance(tree, dict | list):
        return all(map(_finite, tree.values() if isinstance(tree, dict) else tree))
    return not isinstance(tree, float) or math.isfinite(tree)


def main(count: int, first: int = 0) -> int:
    """Live so many, tell of each that did not simply live, and count the ends; 1 if one ended in a fault."""
    ends: Counter[str] = Counter()
    slowest: list[Lived] = []
    for seed in range(first, first + count):
        lived = live(seed)
        ends[lived.end] += 1
        slowest = sorted([*slowest, lived], key=lambda one: -one.seconds)[:5]
        if lived.end != "lived":
            print(f"{lived.seed:5d} {lived.end}: {lived.said} ({lived.seconds:.0f} s)", flush=True)
    print(", ".join(f"{number} {end}" for end, number in ends.most_common()))
    print("slowest:", ", ".join(f"{one.seed} {one.seconds:.0f} s" for one in slowest))
    return 1 if set(ends) - {"lived", "not converged", "refused"} else 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
