"""A flow followed on one mesh until its averages stand: the start is cut off, the rest cut into stretches.

The heat that is left over is put right on the way (a line's mean follows within a day what its flow does within
minutes). What belongs to the start is cut off where the error of the mean of the rest is least (MSER: White, Simulation
69 (1997) 323-334, from memory). The rest is cut into ten stretches whose means are taken as independent (batch means:
Law, Simulation Modeling and Analysis, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from time import perf_counter

import numpy as np
from scipy.sparse import csr_matrix

from sim.case import Case
from sim.heat.network import network
from sim.section.shapes import Array
from sim.solve.at_rest import carried
from sim.solve.balance import evaluate
from sim.solve.bounds import touching, with_contents
from sim.solve.checkpoint import Chunk, Progress, restore, save
from sim.solve.direct import factor
from sim.solve.followed import COURANT, Following, capacity
from sim.solve.motion import Flow, Frames, State
from sim.solve.moving import Moving
from sim.solve.quantities import quantities
from sim.solve.steady import Solution, solve

# rounds of the contents (time integral of the greatest stream function) that one mean is taken over
CHUNK = 0.05
SETTLED = (0.9, 1.4)  # rounds after which the heat that is left over is put right
MOST_SETTLED = 4  # times at most that it is put right
LEAST, MOST, MORE = 3.0, 9.0, 1.0  # rounds followed at least, at most, and before the band is looked at again
MOST_STEPS = 30_000  # on one mesh
STRETCHES = 10
STUDENT = 2.262  # 95 % of Student's t with STRETCHES - 1 degrees of freedom
CUT = 0.5  # of what follows the last correction that may be cut off as the start's
ENOUGH = 0.01  # K: statistics of the coldest contents below which no more is asked for
LOW, HIGH = 0.05, 0.95  # shares of the time: the ends of the swing
VISCOUS = 4  # chunks after which a viscosity that varies is taken anew
TOLD = 10  # chunks after which something is told, though nothing is looked at
SAVE_EVERY = 10.0  # s after which a run saves what it can go on from; no answer depends on it
FRAMES = 24  # of the film: a little more than one round
FIT = 10  # steps between looks at their length
SURFACES = 8  # steps that settle the temperatures of surfaces at a start


class NotFollowed(RuntimeError):
    """The flow was not followed; the message says why."""


@dataclass(frozen=True)
class Track:
    """What is kept of a flow on one mesh: its chunks from the cut on.

    net: heat in less heat out of the mean field, W/m; settling: K per W/m by which the contents would still change;
    rounds, steps: followed in all; cut: rounds left out; late: whether it ended because its time was over.
    """

    moving: Moving
    chunks: tuple[Chunk, ...]
    net: float
    settling: float
    rounds: float
    steps: int
    cut: float
    late: bool = False

    def mean(self, chunks: tuple[Chunk, ...] | None = None) -> State:
        """Means over some chunks, over all by default."""
        each = chunks or self.chunks
        weight = [c.length for c in each]
        parts = ([c.temperature for c in each], [c.vorticity for c in each], [c.psi for c in each])
        return State(*(np.average(part, axis=0, weights=weight) for part in parts))

    @property
    def stretches(self) -> list[tuple[Chunk, ...]]:
        """The chunks of each of the stretches."""
        cut = np.array_split(np.arange(len(self.chunks)), STRETCHES)
        return [self.chunks[part[0] : part[-1] + 1] for part in cut if len(part)]

    def swing(self, coldest: bool) -> tuple[float, float]:
        """5th and 95th percentile in time of the rim's coldest (or hottest), less its mean, K."""
        step = np.concatenate([c.step for c in self.chunks])
        value = np.concatenate([c.low if coldest else c.high for c in self.chunks])
        order = np.argsort(value)
        low, high = np.interp((LOW, HIGH), np.cumsum(step[order]) / step.sum(), value[order])
        mean = float(np.average(value, weights=step))
        return float(low) - mean, float(high) - mean

    def frames(self, most: int = FRAMES) -> Frames:
        """The last chunks' ends, `most` of them, and the swing over all."""
        in_flow = self.moving.heat.flow_node
        temperature = np.array([c.end.temperature[in_flow] for c in self.chunks])
        low, high = np.percentile(temperature, (100 * LOW, 100 * HIGH), axis=0)
        shown = self.chunks[-most:]
        _, middle = self.moving.contents(self.mean().temperature)
        unit = self.moving.buoyancy.diameter**2 / self.moving.buoyancy.diffusivity(middle)
        second = unit * np.cumsum([c.length for c in shown])
        return Frames(second, temperature[-most:], np.array([c.end.psi for c in shown]), high - low)

    def coldest(self) -> tuple[float, float]:
        """Coldest of the flow's cells, averaged, and its statistical band with what is left over, K."""
        in_flow, mean = self.moving.heat.flow_node, self.mean().temperature
        at = int(in_flow[np.argmin(mean[in_flow])])
        means = [self.mean(part).temperature[at] for part in self.stretches]
        return float(mean[at]), batch_band(np.array(means)) + abs(self.net) * self.settling


