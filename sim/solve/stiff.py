"""A stiff integrator for heat stored at nodes: three implicit stages of one coefficient, L-stable, third order.

Alexander, SIAM J. Numer. Anal. 14 (1977) 1006-1021, table 1 (stiffly accurate: a step ends at its last stage, so nodes
that store nothing need no starting value of their rate). The second-order formula on the first two stages, filtered
through the stage's own matrix (Hosea and Shampine, Appl. Numer. Math. 20 (1996) 21-37), gives the error of a step.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from sim.basics import Array

Solve = Callable[[Array], Array]
FlowChange = Callable[
    [Array], tuple[Array, float]
]  # of a change of temperature: of the flows, of all that arrives

GAMMA = 0.43586652150845899942  # root of g^3 - 3 g^2 + 3/2 g - 1/6 for which the scheme is L-stable
MIDDLE = 0.5 * (1.0 + GAMMA)
_B1 = -0.25 * (6 * GAMMA**2 - 16 * GAMMA + 1)
_B2 = 0.25 * (6 * GAMMA**2 - 20 * GAMMA + 5)
STAGES = ((GAMMA,), (MIDDLE - GAMMA, GAMMA), (_B1, _B2, GAMMA))
TIMES = (GAMMA, MIDDLE, 1.0)
_SECOND = (0.5 - GAMMA) / (MIDDLE - GAMMA)
ERROR = (_B1 - (1 - _SECOND), _B2 - _SECOND, GAMMA)  # third-order weights less the second-order formula's

STEP_RATIO = 2.0**0.5  # steps are held to a ladder of this ratio, so that factored matrices serve again
ROUND_UP = 0.2  # of a rung: a length this little below one takes it
KEPT = 6  # factored matrices kept, each for steps near one rung of the ladder
ENOUGH = 0.03  # of the tolerated error: what an iteration may leave of a stage, judged by how fast it shrinks
# power of a matrix's last contraction that is believed in the next stage, 0.8 a step (Hairer and Wanner II, IV.8)
FADING = 0.8 ** (1 / 3)
SHORTEST = 1e-9  # of an episode: a step that must be shorter is given up
EPSILON = float(np.finfo(float).eps)
TOLERANCE = 2e-6  # imbalance of a stage over all nodes, as a part of the heat that flows; energy closes whatever it is
ITERATIONS = 20  # of one stage, after which the step is halved
BOLDEST_GUESS = (
    5.0  # K: a node whose temperature is expected to change by more in a stage starts from where it is
)
WILDEST = (
    0.3  # an iteration that changes a temperature by more, as a part of the lowest, K over K, is given up
)
SLOW = 0.25  # a stage's matrix is factored anew when an iteration shrinks the imbalance by less than this
SAFETY, GROWTH, SHRINK = 0.9, 4.0, 0.2  # of the step that the error asks for (Hairer and Wanner II, IV.8)


class StepFailed(RuntimeError):
    """A step could not be solved however short it was."""


class Store(Protocol):
    """Heat stored at the nodes: enthalpy J/m against temperature K, both (nodes,)."""

    def temperature(self, enthalpy: Array, free: Array) -> Array:
        """Temperatures of an enthalpy; nodes that store nothing keep those of `free`."""

    def capacity(self, enthalpy: Array, temperature: Array) -> Array:
        """dH/dT, J/m/K; 0 for nodes that store nothing, a very large number at a melting point."""


class System(Protocol):
    """Heat balance of nodes over time."""

    @property
    def store(self) -> Store:
        """What the nodes store."""

    def rate(self, time: float, temperature: Array, enthalpy: Array) -> Array:
        """Heat arriving at each node less heat leaving it, W/m."""

    def flows(self) -> Array:
        """Heat flows at the last `rate` whose integral over time is wanted, W/m, any number of them."""

    def factor(self, diagonal: Array) -> Solve:
        """A function that solves with minus the derivative of the last `rate` by temperature, as far as it is kept in a
        matrix, and a diagonal (nodes,) more, W/m/K."""

    def scale(self) -> float:
        """Heat that flows, W/m: what an imbalance is set beside."""

    def rounding(self, temperature: Array) -> float:
        """What rounding leaves of a balance at these temperatures, W/m."""

    def norm(self, change: Array, stored: Array) -> float:
        """Size of an error, as a part of what is tolerated: in temperature (nodes,) K, in enthalpy (nodes,) J/m."""


@dataclass(frozen=True)
class State:
    """Moment (s), temperature (nodes,) K, enthalpy (nodes,) J/m."""

    time: float
    temperature: Array
    enthalpy: Array


@dataclass(frozen=True)
class Step:
    """One step: the states at its ends, the rate of the enthalpy at its end (nodes,) W/m, and what its system's flows
    passed in it, J/m."""

    old: State
    new: State
    rate: Array
    passed: Array


@dataclass
class Factored:
    """A factored matrix of a stage: its solution, the capacity in it, the flows' changes as it has them, and by how
    much an iteration with it shrank the one before."""

    solve: Solve
    capacity: Array
    changes: FlowChange | None
    contraction: float = 1.0


class Stepper:
    """Takes steps of a system, keeping what serves from one step to the next.

    linear: gives the flows' changes at the last `rate` as its matrix has them; with it a stage ends when what an
    iteration may leave is small beside the tolerated error, without it only on a balance that is met. kept: factored
    matrices.
    """

    def __init__(
        self,
        system: System,
        linear: Callable[[], FlowChange] | None = None,
        kept: int = KEPT,
        opening: float = float("inf"),
    ) -> None:
        self.system, self.linear, self.kept = system, linear, kept
        self.factors: OrderedDict[float, Factored] = OrderedDict()
        self.rate: Array | None = None
        self.longest = float("inf")  # s: a step that skips none of what drives the system
        self.opening = (
            opening  # s: the first step after a jump, as the errors of the last such steps leave it
        )
        self.ahead = opening  # s: the next step, if its error is as expected
        self.last: tuple[float, float] | None = (
            None  # length and error of the step before, since the last jump
        )
        self.factored = self.iterations = self.rejected = 0

    def forget(self) -> None:
        """After a jump: what was known of the rate no longer holds."""
        self.rate, self.last, self.ahead = None, None, self.opening

    def march(self, state: State, stop: float, first: float = float("inf")) -> Iterator[Step]:
        """Accepted steps from a state to `stop` (s), the first of at most `first` seconds. Raises StepFailed."""
        self.ahead = min(self.ahead, first)
        while state.time < stop:
            left = stop - state.time
            length = min(self._rung(min(self.ahead, self.longest)), left)
            if length > 0.5 * left and length < left:
                length = 0.5 * left
            trial = self.step(state, length)
            if trial is None or trial[1] > 1.0:
                self.rejected += 1
                self.ahead = length * (SHRINK if trial is None else self._change(length, trial[1]))
                if trial is None and self.ahead < SHORTEST * max(stop, 1.0):
                    raise StepFailed(
                        f"the heat balance did not settle at {state.time:.6g} s, even with a step of {length:.2g} s"
                    )
                continue
            step, error = trial
            change = self._change(length, error)
            # the last stretch before a stop says little of how long the next may be
            cut = length < self._rung(min(self.ahead, self.longest)) and change >= 1.0
            if self.last is None and not cut:
                self.opening = change * length
            self.ahead = max(change * length, self.ahead if cut else 0.0)
            self.last = length, error
            state = step.new
            self.rate = step.rate
            yield step

    def _change(self, length: float, error: float) -> float:
        """Part of its length that a step with this error may have, or the next one after it: the errors go with the
        third power of the length, and from step to step as the last two (Gustafsson, ACM Trans. Math. Softw. 20 (1994)
        496-517)."""
        size = max(error, 1e-12)
        change: float = SAFETY * size ** (-1 / 3)
        if self.last is not None and error <= 1.0:
            before, its_error = self.last
            change *= length / before * (max(its_error, 1e-12) / size) ** (1 / 3)
        return min(max(change, SHRINK), GROWTH)

    def step(self, state: State, length: float) -> tuple[Step, float] | None:
        """One step (s) and the size of its error as a part of what is tolerated; None if it does not converge."""
        system = self.system
        rates: list[Array] = []
        flows: list[Array] = []
        enthalpy, temperature = state.enthalpy, state.temperature
        for weights, part in zip(STAGES, TIMES, strict=True):
            base = state.enthalpy.copy()
            for weight, rate in zip(weights[:-1], rates, strict=True):
                base += length * weight * rate
            guess, ahead = enthalpy, rates[-1] if rates else self.rate
            if ahead is not None:
                guess = base + GAMMA * length * ahead
                bold = np.abs(system.store.temperature(guess, temperature) - temperature) > BOLDEST_GUESS
                guess = np.where(bold, enthalpy, guess)
            solved = self._stage(state.time + part * length, base, GAMMA * length, guess, temperature)
            if solved is None:
                return None
            enthalpy, temperature, flow = solved
            rates.append((enthalpy - base) / (GAMMA * length))
            flows.append(flow)
        new = State(state.time + length, temperature, enthalpy)
        lost = length * (np.array(ERROR) @ np.array(rates))
        key = self._key(GAMMA * length)
        if key not in self.factors:  # every stage was met where it began
            self._factor(key, GAMMA * length, system.store.capacity(enthalpy, temperature))
        error = system.norm(self.factors[key].solve(lost / (GAMMA * length)), lost)
        return Step(state, new, rates[-1], length * (np.array(STAGES[-1]) @ np.array(flows))), error

    def _stage(
        self, time: float, base: Array, span: float, enthalpy: Array, temperature: Array
    ) -> tuple[Array, Array, Array] | None:
        """Solve H - span * rate(T(H)) = base; nodes that store nothing: rate = 0. None if it does not settle.

        Enthalpy, temperature, flows.
        """
        system, store = self.system, self.system.store
        key, before, shrunk = self._key(span), np.inf, np.inf
        for _ in range(ITERATIONS):
            self.iterations += 1
            temperature = store.temperature(enthalpy, temperature)
            if float(temperature.min()) <= 0.0:
                return None
            capacity = store.capacity(enthalpy, temperature)
            stores = capacity > 0
            arriving = system.rate(time, temperature, enthalpy)
            left = arriving + np.where(stores, (base - enthalpy) / span, 0.0)
            imbalance = float(np.abs(left).sum())
            if not np.isfinite(imbalance):
                return None
            stored = EPSILON * float((np.abs(base) + np.abs(enthalpy)).sum()) / span
            if imbalance <= TOLERANCE * system.scale() + stored + system.rounding(temperature):
                return _closed(enthalpy, span * float(left.sum()), capacity), temperature, system.flows()
            known = self.factors.get(key)
            changed = known is not None and _differ(capacity, known.capacity)
            if known is None or changed or imbalance > SLOW * before:
                known = self._factor(key, span, capacity)
            self.factors.move_to_end(key)
            change = known.solve(left)
            if float(np.abs(change).max()) > WILDEST * float(temperature.min()):
                return None
            enthalpy = enthalpy + known.capacity * change
            temperature = np.where(stores, temperature, temperature + change)
            before = imbalance
            if known.changes is not None:
                size = system.norm(change, known.capacity * change)
                known.contraction = size / shrunk if np.isfinite(shrunk) else known.contraction**FADING
                shrunk = max(size, 1e-30)
                if size * known.contraction <= ENOUGH * (1.0 - known.contraction) and not _differ(
                    store.capacity(enthalpy, temperature), known.capacity
                ):
                    more, net = known.changes(change)
                    missing = float((base - enthalpy).sum()) + span * (float(arriving.sum()) + net)
                    enthalpy = _closed(enthalpy, missing, capacity)
                    return enthalpy, store.temperature(enthalpy, temperature), system.flows() + more
        return None

    def _factor(self, key: float, span: float, capacity: Array) -> Factored:
        """Factor the matrix of a stage, and keep it under its key."""
        changes = None if self.linear is None else self.linear()
        known = Factored(self.system.factor(capacity / span), capacity, changes)
        self.factored += 1
        self.factors[key] = known
        while len(self.factors) > self.kept:
            self.factors.popitem(last=False)
        return known

    @staticmethod
    def _rung(length: float) -> float:
        """The next lower length of the ladder."""
        return float(STEP_RATIO ** np.floor(np.log(length) / np.log(STEP_RATIO) + ROUND_UP))

    @staticmethod
    def _key(span: float) -> float:
        """Steps within a rung of each other share a matrix."""
        return float(np.round(np.log(span) / np.log(STEP_RATIO)))


def _closed(enthalpy: Array, missing: float, capacity: Array) -> Array:
    """The enthalpy with what an iteration left of the whole balance, J/m, so that what flows is what is stored: all
    nodes by their capacity, as those that store next to nothing must not take their own."""
    closed: Array = enthalpy + missing * capacity / float(capacity.sum())
    return closed


def _differ(capacity: Array, other: Array) -> bool:
    """Whether a node freezes or thaws in one and not in the other."""
    return bool((np.abs(capacity - other) > 0.5 * (capacity + other)).any())
