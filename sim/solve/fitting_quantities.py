"""The numbers of a fitting's bodies, and what its bare parts lose."""

import numpy as np

from sim.case import Case, Fitting
from sim.section.bodies import FIRST_BODY
from sim.section.shapes import Array
from sim.solve.balance import CONTENTS
from sim.solve.steady import Solution, cell_temperature

BARE = "fitting bare"


def on_bodies(solution: Solution) -> dict[str, float]:
    """Extremes and mean of each body, K, by path: of its cells and of its bare surfaces."""
    network = solution.network
    fitting = network.support
    if not isinstance(fitting, Fitting) or network.further is None or network.there is None:
        return {}
    assert network.volume is not None
    every = cell_temperature(network, solution.temperature)
    code = np.concatenate([np.where(network.there, network.part, 0).ravel(), network.further.code])
    values: dict[str, float] = {}
    for number in range(1, len(fitting.body) + 1):
        in_body = code == FIRST_BODY + number - 1
        of_cells = every[in_body]
        outlet = network.outlets.get(f"{BARE} body {number}")
        rim = solution.temperature[outlet.node] if outlet is not None else np.zeros(0)
        value: Array = np.concatenate([of_cells, rim])
        if not len(value):
            continue
        mean = (
            float(np.average(of_cells, weights=network.volume[in_body]))
            if len(of_cells)
            else float(rim.mean())
        )
        path = f"bodies.{number}"
        values |= {f"{path}.min": float(value.min()), f"{path}.mean": mean, f"{path}.max": float(value.max())}
    return values


def bare_loss(solution: Solution) -> float:
    """Heat that leaves bare metal, both halves, W."""
    balance, at = solution.balance, solution.temperature
    return 2 * sum(balance.through(name, at) for name in solution.network.outlets if name.startswith(BARE))


def hottest_outside(solution: Solution) -> tuple[float, float]:
    """Highest temperature of a fitting's own outside, K, and its distance along the pipe, m; -inf where none."""
    network = solution.network
    nodes = [
        o.node for name, o in network.outlets.items() if name.startswith("fitting ") and name not in CONTENTS
    ]
    node = np.concatenate([np.zeros(0, np.int64), *nodes])
    if not len(node) or network.further is None:
        return -np.inf, 0.0
    best = int(node[np.argmax(solution.temperature[node])])
    layer = network.further.layer[best - (network.nodes - len(network.further.layer))]
    return float(solution.temperature[best]), float(network.layers.centre[layer])


def covered(case: Case, fitting: Fitting) -> Fitting | None:
    """The fitting with its bare bodies under the line's own thickness of insulation; None where none is bare."""
    if all(body.cover_thickness > 0.0 for body in fitting.body):
        return None
    thick = case.insulation.thickness
    bodies = [
        body if body.cover_thickness > 0.0 else body.model_copy(update={"cover": thick, "cover_from": None})
        for body in fitting.body
    ]
    return fitting.model_copy(update={"body": tuple(bodies)})
