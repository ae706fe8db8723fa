"""All steady states of a section whose tracers give more where the wall is warmer.

With outputs that never rise with temperature the steady state is one: what a section loses rises with every wall
temperature, so loss less output is a P-function (Gale and Nikaido, Math. Annalen 159 (1965) 81). A table that rises,
or a sawtooth, may have several states. They are found in the temperatures beneath the tracers alone: for given outputs
the field is one, and nearly linear in them; every combination of pieces of the tables gives one candidate, from which
the field itself is solved. The degrees of all states add up to 1 (Ortega and Rheinboldt 1970, chapter 6): if those
found do not, one was missed.

A state is stable where a small rise of the walls brings less heat than it takes to hold: all eigenvalues of (response
of the walls to the outputs) x (slopes of the tables) have real parts below 1. For slopes that rise this is exact
whatever the parts store, for the matrix of the storing network has no negative entry off its diagonal.
"""

from dataclasses import dataclass, replace

import numpy as np

from sim.case import Case, Output
from sim.heat.network import Network
from sim.heat.tracer import tracer_slope, tracer_watts
from sim.section.shapes import Array
from sim.solve.balance import evaluate, residual
from sim.solve.steady import NO_HEAT, NotConverged, Solution, solve

SEEDS = np.linspace(0.0, 1.0, 5)  # outputs from least to most at which the field's response is taken first
# of the way from where the response was taken: how far beyond its piece a candidate is still tried
NEAR = 0.1
APART = 1e-3  # K, states nearer than this are one
PROBE = 0.01  # of the heat, by which an output is moved to see what the walls do
MET = 1e-9  # of the heat: difference between outputs and tables at which a state is settled
MOST_PIECES, MOST_STATES, MOST_STEPS = 100_000, 64, 8


@dataclass(frozen=True)
class States:
    """Steady states of a network by rising mean temperature. complete: whether they are known to be all."""

    stable: tuple[Solution, ...]
    unstable: tuple[Solution, ...]
    complete: bool


@dataclass(frozen=True)
class _Point:
    """A field at given outputs: wall (n,) K beneath the tracers, watts (n,), and per W/m of each tracer the walls'
    rise (n, n) and the nodes' rise (nodes, n)."""

    solution: Solution
    wall: Array
    watts: Array
    response: Array
    rise: Array


def may_have_several(case: Case) -> bool:
    """Whether a powered tracer's output rises with temperature anywhere, in a case narrowed to one condition."""
    condition = case.conditions[0]
    return condition.supply > 0 and any(
        t.on and t.output.kind == "table" and (np.diff(t.output.powers) > 0).any() for t in case.tracers
    )


def steady_states(network: Network, start: Array | None = None) -> States:
    """Every steady state of a network; one solve where the outputs do not rise. Raises NotConverged."""
    if not may_have_several(network.case):
        return States((solve(network, start),), (), True)
    pieces = [_pieces(network.case, i) for i in range(len(network.case.tracers))]
    if np.prod([float(len(p)) for p in pieces]) > MOST_PIECES:
        return States((solve(network, start),), (), False)
    points, known, complete = _seeds(network, pieces), list[_Point](), True
    for point in points:
        for wall in _candidates(point, pieces):
            if len(known) >= MOST_STATES:
                complete = False
                break
            if _known(wall, known) or _distance(wall, point) > min(_distance(wall, p) for p in points):
                continue  # found already, or told better by a nearer point
            state = _settle(network, point, wall, pieces)
            if state is not None and not _known(state.wall, known):
                known.append(state)
                points.append(state)
    known.sort(key=lambda state: float(state.wall.mean()))
    gains = [_gain(network, state) for state in known]
    degree = sum(np.sign(np.linalg.det(np.eye(len(gain)) - gain)) for gain in gains)
    holds = [_is_stable(gain) for gain in gains]
    if not any(holds):
        raise NotConverged(
            "no stable steady state was found, though the tracers' output rises with temperature"
        )
    solved = [_own_balance(network, state.solution) for state in known]
    return States(
        tuple(s for s, stable in zip(solved, holds, strict=True) if stable),
        tuple(s for s, stable in zip(solved, holds, strict=True) if not stable),
        complete and degree == 1.0,
    )


def same_state(network: Network, other: Solution, start: Array) -> Solution:
    """The state of a finer network that belongs to one of a coarser; start: the nodes' temperatures there, K.

    Raises NotConverged where there is no stable one near it.
    """
    if not may_have_several(network.case):
        return solve(network, start)
    pieces = [_pieces(network.case, i) for i in range(len(network.case.tracers))]
    point = _point(network, other.balance.watts, start)
    state = _settle(network, point, other.network.beneath @ other.temperature, pieces)
    if state is None or not _is_stable(_gain(network, state)):
        raise NotConverged("a steady state of the coarser mesh was not found again on the finer one")
    return _own_balance(network, state.solution)


def _gain(network: Network, state: _Point) -> Array:
    """Rise of the walls by the change of output that a rise of the walls brings, (n, n)."""
    return state.response * _slopes(network.case, state.wall)


def _is_stable(gain: Array) -> bool:
    return bool(np.linalg.eigvals(gain).real.max() < 1.0)


