"""The network: symmetric, positive, with contacts and sheets where they belong and nowhere else."""

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, line, mesh, only, solution

from sim.heat.network import Network, network
from sim.solve.balance import evaluate, residual
from sim.solve.quantities import boundary, region_mask

LINES = {
    "plain": line(),
    "round": line(ROUND),
    "two flat, bridged, foil": line(
        FLAT, FLAT | {"name": "T2", "clock": 9.0}, insulation__fit="bridged", foil={"thickness": "0.1 mm"}
    ),
    "oversize": line(ROUND, insulation__fit="oversize", insulation__bore="140 mm"),
    "stacked": line(FLAT, ROUND | {"name": "T2", "diameter": "6 mm", "over": "T1"}),
    "half full, mixed": line(FLAT, contents__state="mixed", contents__fill=0.5),
    "barrier": line(ROUND, barrier={"thickness": "0.6 mm", "material": "aluminium"}),
}
everywhere = pytest.mark.parametrize("raw", LINES.values(), ids=LINES)


def built(raw: dict, fineness: float = 1.0) -> Network:
    return network(only(raw), mesh(raw, fineness))


def kinds(net: Network) -> np.ndarray:
    return net.mesh.kind


@everywhere
def test_joints_are_positive_and_between_nodes_that_are(raw: dict) -> None:
    net = built(raw)
    balance = evaluate(net, np.full(net.nodes, 290.0), net.law())
    assert (balance.conductivity > 0).all()
    crossed = balance.parts["void radiation"]  # which may have negative ones: tests/heat/test_radiation.py
    assert (np.delete(balance.conductance, np.arange(crossed.start, crossed.stop)) >= 0).all()
    assert np.isfinite(balance.conductance).all()
    assert (balance.to_conductance > 0).all()
    assert (balance.a != balance.b).all()
    for end in (balance.a, balance.b, balance.to_node):
        assert end.min() >= 0
        assert end.max() < net.nodes
    touched = np.concatenate([balance.a, balance.b, balance.to_node])
    assert len(np.unique(touched)) == net.nodes


@everywhere
def test_matrix_is_symmetric_and_an_m_matrix(raw: dict) -> None:
    """Taken from the residual itself: -dr/dT column by column at frozen conductances."""
    net = built(raw)
    balance = evaluate(net, np.full(net.nodes, 290.0), net.law())
    rng = np.random.default_rng(3)
    zero = residual(net, balance, np.zeros(net.nodes))
    u, v = rng.random(net.nodes), rng.random(net.nodes)
    au, av = (zero - residual(net, balance, x) for x in (u, v))
    assert u @ av == pytest.approx(v @ au, rel=1e-9)
    assert u @ au > 0
    every = zero - residual(net, balance, np.ones(net.nodes))  # row sums: what leads to given temperatures
    outward = np.bincount(balance.to_node, balance.to_conductance, net.nodes)
    assert every == pytest.approx(outward, abs=1e-7 * balance.conductance.max())


@everywhere
def test_heat_is_shared_over_the_bodies_and_footprints_lie_on_the_wall(raw: dict) -> None:
    net = built(raw)
    assert net.heat_share.sum(axis=1) == pytest.approx(np.ones(len(net.case.tracers)))
    assert net.footprint.sum(axis=1) == pytest.approx(np.ones(len(net.case.tracers)))
    wall_nodes = set(net.cell_node[kinds(net) == "wall"])
    for i in range(len(net.case.tracers)):
        body = net.cell_node[net.mesh.cell_region == net.mesh.layout.number("tracer", i)]
        assert set(np.flatnonzero(net.heat_share[i])) == set(body)
        assert set(np.flatnonzero(net.footprint[i])) <= wall_nodes


@pytest.mark.parametrize("fit", ["snug", "bridged"])
def test_the_wall_beneath_a_tracer_is_taken_at_its_surface(fit: str) -> None:
    """In a wall of plastic, against the same temperature from the flux through each face; the outermost cells' own
    temperature is off by a third of a kelvin and more."""
    pipe = {"outer_diameter": "110 mm", "wall": "10 mm", "material": "PP"}
    field = solution(line(FLAT, insulation__fit=fit, pipe=pipe))
    net = field.network
    rim = boundary(field, region_mask(field, "wall"))
    body = net.mesh.layout.bodies[0]
    outside = np.hypot(*rim.point.T) > 0.05
    turn = np.mod(np.arctan2(*rim.point.T) - body.clock_angle + np.pi, 2 * np.pi) - np.pi
    under = outside & (np.abs(turn) <= body.half_angle)
    surface = np.average(rim.temperature[under], weights=rim.length[under])
    assert net.beneath.sum() == pytest.approx(1.0)
    assert float(net.beneath[0] @ field.temperature) == pytest.approx(surface, abs=0.01)
    assert abs(float(net.footprint[0] @ field.temperature) - surface) > 0.3


