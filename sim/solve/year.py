"""A long stretch of weather by a reduced model of the section, made from its own matrices.

Rational Krylov at three shifts about three outside films, orthonormal in the capacity, Galerkin (Antoulas 2005,
Approximation of Large-Scale Dynamical Systems, ch. 11). The outside's local film, sun and sky enter at the surface anew
every hour; joints that follow the temperature go between two fields, a cold and a warm one. Each stretch is
solved exactly by the eigenvectors of the reduced matrix. What it is wrong by is measured: see `sim.judge.season`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.case import Case
from sim.heat.network import Network
from sim.heat.outlets import Film, outside
from sim.heat.plan_storage import line_store
from sim.heat.tracer import tracer_watts
from sim.section.shapes import Array
from sim.solve.balance import Balance, evaluate, joint_matrix
from sim.solve.direct import factor
from sim.solve.drive import AMBIENT, Drive, Thermostat
from sim.solve.steady import solve

SHIFTS = (1e-7, 1e-5, 1e-3)  # 1/s
FILMS = (3.0, 12.0, 40.0)  # W/m2/K, of the outside
LEAST = 1e-7  # part of the largest direction's size, below which a direction is left out
PIECE = 3600.0  # s, for which film and sun are those of its middle
SAMPLES = 16  # of a control's reading in a piece; a switching lies between two on a straight line


@dataclass(frozen=True)
class Reduced:
    """The section in few unknowns z (r,): temperatures are reference + basis @ z, K.

    basis (nodes, r); joints: reduced matrix of all joints at the cold and at the warm field, (r, r) each; between:
    mean temperatures of the insulation at the two, K, and its weights (r,); tracers (tracers, r): heat of 1 W/m;
    beneath (tracers, r) and sensors by name (r,): what reads the wall; given: right side of given contents;
    cover (k, r), area (k,) m2: the outside's nodes.
    """

    network: Network
    reference: float
    basis: Array
    joints: tuple[Array, Array]
    between: tuple[float, float]
    insulation: Array
    tracers: Array
    beneath: Array
    sensors: dict[str, Array]
    given: Array
    cover: Array
    area: Array

    @property
    def order(self) -> int:
        """Number of unknowns."""
        return int(self.basis.shape[1])


def _joints(network: Network, balance: Balance) -> tuple[object, Array]:
    """Matrix of all joints but the outside's, and the right side of given temperatures over the reference of 0."""
    part = balance.to_parts.get("contents", slice(0, 0))
    node, strength = balance.to_node[part], balance.to_conductance[part]
    diagonal = np.bincount(node, strength, network.nodes).astype(float)
    right = np.bincount(node, strength * balance.to_temperature[part], network.nodes).astype(float)
    return joint_matrix(network.nodes, balance.a, balance.b, balance.conductance, diagonal), right


def _at_ambient(network: Network, ambient: float) -> tuple[Array, Balance]:
    """Steady field and balance in the network's condition at another ambient."""
    condition = network.case.conditions[0].model_copy(update={"ambient": ambient, "sun": None, "sky": None})
    there = replace(network, case=network.case.model_copy(update={"conditions": (condition,)}))
    field = solve(there).temperature
    return field, evaluate(there, field, there.law())


def _sensor_rows(network: Network) -> dict[str, Array]:
    """Weights (nodes,) of the wall's outer cells by which each sensor reads."""
    mesh = network.mesh
    wall, pair = mesh.kind == "wall", mesh.face_cells
    middle = 0.5 * (mesh.layout.inner_radius + mesh.layout.outer_radius)
    edge = (wall[pair[:, 0]] != wall[pair[:, 1]]) & (np.hypot(*mesh.face_point.T) > middle)
    outer = np.unique(np.where(wall[pair[edge, 0]], pair[edge, 0], pair[edge, 1]))
    angle = np.mod(np.arctan2(*mesh.site[outer].T), 2 * np.pi)
    order = np.argsort(angle)
    angle, outer = angle[order], outer[order]
    rows = {}
    for sensor in network.case.sensors:
        row, at = np.zeros(network.nodes), sensor.clock * np.pi / 6 % (2 * np.pi)
        after = int(np.searchsorted(angle, at)) % len(angle)
        span = (angle[after] - angle[after - 1]) % (2 * np.pi)
        share = ((at - angle[after - 1]) % (2 * np.pi)) / span
        row[network.cell_node[outer[after - 1]]] += 1 - share
        row[network.cell_node[outer[after]]] += share
        rows[sensor.name] = row
    return rows


