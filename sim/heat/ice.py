"""Contents that freeze: what a partly frozen cell conducts, and the ring of ice in contents that are mixed.

A cell at the freezing point of a pure fluid is ice towards colder neighbours and liquid towards warmer ones, so that
the flow across its faces is that of Kirchhoff's transform (Carslaw and Jaeger, section 1.6); a mean conductivity of the
cell would leave the front half a cell short.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.case import Case, Fluid
from sim.heat.conductivity import CellConductivity
from sim.heat.joints import Faces
from sim.heat.network import Network
from sim.heat.storage import MUSHY, EnthalpyCurve, fluid_store
from sim.section.mesh import IntArray
from sim.section.shapes import Array

FIRST_ICE = 2e-3  # share over which the film gives way to the ring
SETTLED = 1e-15  # change of a ring's share
CORRECTIONS = 8  # of a ring's share, by Newton's method: its equation is nearly linear
NEARLY_FROZEN = 1 - 1e-3  # share from which a ring counts as solid ice through and through
SLOWEST_MODE = (
    5.7832  # square of the first zero of J0: conductance of a solid cylinder's mean to its surface, in pi k
)


def freezing_fluid(case: Case) -> Fluid | None:
    """The liquid of a case that has one which freezes."""
    fluid = case.contents.fluid
    return fluid if case.contents.state != "empty" and fluid.freezes else None


@dataclass(frozen=True)
class FreezingLaw:
    """Conductivity of cells some of which freeze: the plain law, and the liquid's cells with their frozen share.

    cell (k,): the liquid's cells; share (k,): frozen of each.
    """

    plain: CellConductivity
    fluid: Fluid
    cell: IntArray
    share: Array

    def __call__(self, temperature: Array) -> Array:
        conductivity = self.plain(temperature)
        assert self.fluid.frozen is not None
        liquid, solid = conductivity[self.cell], self.fluid.frozen.conductivity
        if self.fluid.frozen_share is None:
            conductivity[self.cell] = np.where(self.share >= 1.0, solid, liquid)
        else:
            conductivity[self.cell] = self.share * solid + (1 - self.share) * liquid
        return conductivity


def front_conductance(
    faces: Faces, at: IntArray, law: FreezingLaw, conductivity: Array, temperature: Array
) -> Array:
    """Conductance of the faces `at` of a group where cells may be partly frozen at one temperature, W/K.

    conductivity, temperature: of all cells.
    """
    fluid = law.fluid
    assert fluid.frozen is not None
    assert fluid.freezes_at is not None
    melting = np.zeros(len(conductivity), bool)
    melting[law.cell] = (law.share > 0.0) & (law.share < 1.0)
    a, b = faces.cell_a[at], faces.cell_b[at]
    start = fluid.freezes_at
    ice, water = fluid.frozen.conductivity, float(fluid.conductivity(start))

    def seen(own: IntArray, other: IntArray) -> Array:
        towards = np.where(temperature[other] < start, ice, water)
        return np.where(melting[own], towards, conductivity[own])

    series = faces.half_a[at] / seen(a, b) + faces.half_b[at] / seen(b, a)
    return faces.area[at] / (series + faces.resistance[at])


@dataclass(frozen=True)
class Ring:
    """Mixed contents that freeze as a ring of even thickness on the bore, one lump a layer.

    node (l,): the lumps; area (l,): of liquid, m2 (m3 around a support); face_node (l, f), weight (f,): the wet faces
    of the bore and their part of it; at (l, f): their joints in the group "bore"; long (l,): m of bore, as far as wet;
    start: the freezing point, K; latent J/m3; solid: heat capacity of ice, J/m3/K; conductivity of ice, W/m/K.
    """

    node: IntArray
    area: Array
    face_node: IntArray
    weight: Array
    at: IntArray
    long: Array
    start: float
    latent: float
    solid: float
    conductivity: float
    liquid: EnthalpyCurve

    def share(self, enthalpy: Array, temperature: Array) -> Array:
        """Share frozen (l,), at the nodes' enthalpy and temperature; the ring's own heat settles at once.

        The enthalpy per volume is -L s + c (T_w - T_f) (1 + s / ln(1 - s)), the second term that of the profile
        T_f + (T_w - T_f) ln(r / r_f) / ln(r_i / r_f).
        """
        stored = enthalpy[self.node] / self.area
        fall = temperature[self.face_node] @ self.weight - self.start
        share = np.clip(-stored / self.latent, 0.0, NEARLY_FROZEN)
        if not share.any():
            return share
        for _ in range(CORRECTIONS):
            before = share
            profile, slope = _profile(share)
            excess = -self.latent * share + self.solid * fall * profile - stored
            share = share + excess / (self.latent - self.solid * fall * slope)
            share = np.clip(share, 0.0, NEARLY_FROZEN)
            if np.abs(share - before).max() <= SETTLED:
                break
        return np.where(stored >= 0.0, 0.0, np.where(share >= NEARLY_FROZEN, 1.0, share))

    def temperature(self, enthalpy: Array, share: Array) -> Array:
        """Temperature of the lumps (l,) K: of the liquid, of the freezing point, of solid ice."""
        stored = enthalpy[self.node] / self.area
        ice = self.start + (stored + self.latent) / self.solid
        partly = np.where(share >= 1.0, np.minimum(ice, self.start), self.start)
        return np.where(share <= 0.0, self.liquid.temperature_of(stored), partly)

    def capacity(self, enthalpy: Array, share: Array) -> Array:
        """dH/dT of the lumps (l,), very large while the ring grows."""
        liquid = self.liquid.capacity_of(np.maximum(enthalpy[self.node], 0.0) / self.area)
        freezing = np.where(share >= 1.0, self.solid, MUSHY * self.solid)
        return self.area * np.where(share <= 0.0, liquid, freezing)

    def conductance(self, film: Array, share: Array) -> Array:
        """Conductance (l, f) W/K from the wet faces to the liquid (`film`, likewise), to the front, or to solid ice."""
        ring = 2 * np.pi * self.conductivity * self.long[:, None] * self.weight
        deep = -0.5 * np.log1p(-np.clip(share, 0.0, NEARLY_FROZEN))  # ln(r_i / r_f)
        # the film's resistance is taken away with the first ice, so that the balance has no jump there
        left = np.clip(1.0 - share / FIRST_ICE, 0.0, 1.0)[:, None] / np.maximum(film, 1e-30)
        growing = 1.0 / np.maximum(left + deep[:, None] / ring, 1e-30)
        return np.where((share >= 1.0)[:, None], 0.5 * SLOWEST_MODE * ring, growing)


def _profile(share: Array) -> tuple[Array, Array]:
    """1 + s / ln(1 - s), the mean of the ring's profile over the whole bore, and its slope by s."""
    thin = share < 1e-3
    s = np.where(thin, 0.5, share)
    log = np.log1p(-s)
    mean, slope = 1 + s / log, 1 / log + s / ((1 - s) * log**2)
    return (
        np.where(thin, share / 2 + share**2 / 12, mean),
        np.where(thin, 0.5 + share / 6, slope),
    )


