"""What a section stores in the finite-element check: heat of every region, of sheets, of lumped contents, and of ice.

Heat that does not freeze is the consistent matrix of the quadratic triangles. A liquid at rest that freezes stores its
enthalpy at the nodes, each with its part of the four triangles into which a curved one is cut, and conducts by
Kirchhoff's transform of its temperature, so that a front has no width of its own.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_matrix

from validation.peers.elements.lines import Array, Entries, Lines
from validation.peers.elements.problem import Problem

PART_OF_CORNER, PART_OF_MIDDLE = 1 / 12, 1 / 4  # of a triangle's area, cut into four
FOUR = (
    (0, 3, 5),
    (3, 1, 4),
    (5, 4, 2),
    (3, 4, 5),
)  # nodes of these four: corners, middles of the sides after them
COLDEST, HOTTEST, STEP = 150.0, 600.0, 0.02  # K: ends and spacing of a fluid's tables
SOLID = 1 - 1e-3  # share from which a ring counts as solid
SLOWEST = 5.7832  # first zero of J0, squared


@dataclass(frozen=True)
class Enthalpy:
    """A freezing fluid's tables: enthalpy (J/m3), temperature (K), frozen share and Kirchhoff's transform (W/m); start:
    where it begins to freeze, K, and stores nothing."""

    start: float
    enthalpy: Array
    temperature: Array
    share: Array
    flux: Array

    def of(self, what: Array, enthalpy: Array) -> Array:
        return np.interp(enthalpy, self.enthalpy, what)

    def enthalpy_at(self, temperature: Array) -> Array:
        """Enthalpy at temperatures; a fluid at its freezing point is liquid."""
        warm = self.temperature >= self.start
        upper = np.interp(temperature, self.temperature[warm], np.maximum(self.enthalpy[warm], 0.0))
        lower = np.interp(temperature, self.temperature, self.enthalpy)
        return np.where(temperature >= self.start, upper, lower)

    def slope(self, what: Array, enthalpy: Array) -> Array:
        """d what / dh, of the stretch of the table that an enthalpy is in."""
        place = np.clip(np.searchsorted(self.enthalpy, enthalpy, side="right") - 1, 0, len(what) - 2)
        return (np.diff(what) / np.diff(self.enthalpy))[place]


def enthalpy_of(fluid: Any) -> Enthalpy:
    """The tables of a fluid that freezes, from its definition: h = integral of rho c dT - rho L share."""
    start = float(fluid.freezes_at)
    rho, cold = float(fluid.density(start)), fluid.frozen
    below, above = np.arange(COLDEST, start, STEP), np.arange(start, HOTTEST, STEP)
    below = np.append(below[below < start - 1e-9], start)
    share = (
        np.ones(len(below)) if fluid.frozen_share is None else np.asarray(fluid.frozen_share(below), float)
    )
    if fluid.frozen_share is not None:
        share[-1] = 0.0
    liquid = rho * float(fluid.specific_heat(start))
    heat = share * rho * cold.specific_heat + (1 - share) * liquid
    if fluid.frozen_share is None:
        heat = np.full(len(below), rho * cold.specific_heat)
    sensible = np.concatenate([[0.0], np.cumsum(0.5 * (heat[1:] + heat[:-1]) * np.diff(below))])
    sensible -= sensible[-1]
    lower = sensible - rho * fluid.latent_heat * share
    k = share * cold.conductivity + (1 - share) * np.asarray(fluid.conductivity(below), float)
    upper_heat = np.asarray(fluid.density(above), float) * np.asarray(fluid.specific_heat(above), float)
    upper = np.concatenate([[0.0], np.cumsum(0.5 * (upper_heat[1:] + upper_heat[:-1]) * np.diff(above))])
    k_above = np.asarray(fluid.conductivity(above), float)

    def transform(at: Array, conductivity: Array) -> Array:
        total = np.concatenate([[0.0], np.cumsum(0.5 * (conductivity[1:] + conductivity[:-1]) * np.diff(at))])
        return np.asarray(total)

    phi_below, phi_above = transform(below, k), transform(above, k_above)
    phi_below = phi_below - phi_below[-1]
    first = 1 if fluid.frozen_share is not None else 0  # of a pure fluid the freezing point stands twice
    return Enthalpy(
        start,
        np.concatenate([lower, upper[first:]]),
        np.concatenate([below, above[first:]]),
        np.concatenate([share, np.zeros(len(above) - first)]),
        np.concatenate([phi_below, phi_above[first:]]),
    )


@dataclass
class Ice:
    """A liquid at rest that freezes: node (k,), its area (k,) m2, conduction at unit conductivity (nodes, nodes)."""

    law: Enthalpy
    node: NDArray[np.int64]
    area: Array
    unit: csc_matrix


def region_heat(problem: Problem, field: Array, without: str) -> Array:
    """rho c at every integration point (triangles, points), 0 in the region `without`."""
    case, grid = problem.case, problem.grid
    at = np.asarray(problem.basis.interpolate(field[: problem.nodes]))
    per_volume = np.zeros_like(at)
    for code, name in enumerate(grid.names):
        mine = grid.region == code
        kind, _, index = name.partition(":")
        if kind == without or not mine.any():
            continue
        per_volume[mine] = _heat(case, kind, index, at[mine])
    return per_volume


def _heat(case: Any, kind: str, index: str, kelvin: Array) -> Array:
    def constant(density: float, specific_heat: float) -> Array:
        return np.full_like(kelvin, density * specific_heat)

    if kind == "wall":
        return constant(case.pipe.material.density, case.pipe.material.specific_heat)
    if kind in ("liquid", "gas"):
        fluid = case.contents.fluid if kind == "liquid" else case.contents.gas
        return np.asarray(fluid.density(kelvin) * fluid.specific_heat(kelvin))
    if kind == "tracer":
        tracer = case.tracers[int(index)]
        return constant(tracer.body_density, tracer.body_specific_heat)
    if kind == "void":
        void = case.insulation.void
        if void.conductivity is not None:
            return constant(void.density, void.specific_heat)
        return 101325.0 / (287.06 * kelvin) * 1006.0  # dry air as an ideal gas
    layer = case.insulation.layers[int(index)]
    return constant(layer.density, layer.specific_heat)


def consistent(problem: Problem, heat: Array) -> csc_matrix:
    """The matrix of what regions store (heat: rho c at the points) and of the sheets."""
    from skfem import BilinearForm

    @BilinearForm
    def stored(u: Any, v: Any, w: Any) -> Any:
        return w.heat * u * v

    whole = csc_matrix(stored.assemble(problem.basis, heat=heat))
    case, grid, sheets = problem.case, problem.grid, Entries()
    if case.barrier:
        mass = problem.outer.mass(case.barrier.thickness * case.barrier.density * case.barrier.specific_heat)
        sheets.blocks(problem.outer.nodes, problem.outer.nodes, mass)
    if case.foil and "foil" in grid.lines:
        nodes = grid.lines["foil"]
        mass = Lines(grid.points, nodes).mass(
            case.foil.thickness * case.foil.density * case.foil.specific_heat
        )
        sheets.blocks(nodes, nodes, mass)
    return csc_matrix(whole + sheets.matrix(problem.nodes)) if sheets.values else whole


def ice_of(problem: Problem) -> Ice | None:
    """The liquid at rest, where it freezes; None for any other."""
    fluid = problem.case.contents.fluid
    mine = problem.grid.triangles_of("liquid")
    if fluid.frozen is None or not len(mine):
        return None
    area = problem.area.sum(axis=1)[mine]
    nodes = problem.grid.nodes_of(mine)
    part = np.array([PART_OF_CORNER] * 3 + [PART_OF_MIDDLE] * 3)[:, None] * area
    total = np.zeros(problem.nodes)
    np.add.at(total, nodes, part)
    node = np.flatnonzero(total)
    return Ice(enthalpy_of(fluid), node, total[node], _conduction(problem, nodes))


def _conduction(problem: Problem, nodes: NDArray[np.int64]) -> csc_matrix:
    """Conduction at unit conductivity of the four straight triangles in each curved one, nodes (6, n)."""
    corner = np.concatenate([nodes[list(which)] for which in FOUR], axis=1)
    at = problem.grid.points[:, corner]  # (2, 3, 4 n)
    side = np.roll(at, -1, axis=1) - np.roll(at, 1, axis=1)  # opposite each corner
    area = 0.5 * np.abs(side[0, 0] * side[1, 1] - side[1, 0] * side[0, 1])
    values = np.einsum("din,djn->nij", side, side) / (4 * area[:, None, None])
    entries = Entries()
    entries.blocks(corner.T, corner.T, values)
    return entries.matrix(problem.nodes)


def bore_area(case: Any, part: str) -> float:
    """Area of liquid or gas in the bore, m2."""
    radius, contents = case.pipe.inner_radius, case.contents
    fill = 0.0 if contents.state == "empty" else float(contents.fill)
    angle = np.arccos(1 - 2 * fill)
    liquid = radius**2 * float(angle - np.sin(angle) * np.cos(angle))
    return liquid if part == "liquid" else float(np.pi * radius**2) - liquid


@dataclass
class RingOfIce:
    """Stirred liquid that freezes on the bore: its heat (J/m) gives liquid or a ring of ice of even thickness.

    The ring's own heat is that of its settled profile, T_f + (T_w - T_f) ln(r / r_f) / ln(r_i / r_f), whose mean over
    the whole bore is (T_w - T_f) (1 + s / ln(1 - s)), s the share frozen.
    """

    law: Enthalpy
    start: float
    latent: float
    solid: float
    conductivity: float
    area: float
    radius: float

    def share(self, heat: float, wall: float) -> float:
        """Share frozen, by halving."""
        stored = heat / self.area
        if stored >= 0.0:
            return 0.0
        low, high = 0.0, SOLID
        for _ in range(60):
            middle = 0.5 * (low + high)
            profile = 1 + middle / np.log1p(-middle) if middle > 1e-6 else 0.5 * middle
            in_ice = -self.latent * middle + self.solid * min(wall - self.start, 0.0) * profile
            low, high = (middle, high) if in_ice > stored else (low, middle)
        return 1.0 if low > SOLID - 1e-6 else low

    def film(self, share: float) -> float:
        """W/m2/K of the bore between the wall and the front, or solid ice's mean."""
        if share >= 1.0:
            return 0.5 * SLOWEST * self.conductivity / self.radius
        return self.conductivity / (self.radius * max(-0.5 * np.log1p(-share), 1e-9))


def ring_of(case: Any) -> RingOfIce | None:
    """The ring of stirred contents that freeze at one temperature; None for any other."""
    fluid = case.contents.fluid
    if case.contents.state != "mixed" or fluid.frozen is None or fluid.frozen_share is not None:
        return None
    rho = float(fluid.density(fluid.freezes_at))
    return RingOfIce(
        enthalpy_of(fluid),
        float(fluid.freezes_at),
        rho * fluid.latent_heat,
        rho * fluid.frozen.specific_heat,
        fluid.frozen.conductivity,
        bore_area(case, "liquid"),
        case.pipe.inner_radius,
    )