def reduced(network: Network, coldest: float, warmest: float) -> Reduced:
    """The reduced model of a section for weather between two ambient temperatures, K. Raises NotConverged."""
    cold, warm = (_at_ambient(network, t) for t in (coldest, warmest))
    cover = network.outlets["cover"]
    assert isinstance(cover, Film)
    sensors = _sensor_rows(network)
    angle, node, area = np.asarray(cover.angle), np.asarray(cover.node), np.asarray(cover.area)
    patterns = np.zeros((network.nodes, 5))
    for k, shape in enumerate(
        (1.0 + 0 * angle, np.sin(angle), np.cos(angle), np.sin(2 * angle), np.cos(2 * angle))
    ):
        patterns[node, k] = area * shape
    right = np.column_stack([patterns, network.heat_share.T, network.beneath.T, *sensors.values()])
    store = line_store(network)
    middle = 0.5 * (cold[0] + warm[0])
    capacity = store.capacity(store.enthalpy(middle), middle)
    matrices = [_joints(network, balance) for _, balance in (cold, warm)]
    columns = [np.ones((network.nodes, 1))]
    for film in FILMS:
        outlet = np.bincount(node, film * area, network.nodes)
        for shift in SHIFTS:
            system = 0.5 * (matrices[0][0] + matrices[1][0])  # type: ignore[operator]
            system = system.copy()
            system.setdiag(system.diagonal() + outlet + shift * capacity)
            response = factor(system.tocsr()).solve(right)
            columns.append(
                response / np.maximum(np.sqrt((capacity[:, None] * response**2).sum(axis=0)), 1e-300)
            )
    every = np.column_stack(columns)
    size, turn = np.linalg.eigh(every.T @ (capacity[:, None] * every))
    keep = size > LEAST**1.5 * size[-1]
    basis = every @ (turn[:, keep] / np.sqrt(size[keep]))
    kind, plan = network.mesh.kind, network.mesh.cell_area
    layer = np.flatnonzero(np.isin(kind, ("layer", "wet")))
    if not len(layer):
        layer = np.flatnonzero(kind == "wall")
    weights = np.bincount(network.cell_node[layer], plan[layer] / plan[layer].sum(), network.nodes)
    reference = 0.5 * (coldest + warmest)
    given = matrices[0][1] - reference * (matrices[0][0] @ np.ones(network.nodes))  # type: ignore[operator]
    return Reduced(
        network,
        reference,
        basis,
        (basis.T @ (matrices[0][0] @ basis), basis.T @ (matrices[1][0] @ basis)),
        (float(weights @ cold[0]), float(weights @ warm[0])),
        weights @ basis,
        network.heat_share @ basis,
        network.beneath @ basis,
        {name: row @ basis for name, row in sensors.items()},
        basis.T @ given,
        basis[node],
        area,
    )


@dataclass
class Season:
    """What a stretch of weather does, at each of the file's moments (n,): coldest contents and wall, hottest wall,
    tracer (its body) and outside, K (NaN where there is none); output of all tracers, W/m, and
    the share of the time they are on, means since the moment before. state (n, r)."""

    time: Array
    contents: Array
    wall: Array
    wall_max: Array
    tracer: Array
    barrier: Array
    output: Array
    duty: Array
    switchings: int
    state: Array


