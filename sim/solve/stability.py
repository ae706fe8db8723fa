"""Whether a steady flow would last: the growth of small plane disturbances of it.

The linearised equations J z = lambda M z (M: heat and vorticity stored in the moving cells; the solids follow without
delay) are searched for growing modes along the axis of frequencies, by Arnoldi's iteration on the inverse shifted to
one frequency after another. Each search finds the modes nearest to its frequency, and so everything up to the farthest
of them; the next begins where these circles would still meet. A mode is missed only if Arnoldi's iteration misses it,
or if it turns faster than any that was seen.
"""

from collections.abc import Callable
from functools import partial

import numpy as np
from scipy.sparse import csc_matrix, diags_array
from scipy.sparse.linalg import ArpackNoConvergence, LinearOperator, eigs

from sim.heat.convection import Convection
from sim.section.shapes import Array
from sim.solve.motion import Fluidity, Heat, NoSteadyFlow, State, System

# frequency searched to, times the greatest stream function: rounds of the contents; 129 was seen
HIGHEST = 160.0
MODES = 6  # nearest to each frequency
LOOSE = 1e-3  # tolerance of the modes
ROUGH = 1e-7  # of the solutions they are found by
SMALL = 400  # iterations
STRIDE = 0.7  # of a circle's radius, how far beyond it the next one is centred
SEARCHES = 40  # frequencies searched at most, each one factorisation

Factor = Callable[[csc_matrix], Callable[[Array], Array]]


def growth(heat: Heat, convection: Convection, fluid: Fluidity, state: State) -> complex:
    """The fastest growing mode found: growth rate and frequency, a0 / D2; the real part is negative if it decays.

    Raises NoSteadyFlow where the frequencies are not searched through in SEARCHES.
    """
    system = System(heat, convection, fluid)
    balance, law, _, _ = system.residual(state)
    matrix = system.jacobian(state, balance, law, np.inf)
    area, nodes = convection.mesh.area, heat.nodes
    stored = np.zeros(matrix.shape[0])
    stored[heat.flow_node] = area
    stored[nodes : nodes + len(area)] = area / law.prandtl
    return fastest(
        matrix,
        stored,
        partial(system.elimination.factor, fine=ROUGH),
        HIGHEST * float(np.abs(state.psi).max()),
    )


def fastest(matrix: csc_matrix, stored: Array, factor: Factor, highest: float) -> complex:
    """The mode of matrix z = lambda diag(stored) z with the greatest real part among those found up to a frequency."""
    rates: list[complex] = []
    covered = frequency = 0.0  # every frequency up to the first lies in a circle
    for _ in range(SEARCHES):
        near = _near(matrix, stored, factor, 1j * frequency)
        rates += near
        radius = (
            max((abs(mode - 1j * frequency) for mode in near), default=0.0) if len(near) >= MODES else 0.0
        )
        if frequency - radius <= covered:
            covered = max(covered, frequency + radius)
            if covered >= highest:
                return max(rates, key=lambda mode: mode.real, default=complex("nan"))
            frequency = covered + STRIDE * radius
        else:  # a gap: search in the middle of it, and come back
            frequency = 0.5 * (covered + frequency - radius)
    raise NoSteadyFlow(f"whether it would last was not settled by searching {SEARCHES} frequencies")


def _near(matrix: csc_matrix, stored: Array, factor: Factor, shift: complex) -> list[complex]:
    """The modes nearest to a shift, as many as settled."""
    solve = factor(csc_matrix(matrix - diags_array(shift * stored)))
    start = np.random.default_rng(0).standard_normal(len(stored)) + 0j

    def apply(v: Array) -> Array:
        return solve(stored * v.ravel())

    operator = LinearOperator(matrix.shape, matvec=apply, dtype=complex)
    try:
        near = eigs(operator, MODES, v0=start, tol=LOOSE, maxiter=SMALL, return_eigenvectors=False)
    except ArpackNoConvergence as error:
        near = error.eigenvalues
    return [complex(shift + 1.0 / v) for v in near if abs(v) > 1e-300]