def ring_of(network: Network) -> Ring | None:
    """The ring of a network whose contents are mixed and freeze at one temperature; None for any other."""
    case, plan, bore, layers = network.case, network.plan, network.bore, network.layers
    fluid = freezing_fluid(case)
    if fluid is None or bore is None or bore.liquid < 0 or fluid.frozen_share is not None:
        return None
    assert fluid.frozen is not None
    assert fluid.freezes_at is not None
    assert fluid.latent_heat is not None
    base = plan.nodes * np.arange(layers.count)
    wet = np.isin(bore.face_node, plan.joints.groups["bore"].a[plan.joints.groups["bore"].b == bore.liquid])
    face = bore.face_node[wet]
    films = network.joints.groups["bore"]
    at = np.flatnonzero(
        np.isin(films.b, bore.liquid + base) & np.isin(films.a, (face + base[:, None]).ravel())
    )
    joint = at[np.argsort(films.b[at], kind="stable")].reshape(layers.count, len(face))
    section = float(plan.mesh.cell_area[plan.mesh.kind == "liquid"].sum())
    density, radius = float(fluid.density(fluid.freezes_at)), plan.mesh.layout.inner_radius
    wetted = float(bore.face_area[wet].sum()) / (2 * np.pi * radius)
    return Ring(
        node=bore.liquid + base,
        area=section * layers.thickness,
        face_node=films.a[joint],
        weight=bore.face_area[wet] / bore.face_area[wet].sum(),
        at=joint,
        long=wetted * layers.thickness,
        start=fluid.freezes_at,
        latent=density * fluid.latent_heat,
        solid=density * fluid.frozen.specific_heat,
        conductivity=fluid.frozen.conductivity,
        liquid=fluid_store(fluid),
    )
