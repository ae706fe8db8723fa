"""Random episodes over the whole schema, each from one seed, followed on small meshes. Every number is invented.

An episode may end without convergence, which is an answer (exit code 3); it may not crash, lose energy, or leave the
temperatures between which it lives.
"""

import json
import math
import traceback
from dataclasses import dataclass
from typing import Any

import numpy as np
from random_cases import TRIES, _Draw
from random_whole import _later, whole_raw

from sim.case import Case, CaseError, case_for, parse_case
from sim.case.episode import STEADY, Episode
from sim.heat.network import network
from sim.judge.check import check
from sim.report.results import as_json, results
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.section.shapes import Array
from sim.solve.episode import Track, follow, standard_record
from sim.solve.states import steady_states
from sim.solve.steady import NotConverged
from sim.solve.stiff import State

FINENESS = 0.7  # of the mesh, or of the finest of three
JUDGED = 25  # one seed of so many is judged whole, on three meshes
TOLERANCE = 0.4  # K, error of a step
CLOSES = 1e-8  # of the heat that passed
BEYOND = 1.5  # K past the temperatures that drive it: what some steps tolerate
IN_SPACE = 40  # one seed of so many follows the field around a support


@dataclass(frozen=True)
class Outcome:
    """How a random episode ended: "ended", "not converged", "refused" (no mesh this coarse), or a fault's name."""

    seed: int
    end: str
    reason: str


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
        first["lasts"] = f"{d.spread(3.0, 16.0):g} h"
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


def outcome_of(seed: int) -> Outcome:
    """Follow the episodes of a seed; what ends them is kept, not raised."""
    try:
        end, reason = _solved(episode_raw(seed), judged=seed % JUDGED == 0)
    except Exception as error:
        last = traceback.extract_tb(error.__traceback__)[-1]
        end = f"crash: {type(error).__name__}"
        reason = f"{str(error)[:200]} ({last.filename.rpartition('/')[2]}, line {last.lineno})"
    return Outcome(seed, end, reason)


def _solved(raw: dict[str, Any], judged: bool) -> tuple[str, str]:
    case = parse_case(raw)
    try:
        if case.supports or judged:
            return _judged(case)
        return _followed(case)
    except NotConverged as error:
        return "not converged", str(error)
    except ValueError as refusal:
        if "to be meshed" in str(refusal) or "memory" in str(refusal):
            return "refused", str(refusal)
        raise


def _followed(case: Case) -> tuple[str, str]:
    """Every episode on one mesh, from its start or from the end of the one before."""
    ends: dict[str, State] = {}
    for episode in case.episodes:
        narrowed = case_for(case, episode.condition)
        if narrowed.contents.state == "buoyant":  # followed as still and as mixed
            narrowed = narrowed.model_copy(
                update={"contents": narrowed.contents.model_copy(update={"state": "still"})}
            )
        net = network(narrowed, plan_mesh(place(narrowed), FINENESS))
        start: Array | State
        if episode.start in ends:
            start = ends[str(episode.start)]
        elif episode.start == STEADY:
            start = steady_states(net).stable[0].temperature
        else:
            start = np.full(net.nodes, float(episode.start))
        track = follow(net, episode, case.controls, start, TOLERANCE, standard_record)
        assert track.end is not None
        ends[episode.name] = track.end
        if fault := _unsound(episode, narrowed, track):
            return fault
    return "ended", ""


def _judged(case: Case) -> tuple[str, str]:
    """The whole answer of the command, on three meshes."""
    whole = check(case, fineness=FINENESS, memory=1e9)
    if not finite(json.loads(as_json(results(whole)))):
        return "numbers that are none", ""
    for answer in whole.episodes:
        if answer.result is None:
            return ("not converged", answer.failure) if answer.failure else ("silent", "no answer, no reason")
        runs = [*answer.result.runs, answer.result.tight]
        runs += answer.result.other.runs if answer.result.other is not None else ()
        for run in runs:
            if fault := _unsound(answer.episode, run.network.case, run.track):
                return fault
    return "ended", ""


def _unsound(episode: Episode, case: Case, track: Track) -> tuple[str, str] | None:
    """What no episode may do, if this one did."""
    if not abs(track.closure) < CLOSES:
        return "energy does not close", f"{episode.name}: {track.closure:.2e}"
    for path, values in track.values.items():
        if np.isinf(values).any() or (np.isnan(values).any() and not np.isnan(values).all()):
            return "a series with holes", f"{episode.name}: {path}"
    frozen = track.values.get("frozen", [0.0])
    if not -1e-9 <= min(frozen) <= max(frozen) <= 1 + 1e-9:
        return "frozen share is no share", f"{episode.name}: {min(frozen)} to {max(frozen)}"
    coldest = _coldest_driver(episode, case, track)
    for path in ("contents.min", "wall.min"):
        least = float(np.nanmin([*track.values.get(path, ()), np.inf]))
        if least < coldest - BEYOND:
            return "colder than anything beside it", f"{episode.name}: {path} {least:.2f} < {coldest:.2f} K"
    return None


def _coldest_driver(episode: Episode, case: Case, track: Track) -> float:
    """The coldest of what the line can lose heat to, and of its start, K."""
    coldest = [min(track.values["ambient"])]
    coldest += [track.values[path][0] for path in ("contents.min", "wall.min") if path in track.values]
    coldest += [float(field.min()) for _, field, _ in track.fields[:1]]  # none is kept around a support
    ends = (support.leg.end_temperature for support in case.supports if support.leg is not None)
    coldest += [end for end in ends if end is not None]
    if episode.contents_temperature is not None:
        coldest += episode.contents_temperature.values
    coldest += [c.contents_temperature for c in episode.changes if c.contents_temperature is not None]
    if case.contents.temperature is not None:
        coldest.append(case.contents.temperature)
    sky = case.conditions[0].sky is not None or episode.weather is not None
    return min(coldest) - (60.0 if sky else 0.0)


def finite(tree: Any) -> bool:
    if isinstance(tree, dict | list | tuple):
        return all(map(finite, tree.values() if isinstance(tree, dict) else tree))
    return not isinstance(tree, float) or math.isfinite(tree)
