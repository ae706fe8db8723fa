"""Whether a steady flow would last: the growth of small plane disturbances of it.

The linearised equations J z = lambda M z (M: heat and vorticity stored in the moving cells; the solids follow without
delay) are searched for growing modes near a number of frequencies by Arnoldi's iteration on their shifted inverse.
Modes far from every frequency searched can be missed, so an unstable flow is sure and a stable one likely.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.sparse import csc_matrix, diags_array
from scipy.sparse.linalg import ArpackNoConvergence, LinearOperator, eigs

from sim.heat.convection import Convection
from sim.section.shapes import Array
from sim.solve.motion import Fluidity, Heat, State, System

FREQUENCIES = (0.0, 12.0, 35.0)  # searched, times the greatest stream function: rounds of the contents
MODES = 6  # nearest to each frequency
LOOSE = 1e-3  # tolerance of the modes
SMALL = 400  # iterations


def growth(heat: Heat, convection: Convection, fluid: Fluidity, state: State) -> complex:
    """The fastest growing mode found: growth rate and frequency, a0 / D2; the real part is negative if it decays."""
    system = System(heat, convection, fluid)
    balance, law, _, _ = system.residual(state)
    matrix = system.jacobian(state, balance, law, np.inf)
    area, nodes = convection.mesh.area, heat.nodes
    stored = np.zeros(matrix.shape[0])
    stored[heat.flow_node] = area
    stored[nodes : nodes + len(area)] = area / law.prandtl
    order = system.elimination
    found: list[complex] = []
    turn = float(np.abs(state.psi).max())
    start = np.random.default_rng(0).standard_normal(len(stored)) + 0j
    for part in FREQUENCIES:
        shift = 1j * part * turn
        solve = order.factor(csc_matrix(matrix - diags_array(shift * stored)))

        def apply(v: Array, solve: Callable[[Array], Array] = solve) -> Array:
            image: Array = solve(stored * v.ravel())
            return image

        operator = LinearOperator(matrix.shape, matvec=apply, dtype=complex)
        try:
            near = eigs(operator, MODES, v0=start, tol=LOOSE, maxiter=SMALL, return_eigenvectors=False)
        except ArpackNoConvergence as error:
            near = error.eigenvalues
        found += [complex(shift + 1.0 / v) for v in near if abs(v) > 1e-300]
    return max(found, key=lambda mode: mode.real, default=complex("nan"))