def through(model: Reduced, drive: Drive, thermostats: list[Thermostat], times: Array) -> Season:
    """Take the reduced model through evenly spaced moments (n,) s, from the steady state of the first."""
    network, angle = model.network, np.asarray(model.network.cover_angle)
    rows = node_groups(network)
    parts = {name: model.basis[index] for name, index in rows.items()}
    radius = network.mesh.layout.cover_radius
    z, case = _steady_state(model, drive.at(float(times[0])), radius, angle)
    for t in thermostats:
        t.reading = _reading(model, t, case, z)
        t.on = t.reading < t.control.off_above
    states, output, duty, count = [z], [0.0], [0.0], 0
    spacing = float(times[1] - times[0])
    pieces = max(1, round(spacing / PIECE))
    long = spacing / pieces
    for begin in times[:-1]:
        heat = on = 0.0
        for k in range(pieces):
            case = drive.at(float(begin) + (k + 0.5) * long)
            values, vectors, film = _modes(model, case, z, radius, angle)
            z, given, lit, switched = _piece(model, case, z, thermostats, values, vectors, film, long)
            heat, on, count = heat + given, on + lit, count + switched
        states.append(z)
        output.append(heat / spacing)
        duty.append(on / spacing)
    every = np.array(states)

    def extreme(name: str, of: object) -> Array:
        if not len(parts[name]):
            return np.full(len(every), np.nan)
        return model.reference + of(every @ parts[name].T, axis=1)  # type: ignore[operator,no-any-return]

    return Season(
        times,
        extreme("contents", np.min),
        extreme("wall", np.min),
        extreme("wall", np.max),
        extreme("tracer", np.max),
        extreme("barrier", np.max),
        np.array(output),
        np.array(duty),
        count,
        every,
    )


def node_groups(network: Network) -> dict[str, NDArray[np.int64]]:
    """Nodes of the contents, the wall, the tracers' bodies and the outside."""
    kind, node = network.mesh.kind, network.cell_node
    contents = node[np.isin(kind, ("liquid", "gas"))]
    contents = contents[contents >= 0]
    if network.bore is not None:
        contents = np.array([n for n in (network.bore.liquid, network.bore.gas) if n >= 0], np.int64)
    return {
        "contents": contents,
        "wall": node[kind == "wall"],
        "tracer": node[kind == "tracer"],
        "barrier": network.cover_node,
    }


def _modes(model: Reduced, case: Case, z: Array, radius: float, angle: Array) -> tuple[Array, Array, Array]:
    """Eigenvalues (1/s) and eigenvectors of the reduced matrix in a condition, and the outside's right side (r,)."""
    loss = outside(case, radius, model.reference + model.cover @ z, angle)
    strength = loss.conductance * model.area
    low, high = model.between
    part = (model.reference + float(model.insulation @ z) - low) / (high - low) if high != low else 0.0
    matrix = (
        (1 - part) * model.joints[0]
        + part * model.joints[1]
        + model.cover.T @ (strength[:, None] * model.cover)
    )
    values, vectors = np.linalg.eigh(0.5 * (matrix + matrix.T))
    return (
        np.maximum(values, 1e-12),
        vectors,
        model.cover.T @ (strength * (loss.temperature - model.reference)),
    )


def _heat(model: Reduced, case: Case, z: Array, share: Array) -> Array:
    """Output of each tracer at a state, W/m (tracers,)."""
    wall = model.reference + model.beneath @ z
    condition = case.conditions[0]
    full = [float(tracer_watts(t, condition, w)) for t, w in zip(case.tracers, wall, strict=True)]
    return np.array(full) * share


def _shares(thermostats: list[Thermostat], count: int) -> Array:
    share = np.ones(count)
    for t in thermostats:
        share = np.where(t.tracers > 0, t.share(t.reading), share)
    return share


def _reading(model: Reduced, thermostat: Thermostat, case: Case, z: Array) -> float:
    name = thermostat.control.sensor
    if name == AMBIENT:
        return float(case.conditions[0].ambient)
    return model.reference + float(model.sensors[name] @ z)


