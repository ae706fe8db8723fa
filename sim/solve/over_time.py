"""An episode followed on three meshes, and on the coarsest once more with short steps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sim.case import Case
from sim.case.episode import STEADY, Control, Episode
from sim.heat.network import Network, network
from sim.section.shapes import Array
from sim.solve.at_rest import FINENESS, MeshStore, levels_of, transfer
from sim.solve.bounds import with_contents
from sim.solve.drive import at_start
from sim.solve.episode import TOLERANCE, section_record
from sim.solve.episode_result import EpisodeResult, Run, Series, courses_of, notes_of_switchings, series_of
from sim.solve.paths import of_episode
from sim.solve.runs import Task, follow_all
from sim.solve.states import same_state, steady_states
from sim.solve.steady import Solution
from sim.solve.stiff import State

TIGHTER = 0.25  # of the tolerance, of the run that tells what the steps leave uncertain


@dataclass(frozen=True)
class Start:
    """Where the runs of an episode begin: the ends of an earlier one, coarse, middle, fine and with short steps."""

    ends: tuple[State, ...]
    other: Start | None = None


def ends_of(result: EpisodeResult) -> Start:
    """Where an episode that begins at the end of this one starts."""
    ends = [run.track.end for run in (*result.runs, result.tight)]
    last = tuple(end for end in ends if end is not None)
    assert len(last) == len(ends)
    return Start(last, None if result.other is None else ends_of(result.other))


def solve_episode(
    case: Case,
    episode: Episode,
    controls: tuple[Control, ...] = (),
    meshes: MeshStore | None = None,
    fineness: float = FINENESS,
    start: Start | None = None,
    progress: Callable[[str], None] | None = None,
    tolerance: float = TOLERANCE,
    moments: tuple[float, ...] = (),
) -> EpisodeResult:
    """Follow an episode of a case narrowed to its condition; controls: of the whole case.

    start: the end of the earlier episode that it begins with; tolerance: error of a step, K; moments: those whose
    fields are kept (s). Raises NotConverged, or ValueError if the section cannot be meshed.
    """
    store = meshes or MeshStore()
    if case.contents.state == "buoyant":
        bounds = []
        for state in ("still", "mixed"):
            own = start.other if start is not None and state == "mixed" else start
            bound = with_contents(case, state=state)
            bounds.append(
                solve_episode(
                    bound,
                    episode,
                    controls,
                    store,
                    fineness,
                    own,
                    _named(progress, state),
                    tolerance,
                    moments,
                )
            )
        return _bracketed(case, *bounds)
    begins: list[tuple[Network, Array | State]] = []
    known: Solution | None = None
    for i, level in enumerate(levels_of(fineness)):
        net = network(case, store.get(case, level))
        if start is not None:
            begins.append((net, start.ends[i]))
        elif episode.start == STEADY:
            known = _steady(net, episode, known)
            begins.append((net, known.temperature))
        else:
            begins.append((net, np.full(net.nodes, float(episode.start))))
    coarse, middle, fine = (
        Task(net, episode, controls, begin, tolerance, shown, section_record)
        for (net, begin), shown in zip(begins, ((), (), moments), strict=True)
    )
    again = coarse.begin if start is None else start.ends[3]
    tasks = (coarse, replace(coarse, begin=again, tolerance=TIGHTER * tolerance), middle, fine)
    every = [
        Run(task.network, track, courses_of(case, episode, track))
        for task, track in zip(tasks, follow_all(tasks, progress), strict=True)
    ]
    time = np.unique(np.append(np.arange(0.0, episode.lasts, episode.every), episode.lasts))
    active = tuple(c for c in controls if c.name in episode.control)
    result = EpisodeResult(case, episode, active, (every[0], *every[2:]), every[1], time)
    return replace(result, series=series_of(result), notes=notes_of_switchings(result))


def _named(progress: Callable[[str], None] | None, state: str) -> Callable[[str], None] | None:
    return None if progress is None else lambda what: progress(f"{state} contents, {what}")


def _steady(net: Network, episode: Episode, known: Solution | None) -> Solution:
    """The condition's steady field at the first moment's ambient (and weather, where it is driven by that), tracers at
    full output: of several, the coldest."""
    there = replace(net, case=at_start(net.case, episode))
    if known is None:
        return steady_states(there).stable[0]
    return same_state(there, known, transfer(known, there))


def _bracketed(case: Case, still: EpisodeResult, mixed: EpisodeResult) -> EpisodeResult:
    """The still contents' answer with bands that take in the mixed ones'."""
    series = {}
    for path, one in still.series.items():
        other = mixed.series.get(path)
        band = one.band
        if other is not None and of_episode(path).band != "none":
            apart = np.abs(one.value - other.value) + other.band
            band = np.where(np.isfinite(apart), np.maximum(one.band, apart), one.band)
        series[path] = Series(one.value, band, float(band.max()) if len(band) else one.largest)
    note = (
        "in an episode moving contents are not resolved: values are those of contents that only conduct, and every band"
        " reaches to contents of one temperature"
    )
    return replace(still, case=case, series=series, other=mixed, notes=(*still.notes, note))