def batch_band(means: Array) -> float:
    """Half width at 95 % of the mean of independent means (n,)."""
    return STUDENT * float(means.std(ddof=1)) / float(np.sqrt(len(means))) if len(means) > 1 else float("inf")


def kept_from(values: Array, least: int) -> int:
    """Where a series (n,) is cut so that the standard error of the rest's mean is least; `least` at the earliest."""
    last = least + int(CUT * (len(values) - least))
    errors = [values[k:].std() / np.sqrt(len(values) - k) for k in range(least, last + 1)]
    return least + int(np.argmin(errors))


def first_field(moving: Moving, case: Case, film: float) -> tuple[Array, Mapping[str, float]]:
    """Node temperatures of contents of one temperature behind a film, and that field's numbers, on the flow's mesh."""
    lumped = solve(network(with_contents(case, state="mixed", film_coefficient=film), moving.network.mesh))
    at_film = touching(lumped)
    temperature = carried(lumped.network, lumped.temperature, moving.network)
    temperature[moving.heat.flow_node] = at_film["contents.mean"]
    node = moving.network.cell_node
    # surfaces, which are not carried over
    free = np.setdiff1d(np.arange(moving.network.nodes), node[node >= 0])
    for _ in range(SURFACES if len(free) else 0):
        balance = moving.heat.balance(temperature)
        temperature[free] += factor(csr_matrix(balance.matrix[free][:, free])).solve(balance.residual[free])
    return temperature, at_film


def left_over(moving: Moving, temperature: Array) -> float:
    """Heat in less heat out of a field, W/m."""
    balance = evaluate(moving.network, temperature, moving.heat.law)
    return float(balance.heat.sum() - balance.leaving(temperature).sum())


def mean_solution(moving: Moving, temperature: Array, flow: Flow | None = None, steps: int = 0) -> Solution:
    """A field of node temperatures as a solution; its imbalance is what is left over."""
    balance = evaluate(moving.network, temperature, moving.heat.law)
    net = abs(float(balance.heat.sum() - balance.leaving(temperature).sum()))
    scale = max(float(balance.heat.sum()), 1e-3)
    return Solution(moving.network, temperature, balance, net, net / scale, steps, flow=flow)


def numbers(moving: Moving, temperature: Array) -> Mapping[str, float]:
    """The quantities of a field of node temperatures."""
    return quantities(mean_solution(moving, temperature))


@dataclass(frozen=True)
class Asked:
    """When a flow was followed long enough, and what is told and kept on the way.

    tell(rounds, coldest, band): the last two NaN as long as nothing is known; enough(coldest, band): K; until: moment
    (perf_counter) at which it ends with what it has; kept: file to go on from where it was stopped; most: rounds.
    """

    tell: Callable[[float, float, float], None]
    enough: Callable[[float, float], bool]
    until: float = float("inf")
    kept: Path | None = None
    most: float = MOST


def followed(moving: Moving, start: Array, uneven: Array, asked: Asked, courant: float = COURANT) -> Track:
    """Follow a flow from node temperatures (nodes,), at rest, its cells disturbed by `uneven` (n,) K.

    Raises NotFollowed.
    """
    flow = begun(moving, start, uneven, courant)
    give = np.zeros(len(start))
    give[moving.heat.flow_node] = moving.flow.area / moving.flow.area.sum()
    settles = factor(csr_matrix(flow.balance.matrix)).solve(give)  # K per W/m left over
    progress = (restore(asked.kept, flow) if asked.kept is not None else None) or Progress(LEAST)
    saved, late = perf_counter(), False
    while not progress.finished:
        late = perf_counter() > asked.until
        if asked.kept is not None and (late or perf_counter() - saved > SAVE_EVERY):
            save(asked.kept, flow, progress)
            saved = perf_counter()
        if late and progress.rounds < LEAST:
            raise NotFollowed(
                f"its time ended after {progress.rounds:.1f} rounds of the contents, {LEAST:g} are the least"
            )
        if not late:
            chunk, passed = _chunk(flow)
            progress.rounds += passed
            progress.chunks.append(chunk)
            if moving.fluid.thickness is not None and len(progress.chunks) % VISCOUS == 0:
                flow.refer(flow.state.temperature)
        progress.finished = _looked_at(moving, flow, progress, settles, asked, late)
    if asked.kept is not None and not late:
        save(asked.kept, flow, progress)
    return replace(_settled_part(moving, progress, progress.first, settles, flow.steps), late=late)