def _steady_state(model: Reduced, case: Case, radius: float, angle: Array) -> tuple[Array, Case]:
    """The state that a condition would settle to, tracers at full output."""
    z = np.zeros(model.order)
    for _ in range(60):
        values, vectors, film = _modes(model, case, z, radius, angle)
        heat = _heat(model, case, z, np.ones(len(case.tracers)))
        new = vectors @ ((vectors.T @ (film + model.given + heat @ model.tracers)) / values)
        moved = float(
            np.abs(model.cover @ (new - z)).max() + np.abs(model.beneath @ (new - z)).max(initial=0.0)
        )
        z = z + 0.7 * (new - z)
        if moved < 1e-4:
            break
    return z, case


def _piece(
    model: Reduced,
    case: Case,
    z: Array,
    thermostats: list[Thermostat],
    values: Array,
    vectors: Array,
    film: Array,
    long: float,
) -> tuple[Array, float, float, int]:
    """One piece: the state at its end, heat J/m, tracer-seconds on as a mean over tracers, and switchings."""
    left, heat, on, count = long, 0.0, 0.0, 0
    for t in thermostats:
        if t.control.sensor == AMBIENT and not t.switches:  # of this piece, not of the one before
            t.reading = float(case.conditions[0].ambient)
    while left > 1e-6:
        share = _shares(thermostats, len(case.tracers))
        watts = _heat(model, case, z, share)
        for _ in range(2):  # the output at the middle, by its own wall
            load = vectors.T @ (film + model.given + watts @ model.tracers)
            end = load / values
            start = vectors.T @ z
            half = vectors @ (end + (start - end) * np.exp(-0.5 * values * left))
            watts = _heat(model, case, half, share)
        load = vectors.T @ (film + model.given + watts @ model.tracers)
        end = load / values
        at = left * np.arange(1, SAMPLES + 1) / SAMPLES
        course = end + (start - end) * np.exp(-np.outer(at, values))
        stop, mover = left, None
        for t in thermostats:
            readings = _course(model, t, case, course, vectors, left / SAMPLES)
            passages = _passes(t, readings, at) if t.switches else None
            if passages is not None and passages < stop:
                stop, mover = passages, t
        for t in thermostats:
            readings = _course(model, t, case, course, vectors, left / SAMPLES)
            t.reading = float(np.interp(stop, np.append(0.0, at), np.append(t.reading, readings)))
        z = vectors @ (end + (start - end) * np.exp(-values * stop))
        heat, on, left = (
            heat + stop * float(watts.sum()),
            on + stop * float(share.mean()) if len(share) else on,
            left - stop,
        )
        if mover is not None:
            mover.on = not mover.on
            count += 1
    return z, heat, on, count


def _course(
    model: Reduced, thermostat: Thermostat, case: Case, course: Array, vectors: Array, step: float
) -> Array:
    """Readings at the samples of a piece, K, its lag included."""
    name = thermostat.control.sensor
    if name == AMBIENT:
        return np.full(len(course), case.conditions[0].ambient)
    plain = model.reference + course @ (vectors.T @ model.sensors[name])
    if thermostat.time_constant <= 0.0:
        return np.asarray(plain)
    fade, reading, lagged = np.exp(-step / thermostat.time_constant), thermostat.reading, []
    for value in plain:
        reading = value + (reading - value) * fade
        lagged.append(reading)
    return np.array(lagged)


def _passes(thermostat: Thermostat, readings: Array, at: Array) -> float | None:
    """The moment in a piece at which a control switches, s; None if it does not."""
    past = [k for k, value in enumerate(readings) if thermostat.past(float(value))]
    if not past:
        return None
    k = past[0]
    before, begin = (readings[k - 1], at[k - 1]) if k else (thermostat.reading, 0.0)
    gap = readings[k] - before
    part = (thermostat.threshold() - before) / gap if gap else 1.0
    return float(begin + min(max(part, 0.0), 1.0) * (at[k] - begin)) or 1e-6
