"""The heat balance of a network at given temperatures: all joints, what leaves, what the tracers give."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix

from sim.heat.network import Network
from sim.heat.tracer import tracer_slope, tracer_watts
from sim.section.mesh import IntArray
from sim.section.shapes import Array

CONTENTS = ("contents", "fitting contents")  # outlets to contents of a given temperature


class NotConverged(RuntimeError):
    """The heat balance could not be met; the message gives the imbalance reached."""


@dataclass(frozen=True)
class Balance:
    """One evaluation of a network; W and W/K, of a section per metre.

    a, b, conductance (k,): joints between nodes, each group's at `parts`; to_node, to_conductance, to_temperature,
    to_slope (m,): joints to given temperatures and the heat's derivative by the node's temperature, each outlet's at
    `to_parts`; output, steep (tracers, layers): W/m and its slope by the wall's temperature, W/m/K; laid, likewise: m
    of tracer; source (nodes,): the tracers' heat; conductivity (cells of all layers,) W/m/K.
    """

    a: IntArray
    b: IntArray
    conductance: Array
    parts: Mapping[str, slice]
    to_node: IntArray
    to_conductance: Array
    to_temperature: Array
    to_slope: Array
    to_parts: Mapping[str, slice]
    output: Array
    steep: Array
    laid: Array
    source: Array
    conductivity: Array

    @property
    def watts(self) -> Array:
        """Output of each tracer in a section, W for a metre of the tracer, (tracers,)."""
        watts: Array = self.output[:, 0]
        return watts

    @property
    def heat(self) -> Array:
        """Heat of each tracer, (tracers,)."""
        heat: Array = (self.output * self.laid).sum(axis=1)
        return heat

    @property
    def heat_slope(self) -> Array:
        """Its slope by the wall's temperature, (tracers,)."""
        slope: Array = (self.steep * self.laid).sum(axis=1)
        return slope

    def leaving(self, temperature: Array) -> Array:
        """Heat to the given temperatures, (m,)."""
        return self.to_conductance * (temperature[self.to_node] - self.to_temperature)

    def through(self, outlet: str, temperature: Array) -> float:
        """Heat through an outlet; 0 where there is none of that name."""
        part = self.to_parts.get(outlet, slice(0, 0))
        return float(self.leaving(temperature)[part].sum())

    def from_contents(self, temperature: Array) -> float:
        """Heat from contents of a given temperature."""
        return -sum(self.through(name, temperature) for name in CONTENTS)


def cell_temperature(network: Network, temperature: Array) -> Array:
    """Temperature of every cell of all layers, K; contents that are lumped take their lump's (or the bore's mean)."""
    cells = temperature[np.maximum(network.cell_node, 0)]
    bore = network.bore
    if bore is not None:
        absent, wet = _lumped(network)
        each = network.by_layer(temperature)
        default = each[:, bore.face_node] @ (bore.face_area / bore.face_area.sum())
        liquid = each[:, bore.liquid] if bore.liquid >= 0 else default
        if bore.liquid < 0 and bore.liquid_at is not None:
            liquid = np.full(len(each), bore.liquid_at)
        gas = each[:, bore.gas] if bore.gas >= 0 else default
        network.by_layer(cells)[:, absent] = np.where(wet, liquid[:, None], gas[:, None])
    return cells


def _lumped(network: Network) -> tuple[IntArray, NDArray[np.bool_]]:
    """Cells of the section that take part as a lump, and which of them are wet; kept with the joints."""
    cache, key = network.joints.cache, ("lumped", network.case.contents.state)
    if key not in cache:
        absent = np.flatnonzero(network.plan.cell_node < 0)
        cache[key] = (
            absent,
            (network.mesh.kind[absent] == "liquid") & (network.case.contents.state != "empty"),
        )
    lumped: tuple[IntArray, NDArray[np.bool_]] = cache[key]
    return lumped


def evaluate(network: Network, temperature: Array, law: Callable[[Array], Array]) -> Balance:
    """Evaluate a network at node temperatures (nodes,) K; law: its `law()`."""
    case, joints = network.case, network.joints
    condition, count = case.conditions[0], network.layers.count
    conductivity = law(cell_temperature(network, temperature))
    leaving = [outlet.leaving(case, temperature) for outlet in network.outlets.values()]
    to_conductance, to_temperature, to_slope = (np.concatenate(x) for x in zip(*leaving, strict=True))
    stop = np.cumsum([len(part.slope) for part in leaving]).tolist()
    wall = network.tracing.beneath @ network.by_layer(temperature).T
    pairs = list(zip(case.tracers, wall, strict=True))
    shape = (len(pairs), count)
    output = np.array([tracer_watts(t, condition, w) for t, w in pairs]).reshape(shape)
    steep = np.array([tracer_slope(t, condition, w) for t, w in pairs]).reshape(shape)
    return Balance(
        joints.a,
        joints.b,
        joints.conductance(conductivity, temperature),
        joints.parts,
        np.concatenate([outlet.node for outlet in network.outlets.values()]),
        to_conductance,
        to_temperature,
        to_slope,
        {n: slice(i, j) for n, i, j in zip(network.outlets, [0, *stop[:-1]], stop, strict=True)},
        output,
        steep,
        network.laid,
        heat_given(network, output),
        conductivity,
    )


def heat_given(network: Network, output: Array) -> Array:
    """The tracers' heat at every node (nodes,), of outputs (tracers, layers) a metre of tracer."""
    tracing = network.tracing
    along = ((output * network.layers.thickness).T @ tracing.heat_share).ravel()
    source = np.concatenate([along, np.zeros(network.nodes - len(along))])
    if tracing.loop is not None:
        source += tracing.loop.T @ (output * tracing.extra).sum(axis=0)
    elif tracing.extra.any():
        source += ((output * tracing.extra).T @ tracing.extra_share).ravel()
    return source


def residual(network: Network, balance: Balance, temperature: Array, reference: float = 0.0) -> Array:
    """Heat arriving at each node less heat leaving it, shape (nodes,).

    temperature: of the nodes, K over `reference`; near the ambient's, less is lost to rounding.
    """
    flow = balance.conductance * (temperature[balance.a] - temperature[balance.b])
    out = balance.to_conductance * (temperature[balance.to_node] - (balance.to_temperature - reference))
    n = network.nodes
    return (
        np.bincount(balance.b, flow, n)
        - np.bincount(balance.a, flow, n)
        - np.bincount(balance.to_node, out, n)
        + balance.source
    )


def joint_matrix(nodes: int, a: IntArray, b: IntArray, conductance: Array, diagonal: Array) -> csr_matrix:
    """Symmetric matrix of joints (a, b, conductance), with `diagonal` (nodes,) added."""
    diagonal = diagonal + np.bincount(a, conductance, nodes) + np.bincount(b, conductance, nodes)
    every = np.arange(nodes)
    rows = np.concatenate([a, b, every]).astype(np.int32)
    cols = np.concatenate([b, a, every]).astype(np.int32)
    data = np.concatenate([-conductance, -conductance, diagonal])
    matrix = coo_matrix((data, (rows, cols)), shape=(nodes, nodes)).tocsr()
    matrix.eliminate_zeros()
    return matrix


def step_matrix(network: Network, balance: Balance) -> csr_matrix:
    """The symmetric matrix of a network's joints, with the outlets' true slope on the diagonal."""
    diagonal = np.bincount(balance.to_node, balance.to_slope, network.nodes).astype(float)
    return joint_matrix(network.nodes, balance.a, balance.b, balance.conductance, diagonal)
