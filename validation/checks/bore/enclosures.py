"""Enclosures of published natural convection, solved by the section's own operator: square cavity and annulus.

Everything is in units of the enclosure's length (side, or gap), the wall's difference of temperature, and the fluid's
thermal diffusivity, so that the law's lift is the Rayleigh number itself.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_matrix, csr_matrix, diags_array

from sim.heat.convection import Convection, FlowLaw
from sim.section.flow import FlowMesh, flow_mesh
from sim.section.mesh import voronoi
from sim.solve.motion import Fluidity, HeatBalance, Motion, State, steady

Array = NDArray[np.float64]
Walls = Callable[[Array], Array]


@dataclass(frozen=True)
class Enclosure:
    """A fluid between walls of given temperature (NaN: adiabatic), rim points (b, 2); see `sim.solve.motion.Heat`."""

    flow: FlowMesh
    wall: Array
    point: Array

    @property
    def nodes(self) -> int:
        return self.flow.cells

    @property
    def flow_node(self) -> NDArray[np.int64]:
        return np.arange(self.flow.cells)

    @property
    def wall_given(self) -> NDArray[np.bool_]:
        return np.isfinite(self.wall)

    def balance(self, temperature: Array) -> HeatBalance:
        """Conduction of the fluid and to the walls."""
        flow, n = self.flow, self.flow.cells
        shape, wall = flow.rim_shape * self.wall_given, np.where(self.wall_given, self.wall, 0.0)
        inner = flow.incidence().T @ diags_array(flow.shape) @ flow.incidence()
        matrix = csc_matrix(inner + diags_array(np.bincount(flow.rim_cell, shape, n)))
        given = np.bincount(flow.rim_cell, shape * wall, n)
        b = len(wall)
        rim = csr_matrix((np.where(self.wall_given, 0.0, 1.0), (np.arange(b), flow.rim_cell)), (b, n))
        none = np.zeros((n, 0))
        return HeatBalance(given - matrix @ temperature, matrix, none, none.T, 1.0, rim, wall)

    def heat(self, temperature: Array, walls: NDArray[np.bool_]) -> float:
        """Heat that enters through some of the walls (b,), in units of conductivity times difference."""
        flow = self.flow
        entering = flow.rim_shape * (self.wall - temperature[flow.rim_cell])
        return float(entering[walls].sum())

    def solve(
        self,
        rayleigh: float,
        prandtl: float,
        start: State | None = None,
        density: Callable[[Array], Array] = lambda t: -t,
        slope: Callable[[Array], Array] = lambda t: -np.ones_like(t),
        pseudo_time: float | None = None,
    ) -> Motion:
        """Steady flow from a start (at rest with the conducting field). density in units of rho beta dT."""
        if start is None:
            rest = np.zeros(self.flow.cells)
            start = State(self.conducting(), rest, rest)
        fluid = Fluidity(lambda t: FlowLaw(prandtl, rayleigh, 1.0), density, slope)
        first = pseudo_time if pseudo_time is not None else 0.3 / np.sqrt(rayleigh)
        return steady(self, Convection(self.flow), fluid, start, pseudo_time=first)

    def conducting(self) -> Array:
        """Temperatures without motion."""
        from scipy.sparse.linalg import spsolve

        balance = self.balance(np.zeros(self.flow.cells))
        return spsolve(balance.matrix, balance.residual)


def _enclosed(site: Array, inside: NDArray[np.bool_], walls: Walls, slips: Walls | None = None) -> Enclosure:
    vertex, pair, ends = voronoi(site)
    length = np.hypot(*(vertex[ends[:, 0]] - vertex[ends[:, 1]]).T)
    gap = np.hypot(*(site[pair[:, 0]] - site[pair[:, 1]]).T)
    keep = (length > 1e-6 * gap) & inside[pair].any(axis=1)
    pair, ends, length, gap = pair[keep], ends[keep], length[keep], gap[keep]
    area = np.bincount(pair.ravel(), np.repeat(0.25 * length * gap, 2), len(site)).astype(float)
    middle = 0.5 * (site[pair[:, 0]] + site[pair[:, 1]])
    free = np.zeros(len(pair), bool) if slips is None else slips(middle).astype(bool)
    flow = flow_mesh(site, area, pair, length, gap, ends, vertex, inside, free, 1.0)
    return Enclosure(flow, walls(middle[flow.rim_face]), middle[flow.rim_face])


def _graded(cells: int, strength: float) -> Array:
    """Bounds of cells from 0 to 1, finer towards both ends."""
    even = np.linspace(-1, 1, cells + 1)
    return 0.5 * (1 + np.tanh(strength * even) / np.tanh(strength))


def square(cells: int, walls: Walls, strength: float = 1.3, slips: Walls | None = None) -> Enclosure:
    """Unit square of cells x cells; walls and slips of rim points (b, 2)."""
    bounds = _graded(cells, strength)
    centre = 0.5 * (bounds[1:] + bounds[:-1])
    line = np.concatenate([[-centre[0]], centre, [2 - centre[-1]]])
    site = np.stack(np.meshgrid(line, line), axis=-1).reshape(-1, 2)
    inside = np.asarray(((site > 0) & (site < 1)).all(axis=1), bool)
    return _enclosed(site, inside, walls, slips)


def heated_side(point: Array) -> Array:
    """Left wall at 1, right wall at 0, the others adiabatic."""
    x = point[:, 0]
    return np.where(x < 1e-9, 1.0, np.where(x > 1 - 1e-9, 0.0, np.nan))


def annulus(rows: int, around: int, inner: float, strength: float = 1.2) -> Enclosure:
    """Horizontal annulus of gap 1 and a given inner radius; the inner cylinder at 1, the outer at 0."""
    bounds = inner + _graded(rows, strength)
    centre = 0.5 * (bounds[1:] + bounds[:-1])
    radius = np.concatenate([[2 * inner - centre[0]], centre, [2 * (inner + 1) - centre[-1]]])
    angle = (np.arange(around) + 0.5) * 2 * np.pi / around
    r, a = (v.ravel() for v in np.meshgrid(radius, angle))
    site = np.stack([r * np.sin(a), r * np.cos(a)], axis=-1)
    hub = np.zeros((1, 2))
    inside = np.concatenate([(r > inner) & (r < inner + 1), [False]])
    return _enclosed(
        np.concatenate([site, hub]),
        inside,
        lambda point: np.where(np.hypot(*point.T) < inner + 0.5, 1.0, 0.0),
    )


def midplane_peaks(enclosure: Enclosure, psi: Array) -> tuple[float, float]:
    """Greatest u on the vertical and v on the horizontal middle of a square with an even number of cells."""
    flow = enclosure.flow
    step = flow.site[flow.face[:, 1]] - flow.site[flow.face[:, 0]]
    gap = np.hypot(*step.T)
    middle = 0.5 * (flow.site[flow.face[:, 0]] + flow.site[flow.face[:, 1]])
    speed = flow.flow @ psi / (flow.shape * gap)
    peaks = []
    for axis in (0, 1):
        on = (np.abs(step[:, axis]) > 0.9 * gap) & (np.abs(middle[:, axis] - 0.5) < 1e-9)
        order = np.argsort(middle[on, 1 - axis])
        x, v = middle[on, 1 - axis][order], (speed * np.sign(step[:, axis]))[on][order]
        top = int(np.argmax(v))
        parabola = np.polyfit(x[top - 1 : top + 2], v[top - 1 : top + 2], 2)
        peaks.append(float(np.polyval(parabola, -parabola[1] / (2 * parabola[0]))))
    return peaks[0], peaks[1]


def raithby_hollands(rayleigh: float, prandtl: float, inner: float) -> float:
    """Equivalent over plain conductivity of a horizontal annulus of gap 1: Raithby and Hollands 1975."""
    d_in, d_out = 2 * inner, 2 * inner + 2
    factor = np.log(d_out / d_in) ** 4 / (d_in ** (-3 / 5) + d_out ** (-3 / 5)) ** 5
    return float(max(1.0, 0.386 * (prandtl / (0.861 + prandtl)) ** 0.25 * (factor * rayleigh) ** 0.25))
