"""An episode followed on three meshes, and on the coarsest once more with short steps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from time import perf_counter

import numpy as np

from sim.case import Case
from sim.case.episode import STEADY, Control, Episode
from sim.heat.network import Network, network
from sim.section.shapes import Array
from sim.solve.at_rest import FINENESS, MeshStore, levels_of, transfer
from sim.solve.bounds import with_contents
from sim.solve.drive import at_start
from sim.solve.episode import TOLERANCE, follow, standard_record
from sim.solve.episode_result import EpisodeResult, Run, Series, courses_of, notes_of_switchings, series_of
from sim.solve.paths import of_episode
from sim.solve.states import same_state, steady_states
from sim.solve.steady import Solution
from sim.solve.stiff import State

TIGHTER = 0.25  # of the tolerance, of the run that tells what the steps leave uncertain
WORK = (0.14, 0.22, 0.26, 0.38)  # usual shares of the time: coarse, coarse with short steps, middle, fine


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
    active = tuple(c for c in controls if c.name in episode.control)
    runs: list[Run] = []
    tight: Run | None = None
    known: Solution | None = None
    clock = _Progress(progress, episode.lasts)
    for i, level in enumerate(levels_of(fineness)):
        net = network(case, store.get(case, level))
        begin: Array | State
        if start is not None:
            begin = start.ends[i]
        elif episode.start == STEADY:
            known = _steady(net, episode, known)
            begin = known.temperature
        else:
            begin = np.full(net.nodes, float(episode.start))
        for finer in (1.0, TIGHTER) if i == 0 else (1.0,):
            at = start.ends[3] if start is not None and finer < 1.0 else begin
            tell = clock.of(net.mesh.cells)
            track = follow(
                net,
                episode,
                controls,
                at,
                finer * tolerance,
                standard_record,
                moments if i == 2 else (),
                tell,
            )
            run = Run(net, track, courses_of(case, episode, track))
            if finer < 1.0:
                tight = run
            else:
                runs.append(run)
    assert tight is not None
    every = episode.every
    time = np.unique(np.append(np.arange(0.0, episode.lasts, every), episode.lasts))
    result = EpisodeResult(case, episode, active, tuple(runs), tight, time)
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


class _Progress:
    """Says how far an episode is, and how long it will take."""

    def __init__(self, tell: Callable[[str], None] | None, lasts: float) -> None:
        self.tell, self.lasts, self.begin, self.run = tell, lasts, perf_counter(), -1

    def of(self, cells: int) -> Callable[[float], None] | None:
        """A listener for the next run."""
        self.run += 1
        if self.tell is None:
            return None
        done, share, tell = sum(WORK[: self.run]), WORK[self.run], self.tell

        def reached(time: float) -> None:
            part = done + share * time / self.lasts
            left = (perf_counter() - self.begin) * (1 / max(part, 1e-6) - 1)
            tell(f"{cells} cells, {time / 3600:.1f} of {self.lasts / 3600:.1f} h, about {left:.0f} s left")

        return reached
