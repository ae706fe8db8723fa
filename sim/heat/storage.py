"""Heat stored at the nodes of a network: enthalpy against temperature, freezing and thawing included.

A node stores the integral of rho c dT over its part of the section, and rho L times what is liquid. The table of a
material is linear between its knots in both directions; a pure fluid's has a step at its freezing point, where the
node is partly frozen at one temperature. The density of a fluid that freezes is the liquid's at its freezing point
below that point, so that nothing moves.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sim.basics import ZERO_CELSIUS
from sim.case import Case, Fluid
from sim.heat import air
from sim.section.layout import Region
from sim.section.mesh import IntArray
from sim.section.shapes import Array

REFERENCE = ZERO_CELSIUS  # K at which materials that do not freeze store nothing
COLDEST, HOTTEST = 90.0, 1500.0  # K: ends of the tables; beyond them their last slope goes on
KNOTS = 0.5  # K between the knots of a fluid's table
FINE_KNOTS = 0.05  # K, where a brine freezes
KNOT_APART = 1e-6  # K between a knot of the share's table and any other
MUSHY = 1e6  # capacity of a node that is freezing at one temperature, as a multiple of the liquid's


@dataclass(frozen=True)
class EnthalpyCurve:
    """Enthalpy (J/m3) against temperature (K) of one material, both (n,) and not falling; frozen (n,): share frozen.

    capacity (n - 1,): dh/dT of each stretch, J/m3/K, very large where the temperature stands still.
    """

    enthalpy: Array
    temperature: Array
    frozen: Array
    capacity: Array

    def temperature_of(self, enthalpy: Array) -> Array:
        """Temperature, K, of enthalpies per volume (any shape)."""
        low, high = self.enthalpy[0], self.enthalpy[-1]
        inside = np.interp(enthalpy, self.enthalpy, self.temperature)
        below = np.minimum(enthalpy - low, 0.0) / self.capacity[0]
        extended: Array = inside + below + np.maximum(enthalpy - high, 0.0) / self.capacity[-1]
        return extended

    def capacity_of(self, enthalpy: Array) -> Array:
        """dh/dT, J/m3/K, of enthalpies per volume."""
        stretch = np.searchsorted(self.enthalpy, enthalpy, side="right") - 1
        return self.capacity[np.clip(stretch, 0, len(self.capacity) - 1)]

    def frozen_of(self, enthalpy: Array) -> Array:
        """Share that is frozen, of enthalpies per volume."""
        return np.interp(enthalpy, self.enthalpy, self.frozen)

    def enthalpy_of(self, temperature: Array) -> Array:
        """Enthalpy per volume, J/m3; at a freezing point that of the liquid."""
        low, high = self.temperature[0], self.temperature[-1]
        place = np.clip(
            np.searchsorted(self.temperature, temperature, side="right") - 1, 0, len(self.capacity) - 1
        )
        while (np.diff(self.temperature)[place] == 0).any():  # a step: take its upper end
            place = np.where(
                np.diff(self.temperature)[place] == 0, np.minimum(place + 1, len(self.capacity) - 1), place
            )
        inside = (
            self.enthalpy[place]
            + (np.clip(temperature, low, high) - self.temperature[place]) * self.capacity[place]
        )
        below = np.minimum(temperature - low, 0.0) * self.capacity[0]
        extended: Array = inside + below + np.maximum(temperature - high, 0.0) * self.capacity[-1]
        return extended


def _curve(temperature: Array, enthalpy: Array, frozen: Array) -> EnthalpyCurve:
    step = np.diff(temperature)
    with np.errstate(divide="ignore"):
        slope = np.diff(enthalpy) / step
    plain = slope[step > 0]
    return EnthalpyCurve(enthalpy, temperature, frozen, np.where(step > 0, slope, MUSHY * plain.max()))


def constant_store(density: float, specific_heat: float) -> EnthalpyCurve:
    """A material of constant density (kg/m3) and specific heat (J/kg/K)."""
    knots = np.array([COLDEST, HOTTEST])
    return _curve(knots, density * specific_heat * (knots - REFERENCE), np.zeros(2))


def air_store() -> EnthalpyCurve:
    """Air at atmospheric pressure, whose mass in a place changes with its temperature."""
    knots = np.arange(air.LOW, 1000.0, 5.0)
    return _integrated(knots, air.density(knots) * air.specific_heat(knots), REFERENCE)


def _integrated(knots: Array, capacity: Array, zero: float) -> EnthalpyCurve:
    mean = 0.5 * (capacity[1:] + capacity[:-1])
    enthalpy = np.concatenate([[0.0], np.cumsum(mean * np.diff(knots))])
    return _curve(knots, enthalpy - np.interp(zero, knots, enthalpy), np.zeros(len(knots)))


def fluid_store(fluid: Fluid) -> EnthalpyCurve:
    """A fluid over its tables, freezing where it has the data for it."""
    if fluid.frozen is None or fluid.freezes_at is None or fluid.latent_heat is None:
        knots = np.arange(COLDEST, HOTTEST, KNOTS)
        return _integrated(knots, fluid.density(knots) * fluid.specific_heat(knots), REFERENCE)
    start = fluid.freezes_at
    density = float(fluid.density(start))
    solid = density * fluid.frozen.specific_heat
    latent = density * fluid.latent_heat
    above = np.arange(start, HOTTEST, KNOTS)
    liquid = fluid.density(above) * fluid.specific_heat(above)
    warm = np.concatenate([[0.0], np.cumsum(0.5 * (liquid[1:] + liquid[:-1]) * np.diff(above))])
    share = fluid.frozen_share
    if share is None:
        temperature = np.concatenate([[COLDEST, start], above])
        enthalpy = np.concatenate([[-latent + solid * (COLDEST - start), -latent], warm])
        frozen = np.concatenate([[1.0, 1.0], np.zeros(len(above))])
        return _curve(temperature, enthalpy, frozen)
    lowest = min(share.temperatures)
    given = np.array(share.temperatures)
    regular = np.arange(lowest, start, FINE_KNOTS)
    apart = np.abs(regular[:, None] - given).min(axis=1) > KNOT_APART
    between = np.union1d(regular[apart], given[given < start])
    cold = np.concatenate([[COLDEST], between, [start]])
    part = np.concatenate([share(cold[:-1]), [0.0]])
    unfrozen = density * float(fluid.specific_heat(start))
    capacity = part * solid + (1 - part) * unfrozen
    stored = np.concatenate([[0.0], np.cumsum(0.5 * (capacity[1:] + capacity[:-1]) * np.diff(cold))])
    stored = stored - stored[-1] - latent * part
    return _curve(
        np.concatenate([cold, above[1:]]),
        np.concatenate([stored, warm[1:]]),
        np.concatenate([part, np.zeros(len(above) - 1)]),
    )


def of_region(case: Case, region: Region) -> EnthalpyCurve:
    """What a region of the section stores, per volume."""
    kind = region.kind
    if kind == "liquid" and case.contents.state != "empty":
        return fluid_store(case.contents.fluid)
    if kind in ("liquid", "gas"):
        return fluid_store(case.contents.gas)
    if kind == "wall":
        return constant_store(case.pipe.material.density, case.pipe.material.specific_heat)
    if kind == "tracer":
        tracer = case.tracers[region.index]
        return constant_store(tracer.body_density, tracer.body_specific_heat)
    if kind == "void":
        void = case.insulation.void
        return air_store() if void.conductivity is None else constant_store(void.density, void.specific_heat)
    layer = case.insulation.layers[region.index]
    return constant_store(layer.density, layer.specific_heat)


@dataclass(frozen=True)
class Group:
    """Nodes that store as one material does, each over an amount of it: m2 of section (a metre), or m3."""

    node: IntArray
    amount: Array
    curve: EnthalpyCurve
    freezes: bool


@dataclass(frozen=True)
class Storage:
    """What all nodes of a network store: enthalpy (nodes,) J/m (J around a support) against temperature (nodes,) K."""

    nodes: int
    groups: tuple[Group, ...]

    @cached_property
    def _constant(self) -> tuple[IntArray, Array]:
        """Nodes of constant capacity, and that capacity of them."""
        constant = [g for g in self.groups if len(g.curve.capacity) == 1]
        node = [np.zeros(0, np.int64), *(g.node for g in constant)]
        capacity = [np.zeros(0), *(g.amount * g.curve.capacity[0] for g in constant)]
        return np.concatenate(node), np.concatenate(capacity)

    @cached_property
    def _curved(self) -> tuple[Group, ...]:
        return tuple(g for g in self.groups if len(g.curve.capacity) > 1)

    def temperature(self, enthalpy: Array, free: Array) -> Array:
        """Temperatures of an enthalpy; nodes that store nothing keep those of `free`."""
        result = free.copy()
        node, capacity = self._constant
        result[node] = REFERENCE + enthalpy[node] / capacity
        for group in self._curved:
            result[group.node] = group.curve.temperature_of(enthalpy[group.node] / group.amount)
        return result

    def enthalpy(self, temperature: Array) -> Array:
        """Enthalpy at given temperatures; 0 for nodes that store nothing."""
        result = np.zeros(self.nodes)
        node, capacity = self._constant
        result[node] = capacity * (temperature[node] - REFERENCE)
        for group in self._curved:
            result[group.node] = group.amount * group.curve.enthalpy_of(temperature[group.node])
        return result

    def capacity(self, enthalpy: Array, temperature: Array) -> Array:
        """dH/dT, J/m/K; 0 for nodes that store nothing. The temperatures (nodes,) say nothing more here."""
        result = np.zeros(self.nodes)
        node, capacity = self._constant
        result[node] = capacity
        for group in self._curved:
            result[group.node] = group.amount * group.curve.capacity_of(enthalpy[group.node] / group.amount)
        return result

    def frozen(self, enthalpy: Array) -> Array:
        """Share frozen (nodes,) of the nodes that can freeze; 0 for the others."""
        result = np.zeros(self.nodes)
        for group in self.groups:
            if group.freezes:
                result[group.node] = group.curve.frozen_of(enthalpy[group.node] / group.amount)
        return result

    @cached_property
    def freezing(self) -> NDArray[np.bool_]:
        """Nodes that can freeze (nodes,)."""
        result = np.zeros(self.nodes, bool)
        for group in self.groups:
            result[group.node] |= group.freezes
        return result
