"""Steady plane natural convection of a fluid: vorticity and stream function at the sites of a Voronoi mesh.

Lengths in units of the bore's diameter D, the stream function psi in units of the thermal diffusivity a, the
vorticity w in units of a / D2, with properties of reference marked 0:

    div(u w) / Pr = div grad w - B d(rho)/dx,    B = g D3 / (mu0 a0),
    div grad psi = -w,    u = d psi/dy, v = -d psi/dx.

Boussinesq: the density rho(T) acts in the weight alone. On a wall the tangential velocity is zero in the
circulation of the cell beside it, and the wall's vorticity is that of Woods (1954), w_wall = -3 psi / d2 - w / 2
with d the distance of the site, second-order accurate; on a free surface w = 0 and psi = 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix, diags_array

from sim.section.flow import FlowMesh
from sim.section.shapes import Array

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
        # the wall's part of the vorticity's diffusion: shape (w_wall - w), w_wall = -3 psi / d2 - w / 2
        on_wall = np.bincount(mesh.rim_cell, mesh.rim_shape * wall, n)
        on_psi = np.bincount(mesh.rim_cell, mesh.rim_shape * wall / mesh.rim_gap**2, n)
        self.diffusion = (graph - diags_array(slip_shape + 1.5 * on_wall)).tocsr()
        self.wall_psi = diags_array(-3.0 * on_psi).tocsr()
        self.laplace = (graph - diags_array(slip_shape)).tocsr()
        self.area = diags_array(mesh.area).tocsr()
        # d(rho)/dx over a cell: density on faces and rim, times the x part of length times normal
        self.weigh = (-self.gather @ diags_array(mesh.push) @ self.mean).tocsr()
        b = len(mesh.rim_cell)
        self.weigh_rim = csr_matrix((mesh.rim_push, (mesh.rim_cell, np.arange(b))), (n, b))

    def flows(self, psi: Array) -> Array:
        """Flow through each face from its first to its second site, in units of a, shape (m,)."""
        return self.mesh.flow @ psi

    def heat(self, law: FlowLaw, psi: Array, temperature: Array) -> Array:
        """Heat carried into each cell, W/m, shape (n,)."""
        return law.carries * (self.gather @ (self.flows(psi) * (self.mean @ temperature)))

    def heat_slopes(self, law: FlowLaw, psi: Array, temperature: Array) -> tuple[csr_matrix, csr_matrix]:
        """Derivatives of `heat` by the cells' temperature and stream function, (n, n) each."""
        by_t = self.gather @ diags_array(law.carries * self.flows(psi)) @ self.mean
        by_psi = self.gather @ diags_array(law.carries * (self.mean @ temperature)) @ self.mesh.flow
        return by_t.tocsr(), by_psi.tocsr()

    def vorticity(
        self, law: FlowLaw, psi: Array, vorticity: Array, density: Array, rim_density: Array
    ) -> Array:
        """Residual of the vorticity's equation, shape (n,). Densities in kg/m3, best less their mean."""
        carried = self.gather @ (self.flows(psi) * (self.mean @ vorticity))
        weight = self.weigh @ density + self.weigh_rim @ rim_density
        return self.diffusion @ vorticity + self.wall_psi @ psi + carried / law.prandtl - law.lift * weight

    def vorticity_slopes(self, law: FlowLaw, psi: Array, vorticity: Array) -> tuple[csr_matrix, csr_matrix]:
        """Derivatives of `vorticity` by vorticity and stream function, (n, n) each."""
        by_w = self.diffusion + self.gather @ diags_array(self.flows(psi) / law.prandtl) @ self.mean
        by_psi = (
            self.wall_psi + self.gather @ diags_array((self.mean @ vorticity) / law.prandtl) @ self.mesh.flow
        )
        return by_w.tocsr(), by_psi.tocsr()

    def stream(self, psi: Array, vorticity: Array) -> Array:
        """Residual of the stream function's equation, shape (n,)."""
        return self.laplace @ psi + self.mesh.area * vorticity