def _looked_at(
    moving: Moving, flow: Following, progress: Progress, settles: Array, asked: Asked, late: bool
) -> bool:
    """Put right the heat that is left over where it is due; whether the flow was followed long enough."""
    due = progress.settled < len(SETTLED) and progress.rounds > SETTLED[progress.settled] and not late
    if not (due or late) and progress.rounds < progress.look:
        if len(progress.chunks) % TOLD == 0:
            asked.tell(progress.rounds, float("nan"), float("nan"))
        return False
    track = _settled_part(moving, progress, 0 if due else progress.first, settles, flow.steps)
    coldest, band = track.coldest()
    if not due:
        asked.tell(progress.rounds, coldest, band)
        off = abs(track.net) * track.settling
        due = (
            off > 0.5 * max(ENOUGH, band - off)
            and progress.settled < MOST_SETTLED
            and progress.rounds < asked.most - 1.0
        )
    if late:
        return True
    if due:
        recent = track.mean(tuple(progress.chunks[-6:])).temperature
        flow.shift(left_over(moving, recent) * settles)
        progress.settled, progress.first = progress.settled + 1, len(progress.chunks)
        progress.look = max(LEAST, progress.rounds + LEAST - SETTLED[-1])
        return False
    progress.look = progress.rounds + MORE
    return progress.rounds >= asked.most or asked.enough(coldest, band)


def begun(moving: Moving, start: Array, uneven: Array, courant: float = COURANT) -> Following:
    """A flow at rest, about to be followed from node temperatures (nodes,) disturbed in its cells by (n,) K."""
    in_flow = moving.heat.flow_node
    law = moving.fluid.law(start[in_flow])
    _, middle = moving.contents(start)
    unit = moving.buoyancy.diameter**2 / moving.buoyancy.diffusivity(middle)
    stored = capacity(moving.network, start, in_flow, law.carries * moving.flow.area * unit) / unit
    rest = np.zeros(moving.flow.cells)
    flow = Following(moving.heat, moving.convection, moving.fluid, stored, State(start, rest, rest), courant)
    disturbed = start.copy()
    disturbed[in_flow] += uneven
    flow.state = flow.before = State(disturbed, rest, rest)
    return flow


def _chunk(flow: Following) -> tuple[Chunk, float]:
    """Follow a flow over one chunk; its means, and the rounds that passed."""
    state = flow.state
    sums = [np.zeros_like(x) for x in (state.temperature, state.vorticity, state.psi)]
    rounds, ends = 0.0, []
    while rounds < CHUNK:
        flow.step()
        if flow.steps % FIT == 0:
            flow.fit_step()
        state, step = flow.state, flow.length
        most = float(np.abs(state.psi).max())
        if not np.isfinite(most):
            raise NotFollowed("its steps became unstable")
        if flow.steps > MOST_STEPS:
            raise NotFollowed(f"its averages did not stand after {MOST_STEPS} steps")
        rounds += step * most
        for total, now in zip(sums, (state.temperature, state.vorticity, state.psi), strict=True):
            total += step * now
        rim = flow.rim(state.temperature)
        ends.append((step, float(rim.min()), float(rim.max())))
    step_, low, high = np.array(ends).T
    length = float(step_.sum())
    warm, vorticity, psi = (total / length for total in sums)
    return Chunk(length, warm, psi, vorticity, step_, low, high, state), rounds


def _settled_part(moving: Moving, progress: Progress, first: int, settles: Array, steps: int) -> Track:
    """The chunks from where the start no longer shows, `first` at the earliest."""
    in_flow = moving.heat.flow_node
    cut = kept_from(np.array([c.temperature[in_flow].min() for c in progress.chunks]), first)
    settling = float(np.average(settles[in_flow], weights=moving.flow.area))
    track = Track(moving, tuple(progress.chunks[cut:]), 0.0, settling, progress.rounds, steps, cut * CHUNK)
    return replace(track, net=left_over(moving, track.mean().temperature))
