"""The runs of an episode, one after the other, and half of the work in a second process where there is one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from time import perf_counter

from sim.beside import Beside
from sim.case.episode import Control, Episode
from sim.heat.network import Network
from sim.section.shapes import Array
from sim.solve.episode import Record, Track, follow
from sim.solve.stiff import State

TOLD_EVERY = 0.3  # s between two tellings of how far a run is
POWER = 1.2  # of the nodes with which the time of a step goes
SHORTER = 1.6  # times as many steps with a quarter of the tolerance


@dataclass(frozen=True)
class Task:
    """One run of an episode: as of `sim.solve.episode.follow`. record makes what is kept of it on its network."""

    network: Network
    episode: Episode
    controls: tuple[Control, ...]
    begin: Array | State
    tolerance: float
    moments: tuple[float, ...]
    record: Callable[[Network], Record]

    def follow(self, tell: Callable[[float], None] | None) -> Track:
        """Take the network through the episode; tell: of the moment reached, s."""
        record = self.record(self.network)
        return follow(
            self.network,
            self.episode,
            self.controls,
            self.begin,
            self.tolerance,
            record,
            self.moments,
            tell,
        )


def follow_all(tasks: Sequence[Task], tell: Callable[[str], None] | None) -> list[Track]:
    """The tracks of all tasks, in their order. Raises NotConverged."""
    largest = max(task.tolerance for task in tasks)
    work = [t.network.nodes**POWER * (1.0 if t.tolerance == largest else SHORTER) for t in tasks]
    away = _half(work)
    shown = _Progress(tasks, work, away, tell)
    tracks = {}
    with Beside(_tracks, [tasks[i] for i in away]) as beside:
        for i in range(len(tasks)):
            if i not in away:
                tracks[i] = tasks[i].follow(partial(shown.reached, i, beside))
        others = beside.answer(partial(shown.waiting, beside))
    tracks |= dict(zip(away, others, strict=True))
    return [tracks[i] for i in range(len(tasks))]


def _half(work: Sequence[float]) -> list[int]:
    """Those of the tasks whose work together is nearest to half of all, the one with the most among them."""
    chosen = [max(range(len(work)), key=work.__getitem__)]
    for i in sorted(range(len(work)), key=work.__getitem__):
        if i not in chosen and sum(work[k] for k in chosen) + work[i] <= 0.55 * sum(work):
            chosen.append(i)
    return chosen


def _tracks(tasks: Sequence[Task], tell: Callable[[float], None]) -> list[Track]:
    """The tracks of some tasks; tell: of the tasks that are done and the part of the next."""
    last = perf_counter()

    def reached(done: int, time: float) -> None:
        nonlocal last
        if perf_counter() - last > TOLD_EVERY:
            last = perf_counter()
            tell(done + time / tasks[done].episode.lasts)

    return [task.follow(partial(reached, done)) for done, task in enumerate(tasks)]


class _Progress:
    """Tells how far the runs are, and how long they will take. away: the tasks that a call beside is at."""

    def __init__(
        self,
        tasks: Sequence[Task],
        work: Sequence[float],
        away: Sequence[int],
        tell: Callable[[str], None] | None,
    ) -> None:
        self.tasks, self.work, self.away, self.tell = tasks, work, away, tell
        self.part = [0.0] * len(tasks)  # of each that is done
        self.begin = self.last = perf_counter()

    def reached(self, task: int, beside: Beside[list[Track]], time: float) -> None:
        """A task has reached a moment, s."""
        self.part[task] = time / self.tasks[task].episode.lasts
        self._show(task, beside)

    def waiting(self, beside: Beside[list[Track]]) -> None:
        """The call beside goes on alone."""
        self._show(self.away[min(int(beside.reached), len(self.away) - 1)], beside)

    def _show(self, task: int, beside: Beside[list[Track]]) -> None:
        now = perf_counter()
        if self.tell is None or now - self.last < TOLD_EVERY:
            return
        self.last = now
        for k, i in enumerate(self.away):
            self.part[i] = min(max(beside.reached - k, 0.0), 1.0)
        done = sum(p * w for p, w in zip(self.part, self.work, strict=True)) / sum(self.work)
        left = (now - self.begin) * (1 / max(done, 1e-6) - 1)
        net, lasts = self.tasks[task].network, self.tasks[task].episode.lasts
        reached = f"{self.part[task] * lasts / 3600:.1f} of {lasts / 3600:.1f} h"
        self.tell(f"{len(net.made.volume)} cells, {reached}, about {left:.0f} s left")
