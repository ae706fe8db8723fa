"""Steady plane natural convection of a fluid: vorticity and stream function at the sites of a Voronoi mesh.

Lengths in units of the bore's diameter D, the stream function psi in units of the thermal diffusivity a, the
vorticity w in units of a / D2, with properties of reference marked 0:

    div(u w) / Pr = div grad w - B d(rho)/dx,    B = g D3 / (mu0 a0),
    div grad psi = -w,    u = d psi/dy, v = -d psi/dx.

Where the viscosity varies, m = mu / mu0, div grad w becomes div (grad (m w) + 2 g) with g the flux

    g . n = grad m . d(u, v)/ds,    s along the face, 90 degrees left of its normal n,

which is the curl of div (2 m S), S the rate of strain, and is taken face by face.

Boussinesq: the density rho(T) acts in the weight alone. On a wall the tangential velocity is zero in the
circulation of the cell beside it, and the wall's vorticity is that of Woods (1954), w_wall = -3 psi / d2 - w / 2
with d the distance of the site, second-order accurate; on a free surface w = 0 and psi = 0.
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix, diags_array

from sim.section.flow import FlowMesh
from sim.section.shapes import Array

Thickness = tuple[Array, Array] | None
GRAVITY = 9.80665  # m/s2, ISO 80000-3


@dataclass(frozen=True)
class FlowLaw:
    """What a fluid's motion needs: prandtl; lift B in m3/kg; carries: conductivity rho0 c0 a0 in W/m/K."""

    prandtl: float
    lift: float
    carries: float


class Convection:
    """The discrete equations of one FlowMesh: fixed matrices, residuals and their derivatives."""

    def __init__(self, mesh: FlowMesh) -> None:
        self.mesh = mesh
        n = mesh.cells
        self.incidence = mesh.incidence()
        self.mean = mesh.mean()
        self.gather = self.incidence.T.tocsr()
        graph = -(self.gather @ diags_array(mesh.shape) @ self.incidence)
        wall = ~mesh.rim_slips
        slip_shape = np.bincount(mesh.rim_cell, mesh.rim_shape * mesh.rim_slips, n)
        # the wall's part of the vorticity's diffusion: shape (m w_wall - m w), w_wall = -3 psi / d2 - w / 2
        rim_shape = np.bincount(mesh.rim_cell, mesh.rim_shape, n)
        self.diffusion = (graph - diags_array(rim_shape)).tocsr()
        b = len(mesh.rim_cell)
        at_rim = csr_matrix((mesh.rim_shape * wall, (mesh.rim_cell, np.arange(b))), (n, b))
        self.rim_sum = at_rim
        self.laplace = (graph - diags_array(slip_shape)).tocsr()
        self.area = diags_array(mesh.area).tocsr()
        # d(rho)/dx over a cell: density on faces and rim, times the x part of length times normal
        self.weigh = (-self.gather @ diags_array(mesh.push) @ self.mean).tocsr()
        self.weigh_rim = csr_matrix((mesh.rim_push, (mesh.rim_cell, np.arange(b))), (n, b))

    def flows(self, psi: Array) -> Array:
        """Flow through each face from its first to its second site, in units of a, shape (m,)."""
        flow: Array = self.mesh.flow @ psi
        return flow

    def heat(self, law: FlowLaw, psi: Array, temperature: Array) -> Array:
        """Heat carried into each cell, W/m, shape (n,)."""
        heat: Array = law.carries * (self.gather @ (self.flows(psi) * (self.mean @ temperature)))
        return heat

    def heat_slopes(self, law: FlowLaw, psi: Array, temperature: Array) -> tuple[csr_matrix, csr_matrix]:
        """Derivatives of `heat` by the cells' temperature and stream function, (n, n) each."""
        by_t = self.gather @ diags_array(law.carries * self.flows(psi)) @ self.mean
        by_psi = self.gather @ diags_array(law.carries * (self.mean @ temperature)) @ self.mesh.flow
        return by_t.tocsr(), by_psi.tocsr()

    def wall_vorticity(self, psi: Array, vorticity: Array) -> Array:
        """Vorticity on the rim's walls, shape (b,)."""
        cell = self.mesh.rim_cell
        return -3.0 * psi[cell] / self.mesh.rim_gap**2 - 0.5 * vorticity[cell]

    def _bending(self, psi: Array, thickness: Array) -> Array:
        """The part of the friction that is there where the viscosity varies, each cell, shape (n,)."""
        (u, v), (x, y) = self.mesh.turns, self.mesh.slopes
        rim: Array = -2.0 * (self.gather @ ((x @ thickness) * (u @ psi) + (y @ thickness) * (v @ psi)))
        return rim

    def vorticity(
        self,
        law: FlowLaw,
        psi: Array,
        vorticity: Array,
        density: tuple[Array, Array],
        thick: Thickness = None,
    ) -> Array:
        """Residual of the vorticity's equation, shape (n,).

        density: of cells and rim, kg/m3, best less their mean; thick: viscosity over mu0 of cells and rim, or None.
        """
        carried = self.gather @ (self.flows(psi) * (self.mean @ vorticity))
        weight = self.weigh @ density[0] + self.weigh_rim @ density[1]
        wall = self.wall_vorticity(psi, vorticity)
        if thick is None:
            friction = self.diffusion @ vorticity + self.rim_sum @ wall
        else:
            inner, rim = thick
            friction = self.diffusion @ (inner * vorticity) + self.rim_sum @ (rim * wall)
            friction += self._bending(psi, inner)
        balance: Array = friction + carried / law.prandtl - law.lift * weight
        return balance

    def vorticity_slopes(
        self, law: FlowLaw, psi: Array, vorticity: Array, thick: Thickness = None
    ) -> tuple[csr_matrix, csr_matrix]:
        """Derivatives of `vorticity` by vorticity and stream function, (n, n) each."""
        mesh, n = self.mesh, self.mesh.cells
        inner, rim = (np.ones(n), np.ones(len(mesh.rim_cell))) if thick is None else thick
        at_rim = self.rim_sum @ rim
        at_psi = self.rim_sum @ (rim / mesh.rim_gap**2)
        by_w = self.diffusion @ diags_array(inner) - diags_array(0.5 * at_rim)
        by_w = by_w + self.gather @ diags_array(self.flows(psi) / law.prandtl) @ self.mean
        by_psi = self.gather @ diags_array((self.mean @ vorticity) / law.prandtl) @ mesh.flow
        by_psi = by_psi - diags_array(3.0 * at_psi)
        if thick is not None:
            (u, v), (x, y) = mesh.turns, mesh.slopes
            by_psi = by_psi - 2.0 * (self.gather @ (diags_array(x @ inner) @ u + diags_array(y @ inner) @ v))
        return by_w.tocsr(), by_psi.tocsr()

    def thickness_slopes(self, psi: Array, vorticity: Array) -> tuple[csr_matrix, csr_matrix]:
        """Derivatives of `vorticity` by the viscosity over mu0 of cells (n, n) and rim (n, b)."""
        (u, v), (x, y) = self.mesh.turns, self.mesh.slopes
        inner = self.diffusion @ diags_array(vorticity) - 2.0 * (
            self.gather @ (diags_array(u @ psi) @ x + diags_array(v @ psi) @ y)
        )
        return inner.tocsr(), (self.rim_sum @ diags_array(self.wall_vorticity(psi, vorticity))).tocsr()

    def stream(self, psi: Array, vorticity: Array) -> Array:
        """Residual of the stream function's equation, shape (n,)."""
        balance: Array = self.laplace @ psi + self.mesh.area * vorticity
        return balance