def test_contact_resistance_only_between_a_tracer_and_its_seat() -> None:
    raw = line(
        FLAT | {"contact_conductance": "200 W/m2/K"},
        ROUND | {"name": "T2", "diameter": "6 mm", "over": "T1", "contact_conductance": "500 W/m2/K"},
        FLAT | {"name": "T3", "clock": 9.0, "contact_conductance": "1000 W/m2/K"},
    )
    net = built(raw)
    pairs = np.sort(kinds(net)[net.mesh.face_cells[net.face]], axis=1)
    region = net.mesh.cell_region[net.mesh.face_cells[net.face]]
    pressed = np.isin(pairs, ("tracer", "wall")).all(1) & (region[:, 0] != region[:, 1])
    assert (net.faces.resistance[~pressed] == 0).all()
    number = net.mesh.layout.number
    for upper, seat, conductance in (
        (number("tracer", 0), number("wall"), 200.0),
        (number("tracer", 1), number("tracer", 0), 500.0),
        (number("tracer", 2), number("wall"), 1000.0),
    ):
        mine = (np.sort(region, axis=1) == sorted((upper, seat))).all(1)
        assert mine.any()
        assert net.faces.resistance[mine] == pytest.approx(1 / conductance)


def test_face_conductance_is_a_series_of_two_halves_and_the_contact() -> None:
    net = built(LINES["round"])
    k = np.linspace(0.01, 50.0, net.mesh.cells)
    i = int(np.flatnonzero(net.faces.resistance)[0])
    a, b = net.mesh.face_cells[net.face[i]]
    length, gap = net.mesh.face_length[net.face[i]], net.mesh.face_distance[net.face[i]]
    by_hand = length / (gap / 2 / k[a] + 1 / 400.0 + gap / 2 / k[b])
    assert net.faces.conductance(k, np.zeros(net.nodes))[i] == pytest.approx(by_hand)


def test_barrier_is_a_closed_ring() -> None:
    net = built(LINES["barrier"])
    links = net.links
    ring = np.isin(links.a, net.cover_node) & np.isin(links.b, net.cover_node)
    assert ring.sum() == len(net.cover_node)
    assert set(np.bincount(np.concatenate([links.a[ring], links.b[ring]]))[net.cover_node]) == {2}
    # in series around: 1/G = length/(k t) of the polygon through the nodes
    sheet = net.case.barrier.conductivity * 0.6e-3
    assert (1 / links.strength[ring]).sum() == pytest.approx(2 * np.pi * 0.10715 / sheet, rel=2e-3)
    assert len(built(LINES["round"]).links.a) == 0


def test_foil_joins_the_pipe_at_its_two_feet() -> None:
    net = built(LINES["two flat, bridged, foil"], 1.5)
    kind = kinds(net)
    wall_nodes = net.cell_node[kind == "wall"]
    feet = np.isin(net.links.b, wall_nodes) | np.isin(net.links.a, wall_nodes)
    assert feet.sum() == 4


def test_a_lumped_bore_has_no_cells_inside() -> None:
    net = built(LINES["half full, mixed"])
    in_bore = np.isin(kinds(net), ("liquid", "gas"))
    assert (net.cell_node[in_bore] == -1).all()
    assert (net.cell_node[~in_bore] >= 0).all()
    assert net.bore is not None
    assert net.bore.face_area.sum() == pytest.approx(2 * np.pi * 0.05115, rel=2e-3)
    assert built(LINES["plain"]).bore is None


def test_balance_of_a_uniform_field_at_ambient_is_the_tracers_heat() -> None:
    net = built(LINES["round"])
    ambient = np.full(net.nodes, 263.15)
    balance = evaluate(net, ambient, net.law())
    left = residual(net, balance, ambient)
    assert left.sum() == pytest.approx(20.0)
    assert set(np.flatnonzero(np.abs(left) > 1e-12)) == set(np.flatnonzero(net.heat_share[0]))


def test_self_regulating_output_follows_the_wall_beneath() -> None:
    table = {"at": [["-20 degC", "40 W/m"], ["80 degC", "0 W/m"]], "voltage_exponent": 1.0}
    field = solution(line(FLAT | {"output": table}, condition__supply=0.9))
    beneath = float(field.network.beneath[0] @ field.temperature) - 273.15
    assert field.balance.heat[0] == pytest.approx(0.9 * (80 - beneath) * 0.4, rel=1e-6)
