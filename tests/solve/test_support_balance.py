"""One evaluation of a layered network, at temperatures made up so that the answer is known by hand."""

import numpy as np
import pytest
from support_lines import narrowed

from sim.case import Case
from sim.heat.network import Network, network
from sim.heat.support_layers import bare_cover, support_network, with_allowance
from sim.section.extrude import z_layers
from sim.section.mesh import plan_mesh
from sim.section.support_plan import LEG, PAD, place_support
from sim.solve.balance import Balance, evaluate

FALLING = [["0 degC", "40 W/m"], ["50 degC", "20 W/m"], ["100 degC", "5 W/m"]]
TRACER = {"name": "T1", "clock": 3, "shape": "flat", "width": "12 mm", "height": "5 mm"}


def built(case: Case) -> Network:
    support = case.supports[0]
    plan = network(case, plan_mesh(place_support(case, support), 0.7))
    layers = z_layers(plan.mesh.layout, 1.0, 0.5, 0.7, (support.allowance_over / 2,))  # type: ignore[arg-type]
    return support_network(plan, layers, support)


def at(net: Network, by_layer: np.ndarray) -> Balance:
    """The balance with every node of a layer at one temperature, K."""
    return evaluate(net, np.repeat(by_layer, net.plan.nodes), net.law())


def test_a_self_regulating_tracer_and_its_allowance_follow_the_wall_of_their_own_layer() -> None:
    case = narrowed(
        {"allowance": "0.5 m", "allowance_over": "0.4 m"},
        tracer=[TRACER | {"output": {"at": FALLING}}],
    )
    net = with_allowance(built(case), 0.5)
    celsius = np.linspace(10.0, 90.0, net.layers.count)
    source = at(net, celsius + 273.15).source.reshape(net.layers.count, -1).sum(axis=1)
    output = np.interp(celsius, [0.0, 50.0, 100.0], [40.0, 20.0, 5.0])
    inside = net.layers.centre < 0.2
    laid = np.where(inside, 0.5 / 0.4, 0.0) + 1.0  # m of tracer per m of line
    assert source == pytest.approx(output * laid * net.layers.thickness)


def test_a_barrier_is_cut_wherever_it_ends() -> None:
    """Along the pipe it joins no two layers of which either is cut; elsewhere all that lies on the outside."""
    case = narrowed({}, barrier={"material": "aluminium", "thickness": "0.6 mm"})
    net = built(case)
    nodes, cover, count = net.plan.nodes, net.cover_node, net.layers.count
    computed = at(net, np.full(count, 300.0))
    leg = np.isin(np.arange(net.nodes), net.outlets["fin"].node).reshape(count, nodes)[:, cover]
    bare = bare_cover(net.plan, net.layers, case.supports[0], leg)
    along = (computed.b == computed.a + nodes) & np.isin(computed.a % nodes, cover)
    conductance = np.zeros((count - 1, len(cover)))
    place = np.searchsorted(cover, computed.a[along] % nodes)
    conductance[computed.a[along] // nodes, place] = computed.conductance[along]
    assert (bare[1:] != bare[:-1]).any()
    assert ((conductance > 0) == ~(bare[1:] | bare[:-1])).all()


def test_pad_and_leg_of_two_metals() -> None:
    """Each cell is of its own part's metal; a part without one is of the support's."""
    steel, bronze = {"conductivity": "50 W/m/K"}, {"conductivity": "70 W/m/K"}
    for given, pad, leg in (
        ({"pad": {"material": bronze}}, 70.0, 50.0),
        ({"leg": {"material": bronze}}, 50.0, 70.0),
        ({"pad": {"material": bronze}, "leg": {"material": {"conductivity": "15 W/m/K"}}}, 70.0, 15.0),
        ({}, 50.0, 50.0),
    ):
        net = built(narrowed({"material": steel} | given))
        k = net.law()(np.full(net.nodes, 300.0)).reshape(net.part.shape)
        assert set(k[net.part == PAD]) == {pad}
        assert set(k[net.part == LEG]) == {leg}
