"""The heat a section loses at a temperature that is given, its tracers unpowered."""

import numpy as np

from sim.basics import ZERO_CELSIUS
from sim.case import Case
from sim.heat.network import Network, network
from sim.section.shapes import Array
from sim.solve.at_rest import FINENESS, RATIO, ROUNDING, MeshStore, carried, levels_of
from sim.solve.balance import evaluate, residual, step_matrix
from sim.solve.convergence import Banded, banded
from sim.solve.direct import EPSILON, SLOW, TOLERANCE, factor
from sim.solve.steady import MAX_STEPS, NO_HEAT, NotConverged, solve

ONE_TEMPERATURE = 1e6  # W/m2/K, film that leaves no difference between the bore's surface and what heats it


def loss_at(
    case: Case, meshes: MeshStore, temperature: float, fineness: float = FINENESS, *, contents: bool = False
) -> Banded:
    """Heat loss, W/m, of a case narrowed to one condition with its tracers unpowered, on three meshes.

    temperature, K, is the wall's mean, the bore's surface being of one temperature all round whatever the contents;
    with `contents` it is that of the flowing contents, outside their film. Solved, not scaled: films and conductivities
    are those of this temperature. Raises NotConverged, ValueError if the section cannot be meshed.
    """
    cold = tuple(t.model_copy(update={"on": False}) for t in case.tracers)
    bore = {"temperature": temperature} if contents else _one_temperature()
    unpowered = case.model_copy(
        update={"tracers": cold, "contents": case.contents.model_copy(update=bore), "supports": ()}
    )
    losses: list[float] = []
    last: tuple[Network, Array] | None = None
    for level in levels_of(fineness):
        net = network(unpowered, meshes.get(unpowered, level))
        start = None if last is None else carried(*last, net)
        if contents:
            solution = solve(net, start)
            nodes = solution.temperature
            heat = solution.balance.through("cover", nodes)
        else:
            heat, nodes = _heat_for_wall_mean(net, temperature, start)
        losses, last = [*losses, heat], (net, nodes)
    return banded((losses[0], losses[1], losses[2]), RATIO, ROUNDING)


def _one_temperature() -> dict[str, object]:
    return {"state": "mixed", "fill": 1.0, "film_coefficient": ONE_TEMPERATURE}


def _heat_for_wall_mean(net: Network, target: float, start: Array | None) -> tuple[float, Array]:
    """Heat given to the lumped contents, W/m, that brings the wall's mean to a temperature, K; and the nodes', K.

    The chord iteration of `sim.solve.steady`, with the heat as one more unknown and the mean as its equation.
    """
    assert net.bore is not None
    law, wall = net.law(), np.flatnonzero(net.mesh.of_kind("wall"))
    area = net.mesh.cell_volume[wall]
    weight = np.bincount(net.cell_node[wall], area / area.sum(), net.nodes)
    share = np.zeros(net.nodes)
    share[net.bore.liquid] = 1.0
    ambient = net.case.conditions[0].ambient
    rise: Array = np.full(net.nodes, target - ambient) if start is None else start - ambient
    heat, before, factored = 0.0, np.inf, None
    for _ in range(MAX_STEPS):
        balance = evaluate(net, ambient + rise, law)
        left = residual(net, balance, rise, ambient) + heat * share
        off = target - ambient - float(weight @ rise)
        imbalance = float(np.abs(left).sum())
        rounding = EPSILON * float(balance.conductance @ np.abs(rise[balance.a]))
        if imbalance <= max(TOLERANCE * max(abs(heat), NO_HEAT), rounding) and abs(off) <= ROUNDING:
            return heat, ambient + rise
        if factored is None or imbalance > SLOW * before:
            factored = factor(step_matrix(net, balance))
            response = factored.solve(share)
        change = factored.solve(left)
        more = (off - float(weight @ change)) / float(weight @ response)
        rise, heat, before = rise + change + more * response, heat + more, imbalance
    raise NotConverged(
        f"the heat loss at {target - ZERO_CELSIUS:.1f} degC did not settle: {imbalance:.3g} W/m left"
    )
