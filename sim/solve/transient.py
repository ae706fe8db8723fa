"""A line over time on one mesh: its network with what its nodes store, driven by an episode."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.sparse import csr_matrix

from sim.case import Case
from sim.heat.fitting_layers import in_hollows
from sim.heat.front import Freezing, FrontFaces
from sim.heat.ice import FreezingLaw, freezing_fluid
from sim.heat.network import Network
from sim.heat.outlets import Given
from sim.heat.plan_storage import line_store
from sim.section.mesh import IntArray
from sim.section.shapes import Array
from sim.solve.balance import CONTENTS, Balance, cell_temperature, evaluate, heat_given, residual
from sim.solve.direct import EPSILON, JointMatrices
from sim.solve.drive import AMBIENT, Drive, Thermostat
from sim.solve.multigrid import Multigrid
from sim.solve.nearby import Nearby
from sim.solve.sensor import reading_at
from sim.solve.steady import NO_HEAT, Solution
from sim.solve.stiff import FlowChange, Solve, State

LATENT_TOLERANCE = 4e-3  # error of a step in the frozen share, for each kelvin of that in temperature
MULTIGRID_SHARE = 0.01  # of a stage's tolerance, to which one linear solve around a support is taken


class Line:
    """The system that the integrator takes through time.

    tolerance: error of a step in temperature, K, as the mean square over any region of the section.
    """

    def __init__(
        self, network: Network, drive: Drive, thermostats: list[Thermostat], tolerance: float
    ) -> None:
        self.network, self.drive, self.thermostats, self.allowed = network, drive, thermostats, tolerance
        self.store = line_store(network)
        self.law = network.law()
        self.reference = drive.condition(0.0).ambient
        freezes = any(group.freezes for group in self.store.plain.groups)
        self.fluid = freezing_fluid(network.case) if freezes else None
        made, regions = network.made, network.mesh.layout.regions
        there = (network.cell_node >= 0) & (made.volume > 0.0)
        self.cell = np.flatnonzero(there)
        self.weight = made.volume[self.cell]
        own = np.where(made.code == 0, made.region, len(regions) + made.code - made.code.min())
        self.region = np.unique(own[self.cell], return_inverse=True)[1]
        wet = (made.code == 0) & np.array([region.kind == "liquid" for region in regions])[made.region]
        if network.hollow is not None and in_hollows(network.case).kind == "liquid":
            wet |= network.hollow > 0
        self.liquid = np.flatnonzero(wet & there)
        self.latent = self._latent()
        wanted = {thermostat.control.sensor for thermostat in thermostats}
        self.readings = {
            s.name: reading_at(network, s.clock) for s in network.case.sensors if s.name in wanted
        }
        self.fronts, self.freezing = self._fronts(), self._freezing()
        self.cold = self._first_to_freeze()
        self.from_a = self.from_b = np.zeros(0)  # W/K: as of `JointMatrices`, of the last balance
        self.balance: Balance | None = None
        self.there = network  # in the condition of the moment that was last asked for
        self.temperature = np.zeros(0)
        self.share = np.ones(len(network.case.tracers))
        self.matrices = JointMatrices(network.nodes, network.joints.a, network.joints.b)
        icy = self.fluid is not None and len(self.liquid) > 0 and network.section is None
        self.nearby = Nearby(self.matrices, network.cell_node[self.liquid]) if icy else None

    def _latent(self) -> float:
        """Heat of freezing all of the liquid, J/m."""
        fluid = self.fluid
        if fluid is None or fluid.latent_heat is None or fluid.freezes_at is None:
            return 0.0
        volume = sum(float(g.amount.sum()) for g in self.store.plain.groups if g.freezes)
        return float(fluid.density(fluid.freezes_at)) * fluid.latent_heat * volume

    def frozen_share(self, share: Array) -> float:
        """Part of the liquid that is frozen, at the share of each node (nodes,)."""
        return float(self.frozen_in(share, np.zeros(self.network.nodes, np.int64), 1)[0])

    def frozen_in(self, share: Array, place: IntArray, places: int) -> Array:
        """The same of each of several places (places,), NaN where there is no liquid; place (nodes,): of each node."""
        ice, every = np.zeros(places), np.zeros(places)
        for group in self.store.plain.groups:
            if group.freezes:
                np.add.at(ice, place[group.node], share[group.node] * group.amount)
                np.add.at(every, place[group.node], group.amount)
        part: Array = np.where(every > 0.0, ice / np.where(every > 0.0, every, 1.0), np.nan)
        return part

    def _fronts(self) -> list[FrontFaces]:
        """Joints across which a front may pass: the faces of the liquid's cells, in each group of faces."""
        if self.fluid is None or not len(self.liquid) or self.fluid.frozen_share is not None:
            return []
        wet = np.zeros(len(self.network.cell_node), bool)
        wet[self.liquid] = True
        fronts = []
        for name in ("faces", "cells along", "fitting"):
            group = self.network.joints.groups.get(name)
            if group is not None:
                at = np.flatnonzero(wet[group.cell_a] | wet[group.cell_b])
                fronts.append(FrontFaces(name, at, wet[group.cell_a[at]], wet[group.cell_b[at]]))
        return fronts

    def _freezing(self) -> Freezing | None:
        """Where a pure fluid freezes, and what conducts on either side of that."""
        fluid = self.fluid
        if (
            fluid is None
            or fluid.freezes_at is None
            or fluid.frozen is None
            or fluid.frozen_share is not None
        ):
            return None
        return Freezing(
            fluid.freezes_at, fluid.frozen.conductivity, float(fluid.conductivity(fluid.freezes_at))
        )

    def rate(self, time: float, temperature: Array, enthalpy: Array) -> Array:
        """Heat arriving at each node less heat leaving it, W (of a section W/m)."""
        network = self._at(self.drive.at(time))
        icy = self._icy(temperature)
        balance = evaluate(network, temperature, self._freezing_law(enthalpy) if icy else self.law)
        self.from_a = self.from_b = balance.conductance
        if icy:
            balance = self._with_ice(balance, temperature, enthalpy)
        if self.thermostats:
            balance = self._switched(balance, time, temperature)
        self.balance, self.temperature = balance, temperature
        return residual(network, balance, temperature - self.reference, self.reference)

    def _first_to_freeze(self) -> IntArray:
        """Nodes of the liquid and of what is beside it: none of them colder than its freezing point, no ice."""
        cells = [self.liquid]
        for front in self.fronts:
            group = self.network.joints.groups[front.group]
            cells += [group.cell_a[front.at], group.cell_b[front.at]]
        node = self.network.cell_node[np.unique(np.concatenate(cells))]
        ring = self.store.ring
        return np.concatenate([node[node >= 0], *([] if ring is None else [ring.node])])

    def _icy(self, temperature: Array) -> bool:
        """Whether there may be ice at these temperatures (nodes,)."""
        if self.fluid is None or self.fluid.freezes_at is None:
            return False
        return bool((temperature[self.cold] <= self.fluid.freezes_at).any())

    def _at(self, case: Case) -> Network:
        """The network in the condition of a moment."""
        if self.there.case is not case:
            outlets = dict(self.network.outlets)
            for name in CONTENTS:
                given = outlets.get(name)
                if isinstance(given, Given) and case.contents.temperature is not None:
                    outlets[name] = replace(given, at=np.full(len(given.at), case.contents.temperature))
            self.there = replace(self.network, case=case, outlets=outlets)
        return self.there

    def _freezing_law(self, enthalpy: Array) -> FreezingLaw:
        assert self.fluid is not None
        share = self.store.plain.frozen(enthalpy)[self.network.cell_node[self.liquid]]
        return FreezingLaw(self.law, self.fluid, self.liquid, share)

    def _with_ice(self, balance: Balance, temperature: Array, enthalpy: Array) -> Balance:
        conductance, network = balance.conductance.copy(), self.network
        from_a, from_b = conductance.copy(), conductance.copy()
        if self.freezing is not None and self.fronts:
            cells = cell_temperature(network, temperature)
            for front in self.fronts:
                group = network.joints.groups[front.group]
                at = balance.parts[front.group].start + front.at
                conductance[at], from_a[at], from_b[at] = self.freezing.across(
                    group, front, balance.conductivity, cells
                )
        ring = self.store.ring
        if ring is not None:
            where = balance.parts["bore"].start + ring.at
            conductance[where], by_heat = ring.conductance(conductance[where], enthalpy, temperature)
            capacity = self.store.capacity(enthalpy, temperature)[ring.node]
            falls = temperature[ring.node][:, None] - temperature[ring.face_node]
            from_a[where] = conductance[where]
            from_b[where] = conductance[where] + by_heat * falls * capacity[:, None]
        self.from_a, self.from_b = from_a, from_b
        return replace(balance, conductance=conductance)

    def _switched(self, balance: Balance, time: float, temperature: Array) -> Balance:
        """The balance with the tracers' outputs as the controls leave them."""
        share = np.ones(len(balance.output))
        for thermostat in self.thermostats:
            reading = thermostat.reading
            if not thermostat.switches:
                here = self.surface_reading(thermostat, time, temperature, balance)
                reading = thermostat.reading_at(time, here)
            share = np.where(thermostat.tracers > 0, thermostat.share(reading), share)
        self.share = share
        output, steep = balance.output * share[:, None], balance.steep * share[:, None]
        return replace(balance, output=output, steep=steep, source=heat_given(self.network, output))

    def surface_reading(
        self, thermostat: Thermostat, time: float, temperature: Array, balance: Balance
    ) -> float:
        """What a control's sensor would read without delay, K: the pipe's surface at its clock, or the ambient."""
        name = thermostat.control.sensor
        if name == AMBIENT:
            return self.drive.condition(time).ambient
        return self.readings[name].at(temperature, balance)

    def solution(self, temperature: Array, balance: Balance) -> Solution:
        """The state as a solution, of which quantities can be asked."""
        return Solution(self.there, temperature, balance, 0.0, 0.0, 0)

    def flows(self) -> Array:
        """Outputs of the tracers, W each; the share of its power that each gets; heat out, heat from given contents."""
        assert self.balance is not None
        temperature = self.temperature
        given = self.balance.from_contents(temperature)
        every = float(self.balance.leaving(temperature).sum())
        return np.array([*self.balance.heat, *self.share, every + given, given])

    def linear(self) -> FlowChange:
        """What a change of temperature changes of the flows and of all heat that arrives, as the matrix has it."""
        balance, tracing = self.balance, self.network.tracing
        assert balance is not None
        node, slope = balance.to_node, balance.to_slope
        parts = [balance.to_parts[name] for name in CONTENTS if name in balance.to_parts]
        steep = balance.heat_slope if self.network.section is None else np.zeros(len(balance.output))

        def changes(change: Array) -> tuple[Array, float]:
            leaving = slope * change[node]
            every, given = float(leaving.sum()), -float(sum(leaving[part].sum() for part in parts))
            heat = steep * (tracing.beneath @ change) if steep.any() else np.zeros(len(steep))
            flows = np.array([*heat, *np.zeros(len(self.share)), every + given, given])
            return flows, float(heat.sum()) - every

        return changes

    def factor(self, diagonal: Array) -> Solve:
        """A function that solves with minus the derivative of the last rate by temperature and a diagonal (nodes,)
        more: sparse LU in the plane, multigrid around a support."""
        balance = self.balance
        assert balance is not None
        beyond = diagonal + np.bincount(balance.to_node, balance.to_slope, self.network.nodes)
        from_a, from_b = self.from_a, self.from_b
        own = self.matrices.own(from_a, from_b, beyond)
        if self.network.section is not None:
            return self._multigrid(self.matrices.matrix(from_a, from_b, own).tocsr(), beyond)
        tracing, steep = self.network.tracing, balance.heat_slope

        def whole() -> Solve:
            return self._regulated(self.matrices.factor(from_a, from_b, own), steep)

        if self.nearby is None:
            return whole()

        def regulated(x: Array) -> Array | float:
            return -tracing.heat_share.T @ (steep * (tracing.beneath @ x)) if steep.any() else 0.0

        return self.nearby.factor(from_a, from_b, own, whole, regulated)

    def _regulated(self, plain: Solve, steep: Array) -> Solve:
        """A solution of the joints' matrix with self-regulating outputs: a change of low rank (Woodbury)."""
        if not steep.any():
            return plain
        tracing = self.network.tracing
        response = plain(tracing.heat_share.T * steep)
        small = np.linalg.inv(np.eye(len(steep)) - tracing.beneath @ response)

        def solve(right: Array) -> Array:
            first = plain(right)
            answer: Array = first + response @ (small @ (tracing.beneath @ first))
            return answer

        return solve

    def _multigrid(self, whole: csr_matrix, beyond: Array) -> Solve:
        """Likewise with a matrix in layers; beyond (nodes,): what its diagonal has beside the joints."""
        grid, balance = Multigrid(), self.balance
        assert balance is not None
        if np.array_equal(self.from_a, self.from_b):
            grid.set_up(whole)
            return lambda right: grid.solve(whole, right, MULTIGRID_SHARE)[0]
        mean = balance.conductance
        grid.set_up(self.matrices.matrix(mean, mean, self.matrices.own(mean, mean, beyond)).tocsr())
        return lambda right: grid.solve_coupled(whole, right, MULTIGRID_SHARE)[0]

    def scale(self) -> float:
        """Heat that flows, W."""
        assert self.balance is not None
        return max(
            float(self.balance.source.sum()), NO_HEAT * float(self.network.layers.thickness.sum()), 1.0
        )

    def rounding(self, temperature: Array) -> float:
        """What rounding leaves of a balance, W: temperatures come from enthalpies with the rounding of kelvin."""
        assert self.balance is not None
        return EPSILON * float(self.balance.conductance @ temperature[self.balance.a])

    def norm(self, change: Array, stored: Array) -> float:
        """Size of an error as a part of what is tolerated: the worst region's mean square, and the frozen share's."""
        square = change[self.network.cell_node[self.cell]] ** 2 * self.weight
        mean = np.bincount(self.region, square) / np.bincount(self.region, self.weight)
        worst = float(np.sqrt(mean.max())) / self.allowed
        if self.latent > 0.0:
            freezes = self.store.plain.freezing
            worst = max(
                worst, abs(float(stored[freezes].sum())) / (LATENT_TOLERANCE * self.allowed * self.latent)
            )
        return worst

    def begin(self, time: float, temperature: Array, enthalpy: Array | None = None) -> State:
        """A state of given temperatures; the enthalpy that goes with them unless it is given."""
        return State(time, temperature, self.store.enthalpy(temperature) if enthalpy is None else enthalpy)