def _settle(network: Network, point: _Point, wall: Array, pieces: list[Array]) -> _Point | None:
    """The state that a candidate leads to: the nearest one of the response taken anew, until the tables are met."""
    for _ in range(MOST_STEPS):
        watts = _watts(network.case, wall)
        guess = point.solution.temperature + point.rise @ (watts - point.watts)
        try:
            point = _point(network, watts, guess)
        except NotConverged:
            return None
        if np.abs(_watts(network.case, point.wall) - watts).max() <= MET * max(float(watts.sum()), 1.0):
            return point
        near = _candidates(point, pieces)
        if not len(near):
            return None
        wall = near[np.argmin(np.abs(near - wall).max(axis=1))]
    return None


def _own_balance(network: Network, solution: Solution) -> Solution:
    """A field at given outputs as a solution of the network whose outputs follow the walls."""
    balance = evaluate(network, solution.temperature, network.law())
    ambient = network.case.conditions[0].ambient
    left = float(np.abs(residual(network, balance, solution.temperature - ambient, ambient)).sum())
    scale = max(float(balance.heat.sum()), NO_HEAT)
    return Solution(network, solution.temperature, balance, left, left / scale, solution.steps)


def _known(wall: Array, known: list[_Point]) -> bool:
    return any(_distance(wall, state) < APART for state in known)


def _distance(wall: Array, point: _Point) -> float:
    return float(np.abs(wall - point.wall).max())


def _seeds(network: Network, pieces: list[Array]) -> list[_Point]:
    """Fields from the least outputs of all tables to their most."""
    ends = np.array([_range(network.case, i) for i in range(len(pieces))])
    points: list[_Point] = []
    for part in SEEDS:
        watts = ends[:, 0] + part * (ends[:, 1] - ends[:, 0])
        points.append(_point(network, watts, points[-1].solution.temperature if points else None))
    return points


def _point(network: Network, watts: Array, start: Array | None) -> _Point:
    """The field at given outputs, and what it does when each of those with a table is moved a little."""
    case, n = network.case, len(network.case.tracers)
    base = solve(_with_outputs(network, watts), start)
    wall = network.beneath @ base.temperature
    rise = np.zeros((network.nodes, n))
    step = PROBE * max(float(watts.sum()), 1.0)
    for i in (i for i, t in enumerate(case.tracers) if t.output.kind == "table"):
        moved = solve(_with_outputs(network, watts + step * np.eye(n)[i]), base.temperature)
        rise[:, i] = (moved.temperature - base.temperature) / step
    return _Point(base, wall, watts, network.beneath @ rise, rise)


def with_outputs(case: Case, watts: Array) -> Case:
    """A case narrowed to one condition whose tracers give these outputs (n,), W/m, at any temperature."""
    fixed = [
        t.model_copy(
            update={
                "on": True,
                "tolerance": 0.0,
                "output": Output.model_construct(power=float(w), at=None, voltage_exponent=0.0),
            }
        )
        for t, w in zip(case.tracers, watts, strict=True)
    ]
    return case.model_copy(update={"tracers": tuple(fixed)})


def _with_outputs(network: Network, watts: Array) -> Network:
    return replace(network, case=with_outputs(network.case, watts))


def _pieces(case: Case, i: int) -> Array:
    """Pieces of a tracer's output, shape (pieces, 4): from, to (K), slope (W/m/K), value at 0 K (W/m)."""
    tracer, condition = case.tracers[i], case.conditions[0]
    at = np.array(tracer.output.temperatures if tracer.on else ())
    if not len(at):
        return np.array([[-np.inf, np.inf, 0.0, float(tracer_watts(tracer, condition, condition.ambient))]])
    watts = tracer_watts(tracer, condition, at)
    slope = np.concatenate([[0.0], np.diff(watts) / np.diff(at), [0.0]])
    at_zero = np.append(watts[0], watts - slope[1:] * at)
    return np.stack([np.append(-np.inf, at), np.append(at, np.inf), slope, at_zero], axis=1)


def _range(case: Case, i: int) -> tuple[float, float]:
    tracer, condition = case.tracers[i], case.conditions[0]
    if tracer.output.kind == "table":
        watts = tracer_watts(tracer, condition, np.array(tracer.output.temperatures))
    else:
        watts = tracer_watts(tracer, condition, np.array([condition.ambient]))
    return float(watts.min()), float(watts.max())


def _watts(case: Case, wall: Array) -> Array:
    condition = case.conditions[0]
    return np.array([float(tracer_watts(t, condition, w)) for t, w in zip(case.tracers, wall, strict=True)])


def _slopes(case: Case, wall: Array) -> Array:
    condition = case.conditions[0]
    return np.array([float(tracer_slope(t, condition, w)) for t, w in zip(case.tracers, wall, strict=True)])


def _candidates(point: _Point, pieces: list[Array]) -> Array:
    """Wall temperatures (m, n) that meet the tables with the field's response taken as linear, K."""
    choice = np.indices([len(p) for p in pieces]).reshape(len(pieces), -1)
    low, high, slope, at_zero = (
        np.stack([p[c, k] for p, c in zip(pieces, choice, strict=True)], axis=1) for k in range(4)
    )
    matrix = np.eye(len(pieces)) - point.response * slope[:, None, :]
    regular = np.abs(np.linalg.det(matrix)) > 1e-9
    right = point.wall + (at_zero - point.watts) @ point.response.T
    wall = np.linalg.solve(matrix[regular], right[regular][:, :, None])[:, :, 0]
    room = NEAR * np.abs(wall - point.wall) + APART
    inside = (wall >= low[regular] - room) & (wall <= high[regular] + room)
    return np.asarray(wall[inside.all(axis=1)])
