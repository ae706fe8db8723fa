"""Contents that freeze: their conductivity, and the ring of ice in contents that are mixed.

What flows across the faces of a pure fluid's cells is in `sim.heat.front`.
"""

from dataclasses import dataclass

import numpy as np

from sim.case import Case, Fluid
from sim.heat.conductivity import CellConductivity
from sim.heat.network import Network
from sim.heat.storage import MUSHY, EnthalpyCurve, fluid_store
from sim.section.mesh import IntArray
from sim.section.shapes import Array

FIRST_ICE = 2e-3  # share over which the film gives way to the ring
SETTLED = 1e-13  # change of a ring's share
CORRECTIONS = 40  # of a ring's share, by Newton's method: nearly linear but for a ring about to close
CLOSED = 1 - 1e-5  # share from which a ring counts as solid ice through and through
CLOSING = 1e-3  # share before that over which a lump's temperature goes from the freezing point to the mean of its ice


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


@dataclass(frozen=True)
class Ring:
    """Mixed contents that freeze as a ring of even thickness on the bore, one lump a layer.

    node (l,): the lumps; area (l,): of liquid, m2 (m3 in layers); face_node (l, f), weight (f,): the wet faces
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
        T_f + (T_w - T_f) ln(r / r_f) / ln(r_i / r_f); ice is not taken to be warmer than its freezing point.
        """
        stored = enthalpy[self.node] / self.area
        fall = np.minimum(self._fall(temperature), 0.0)
        share = np.clip(-stored / self.latent, 0.0, CLOSED)
        for _ in range(CORRECTIONS if share.any() else 0):
            before = share
            profile, slope = _profile(share)
            excess = -self.latent * share + self.solid * fall * profile - stored
            share = share + excess / (self.latent - self.solid * fall * slope)
            share = np.clip(share, 0.0, CLOSED)
            if np.abs(share - before).max() <= SETTLED:
                break
        return np.where(stored >= 0.0, 0.0, np.where(share >= CLOSED, 1.0, share))

    def _fall(self, temperature: Array) -> Array:
        """The wet wall's mean over the freezing point, K (l,)."""
        mean: Array = temperature[self.face_node] @ self.weight - self.start
        return mean

    def _under(self, enthalpy: Array) -> Array:
        """Mean temperature of solid ice under its freezing point, K (l,)."""
        return np.maximum(-(enthalpy[self.node] / self.area + CLOSED * self.latent) / self.solid, 0.0)

    def _closing(self, share: Array, fall: Array) -> tuple[Array, Array]:
        """The part of the wet wall's fall that the temperature of the lumps has (l,), and its slope by the share.

        The mean of the ice just before it is solid, so that a lump's temperature, which its neighbours along the pipe
        see, has no jump as it closes; nothing before, and where the wall is no colder than the ice.
        """
        width = CLOSED - (1.0 - CLOSING)
        part = np.clip((share - (1.0 - CLOSING)) / width, 0.0, 1.0)
        profile, slope = _profile(np.clip(share, 0.0, CLOSED))
        within = (part > 0.0) & (fall < 0.0)
        return np.where(within, part * profile, 0.0), np.where(within, profile / width + part * slope, 0.0)

    def temperature(self, enthalpy: Array, share: Array, temperature: Array) -> Array:
        """Temperature of the lumps (l,) K: of the liquid, of the freezing point, of solid ice."""
        fall = np.minimum(self._fall(temperature), 0.0)
        ring = fall * self._closing(share, fall)[0]
        ice = self.start + np.where(share >= 1.0, -self._under(enthalpy), ring)
        stored = np.maximum(enthalpy[self.node], 0.0) / self.area
        return np.where(share <= 0.0, self.liquid.temperature_of(stored), ice)

    def capacity(self, enthalpy: Array, share: Array, temperature: Array) -> Array:
        """dH/dT of the lumps (l,), very large while the ring grows."""
        fall = np.minimum(self._fall(temperature), 0.0)
        liquid = self.liquid.capacity_of(np.maximum(enthalpy[self.node], 0.0) / self.area)
        warmer = fall * self._closing(share, fall)[1] * self._by_heat(share, fall) * self.area
        growing = 1.0 / np.maximum(warmer, 1.0 / (MUSHY * self.solid))
        return self.area * np.where(share <= 0.0, liquid, np.where(share >= 1.0, self.solid, growing))

    def _by_heat(self, share: Array, fall: Array) -> Array:
        """Change of a ring's share by its enthalpy, 1/J (l,)."""
        slope = _profile(np.clip(share, 0.0, CLOSED))[1]
        by: Array = 1.0 / (self.area * (self.solid * np.minimum(fall, 0.0) * slope - self.latent))
        return by

    def conductance(self, film: Array, enthalpy: Array, temperature: Array) -> tuple[Array, Array]:
        """Conductance (l, f) W/K from the wet faces to the liquid (`film`, likewise), to the front, or to solid ice;
        and its derivative by the lumps' enthalpy, W/K per J, but for that of the film as the first ice takes it away.

        The log profile's mean conducts to the wall with 4 pi k when the ring closes, and so does solid ice from then
        on, so that the heat has no jump; a wall above the freezing point heats it as it heats a ring about to open.
        """
        share = self.share(enthalpy, temperature)
        ring = 2 * np.pi * self.conductivity * self.long[:, None] * self.weight
        inner = np.clip(share, 0.0, CLOSED)[:, None]
        # the film's resistance is taken away with the first ice, so that the balance has no jump there
        left = np.clip(1.0 - inner / FIRST_ICE, 0.0, 1.0) / np.maximum(film, 1e-30)
        growing = 1.0 / np.maximum(left - 0.5 * np.log1p(-inner) / ring, 1e-30)
        # not that of the film's fading, by which heat would rise with the ice and an iteration run away
        by_share = -(growing**2) * 0.5 / ((1.0 - inner) * ring)
        fall, under = self._fall(temperature), self._under(enthalpy)
        # as much heat from the wall to the lump's own temperature as to the freezing point
        closing, steeper = (each[:, None] for each in self._closing(share, fall))
        by_share = by_share / (1.0 - closing) + growing * steeper / (1.0 - closing) ** 2
        growing = growing / (1.0 - closing)
        by_heat = self._by_heat(share, fall)
        opening, closed = ring * (-2.0 / np.log1p(-CLOSED)), ring * (2.0 / CLOSED)
        over = np.maximum(fall, 0.0)[:, None]
        every = np.maximum(over + under[:, None], 1e-30)
        through = np.where(over > 0.0, (closed * under[:, None] + opening * over) / every, closed)
        heating = -(closed - opening) * over / every**2 / (self.area * self.solid)[:, None]
        solid, ice = (share >= 1.0)[:, None], (share > 0.0)[:, None]
        by = np.where(solid, heating, np.where(ice, by_share * by_heat[:, None], 0.0))
        return np.where(solid, through, growing), by


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
    volume = float(plan.mesh.cell_area[plan.mesh.kind == "liquid"].sum()) * layers.thickness
    if network.lumped is not None:
        volume = volume + network.lumped[:, bore.liquid]
    density, radius = float(fluid.density(fluid.freezes_at)), plan.mesh.layout.inner_radius
    wetted = float(bore.face_area[wet].sum()) / (2 * np.pi * radius)
    return Ring(
        node=bore.liquid + base,
        area=volume,
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
