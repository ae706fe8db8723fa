"""Order of the steps on a whole section with everything in it, order of the mesh over time, and energy over episodes.

Order in time: node temperatures U(t) are chosen, and what they need beside the section's own rates is put in as heat,
dH/dt(U) - rate(U), so that U solves the section exactly in time (Roache 1998, chapter 3, for a discrete system). The
section has conductivities over temperature, radiating voids, wind, an output that falls with temperature.

Order in space: the cooling cylinder of cooling.py, whose series is known in every cell, on meshes each twice as fine.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from scipy.special import j0

from sim.case import case_for, parse_case
from sim.heat.network import network
from sim.solve.drive import Drive
from sim.solve.stiff import State, Stepper
from sim.solve.transient import Line
from validation.checks.time.cooling import bare_cylinder, cylinder_modes
from validation.checks.time.parts import HOUR, STRIP, THERMOSTAT, WATER, Run, followed, stirred
from validation.published.rows import Row
from validation.sketches.sketch import LIQUID, OUTER, ROUND, STORE, ZERO, Array, sketch

PERIOD = 6 * HOUR
MADE = "@roache1998, chapter 3; written out in order.py"
KEPT = "conservation, from the definition"


def rich() -> dict[str, Any]:
    """A section with everything that a rate of its own depends on."""
    falls = {"at": [["0 degC", "30 W/m"], ["60 degC", "10 W/m"]]}
    return sketch(
        ROUND | {"output": falls},
        contents={"state": "still", "fluid": LIQUID},
        pipe__material="carbon steel",
        insulation={"fit": "bridged", "layer": [{"material": "rock wool", "thickness": "40 mm"}]},
        barrier={"material": "aluminium", "thickness": "0.6 mm"},
        outside={},
        condition=[{"name": "only", "ambient": "-10 degC", "wind": "5 m/s"}],
    )


@dataclass
class Made:
    """A section whose node temperatures are chosen over time, driven by the heat that they need."""

    line: Line
    base: Array
    swing: Array
    phase: Array

    def chosen(self, time: float) -> Array:
        return self.base + self.swing * np.sin(2 * np.pi * time / PERIOD + self.phase)

    def needed(self, time: float) -> Array:
        """Heat into each node that keeps the chosen temperatures, W/m."""
        there = self.chosen(time)
        slope = self.swing * 2 * np.pi / PERIOD * np.cos(2 * np.pi * time / PERIOD + self.phase)
        enthalpy = self.line.store.enthalpy(there)
        return self.line.store.capacity(enthalpy, there) * slope - self.line.rate(time, there, enthalpy)

    @property
    def store(self) -> Any:
        return self.line.store

    def rate(self, time: float, temperature: Array, enthalpy: Array) -> Array:
        extra = self.needed(time)
        return self.line.rate(time, temperature, enthalpy) + extra

    def flows(self) -> Array:
        return np.zeros(1)

    def factor(self, diagonal: Array) -> Any:
        return self.line.factor(diagonal)

    def scale(self) -> float:
        return 1e-4  # so that stages are solved far below the error of a step

    def rounding(self, temperature: Array) -> float:
        return self.line.rounding(temperature)

    def norm(self, change: Array, stored: Array) -> float:
        return 0.0


def made() -> Made:
    """The rich section with temperatures that swing by 10 K, each place in its own time."""
    case = parse_case(rich() | {"episode": [{"name": "made", "condition": "only", "lasts": "9 h"}]})
    narrowed = case_for(case, "only")
    net = network(narrowed, STORE.get(narrowed, 1.0))
    line = Line(net, Drive(narrowed, case.episodes[0], 0.0), [], 1.0)
    x, y = np.zeros(net.nodes), np.zeros(net.nodes)
    cell = net.cell_node >= 0
    x[net.cell_node[cell]], y[net.cell_node[cell]] = net.mesh.site[cell].T
    return Made(line, ZERO + 20.0 + 100 * y, 10.0 + 50 * x, 3.0 * (x + y) / OUTER)


def order_in_time() -> list[Row]:
    """The order of the steps, by temperatures chosen for a whole section."""
    system = made()
    stores = system.store.capacity(system.store.enthalpy(system.base), system.base) > 0
    errors = []
    for steps in (4, 8, 16):
        state = State(0.0, system.chosen(0.0), system.store.enthalpy(system.chosen(0.0)))
        stepper = Stepper(system)
        for _ in range(steps):
            taken = stepper.step(state, 0.5 * PERIOD / steps)
            if taken is None:
                raise RuntimeError("a step of chosen temperatures does not settle")
            state = taken[0].new
        apart = state.temperature - system.chosen(0.5 * PERIOD)
        errors.append(float(np.sqrt(np.mean(apart[stores] ** 2))))
    rows = []
    for (coarse, fine), name in zip(pairwise(errors), ("8", "16"), strict=True):
        order = float(np.log2(coarse / fine))
        why = "at least 1.9, third order at the most"
        rows.append(
            Row("order in time", MADE, f"to {name} steps in half a period", 2.7, order, 0.8, why, "-")
        )
    return rows


def order_in_space() -> list[Row]:
    """The order of the mesh in a field over time, and that short steps leave it so."""
    hours, errors = 0.5, []
    root, left = cylinder_modes(hours)
    for fineness in (1.0, 2.0, 4.0):
        computed = followed(bare_cylinder(), fineness, 1e-3, start="100 degC", lasts=f"{hours} h")
        mesh, net, end = computed.network.mesh, computed.network, computed.track.end
        assert end is not None
        cell = np.flatnonzero(net.cell_node >= 0)
        radius = np.hypot(*mesh.site[cell].T)
        exact = ZERO + 100 * (j0(np.outer(radius / OUTER, root)) @ left)
        apart = end.temperature[net.cell_node[cell]] - exact
        errors.append(float(np.sqrt(np.average(apart**2, weights=mesh.cell_area[cell]))))
    rows = []
    for i, name in enumerate(("1 to 2", "2 to 4")):
        order = float(np.log2(errors[i] / errors[i + 1]))
        why = "second order at the least, as at rest"
        rows.append(Row("order in space over time", MADE, f"fineness {name}", 2.2, order, 0.3, why, "-"))
    return rows


def energy() -> list[Row]:
    """Heat that came less heat that went is heat stored, over episodes with a control, with ice, with a power cut."""
    controlled = stirred(
        STRIP, sensor=[{"name": "S1", "clock": 12}], control=[THERMOSTAT], condition__ambient="-20 degC"
    )
    frozen = stirred(contents={"state": "still", "fluid": WATER}, condition__ambient="-30 degC")
    cut = [{"at": "2 h", "supply": 0, "ambient": "-25 degC"}]
    episodes: dict[str, Run] = {
        "thermostat": followed(controlled, 0.7, 0.1, start="9 degC", lasts="24 h", control=["C1"]),
        "ice in still water": followed(frozen, 0.7, 0.1, start="3 degC", lasts="24 h"),
        "power cut, everything over temperature": followed(
            rich(), 0.7, 0.1, start="15 degC", lasts="24 h", change=cut
        ),
    }
    why = "1e-8 of the heat that passed"
    return [
        Row("energy closes", KEPT, name, 0.0, computed.track.closure, 1e-8, why, "-")
        for name, computed in episodes.items()
    ]


GROUPS = (order_in_time, energy)
LONG = (order_in_space,)
