"""A section in layers along the pipe: what is written of one layer holds in all of them."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, line, mesh, only

from sim.heat.joints import Nodes, PerMetre, Same, joined, repeated
from sim.heat.layers import layered
from sim.heat.network import Network, network
from sim.heat.outlets import Given
from sim.section.extrude import Layers
from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.solve.balance import evaluate
from sim.solve.steady import solve

EDGE = np.array([0.0, 0.004, 0.02, 0.07, 0.25])  # m
FALLING = {"at": [["-20 degC", "40 W/m"], ["80 degC", "0 W/m"]]}
LINES = {
    "round, barrier, wind": line(
        ROUND,
        barrier={"thickness": "0.6 mm", "material": "aluminium"},
        outside={},
        condition__wind="5 m/s",
        condition__wind_from=4.0,
    ),
    "self-regulating, foil": line(
        FLAT | {"output": FALLING}, insulation__fit="bridged", foil={"thickness": "0.1 mm"}
    ),
    "half full, mixed": line(FLAT, contents__state="mixed", contents__fill=0.5),
    "empty": line(ROUND, contents__state="empty"),
    "flowing": line(
        FLAT, contents__state="flowing", contents__temperature="40 degC", contents__velocity="1 m/s"
    ),
}


def section(raw: dict) -> Network:
    return network(only(raw), mesh(raw, 0.7))


@pytest.mark.parametrize("raw", LINES.values(), ids=LINES)
def test_a_line_without_parts_has_the_sections_own_field_in_every_layer(raw: dict) -> None:
    plan = section(raw)
    own, net = solve(plan), layered(plan, Layers(EDGE, np.zeros(4, np.int64)))
    field = solve(net, np.full(net.nodes, own.temperature.mean()))
    each = field.temperature.reshape(4, plan.nodes)
    assert np.abs(each - own.temperature).max() < 1e-4
    for outlet in plan.outlets:
        per_metre = own.balance.through(outlet, own.temperature)
        assert field.balance.through(outlet, field.temperature) == pytest.approx(
            EDGE[-1] * per_metre, rel=1e-5
        )


@pytest.mark.parametrize("raw", LINES.values(), ids=LINES)
def test_every_group_of_joints_is_there_over_the_whole_length(raw: dict) -> None:
    plan = section(raw)
    net = layered(plan, Layers(EDGE, np.zeros(4, np.int64)))
    warm = np.full(plan.nodes, 310.0)
    one, all_ = evaluate(plan, warm, plan.law()), evaluate(net, np.tile(warm, 4), net.law())
    for name, part in one.parts.items():
        each = all_.conductance[all_.parts[name]].reshape(4, -1)
        assert each == pytest.approx(np.diff(EDGE)[:, None] * one.conductance[part], rel=1e-12)
        for end, plain in ((all_.a, one.a), (all_.b, one.b)):
            assert (
                end[all_.parts[name]].reshape(4, -1) == plain[part] + plan.nodes * np.arange(4)[:, None]
            ).all()


def test_along_the_pipe_cells_are_in_series_over_half_their_layers() -> None:
    plan = section(LINES["round, barrier, wind"])
    net = layered(plan, Layers(EDGE, np.zeros(4, np.int64)))
    balance = evaluate(net, np.full(net.nodes, 310.0), net.law())
    k = balance.conductivity[: plan.mesh.cells]
    apart = np.diff(0.5 * (EDGE[1:] + EDGE[:-1]))
    along = balance.conductance[balance.parts["cells along"]].reshape(3, -1)
    assert along == pytest.approx(plan.mesh.cell_area * k / apart[:, None])
    sheet = balance.conductance[balance.parts["sheets along"]].reshape(3, -1)
    strength = plan.case.barrier.conductivity * 0.6e-3 * plan.mesh.cover_length
    assert sheet == pytest.approx(strength / apart[:, None])


@dataclass(frozen=True)
class Bridge:
    """A kind of joint that the program does not know: conductance by the hotter end."""

    a: Nodes
    b: Nodes
    area: PerMetre
    power: Same

    def ends(self, cell_node: IntArray) -> tuple[IntArray, IntArray]:
        return self.a, self.b

    def conductance(self, conductivity: Array, temperature: Array) -> Array:
        return self.area * np.maximum(temperature[self.a], temperature[self.b]) ** self.power


def test_a_new_kind_of_joint_is_repeated_by_what_its_arrays_hold() -> None:
    bridge = Bridge(np.array([3]), np.array([8]), np.array([2.0]), np.array([0.5]))
    computed = repeated(bridge, np.array([0.1, 0.4]), 10, 7)
    assert computed.a.tolist() == [3, 13]
    assert computed.b.tolist() == [8, 18]
    assert computed.area.tolist() == [0.2, 0.8]
    assert computed.power.tolist() == [0.5, 0.5]
    plan = section(LINES["empty"])
    more = replace(plan, joints=joined({**plan.joints.groups, "bridge": bridge}, plan.cell_node))
    net = layered(more, Layers(EDGE, np.zeros(4, np.int64)))
    own, computed = solve(more), solve(net)
    assert np.abs(computed.temperature.reshape(4, -1) - own.temperature).max() < 1e-4
    assert np.abs(own.temperature - solve(plan).temperature).max() > 0.01


@pytest.mark.parametrize("layers", [1, 4])
def test_heat_kept_from_an_earlier_field_is_one_more_outlet(layers: int) -> None:
    """Capacity over a step of time, joined to the temperatures before it, is an implicit step: its heat is what the
    tracers give less what leaves, and steps lead to the steady field."""
    plan = section(LINES["self-regulating, foil"])
    net = plan if layers == 1 else layered(plan, Layers(EDGE, np.zeros(4, np.int64)))
    capacity = np.full(net.nodes, 2e3 / net.nodes)
    steady, temperature = solve(net), np.full(net.nodes, 280.0)
    for step in (1e2, 1e4, 1e12):
        remaining = Given(np.arange(net.nodes), capacity / step, temperature)
        field = solve(replace(net, outlets={**net.outlets, "storage": remaining}))
        stored = float((capacity * (field.temperature - temperature)).sum()) / step
        leaves = sum(field.balance.through(name, field.temperature) for name in net.outlets)
        assert stored == pytest.approx(float(field.balance.heat.sum()) - leaves, abs=1e-5)
        temperature = field.temperature
    assert temperature == pytest.approx(steady.temperature, abs=1e-3)
