"""Free convection in the widest air gap: left out of the field, so its size is told."""

from __future__ import annotations

import numpy as np

from sim.heat import air
from sim.section.gaps import void_width
from sim.solve.quantities import region_mask
from sim.solve.steady import Solution, cell_temperature

GRAVITY = 9.80665
QUIET = 1000.0  # Rayleigh number below which still air is a fair picture


def gap_note(solution: Solution) -> str | None:
    """A sentence if air in a gap would stir, else None.

    Rayleigh number on the widest gap and the largest difference within the void; what stirring would multiply the
    conduction by is Raithby and Hollands (1975) for an annulus, 0.386 (Pr / (0.861 + Pr))^(1/4) (F Ra)^(1/4), with
    the geometry factor F taken as 1 (its largest value).
    """
    network = solution.network
    if network.case.insulation.void.conductivity is not None:
        return None
    void = region_mask(solution, "void")
    if not void.any():
        return None
    temperature = cell_temperature(network, solution.temperature)[void]
    mesh = network.mesh
    width = float(void_width(mesh.layout, mesh.pieces, mesh.site[void]).max())
    film = float(temperature.mean())
    spread = float(np.ptp(temperature))
    rayleigh = (
        GRAVITY
        * float(air.expansion(film))
        * spread
        * width**3
        / float(air.kinematic_viscosity(film) * air.diffusivity(film))
    )
    if rayleigh < QUIET:
        return None
    prandtl = float(air.prandtl(film))
    stirred = max(1.0, 0.386 * (prandtl / (0.861 + prandtl)) ** 0.25 * rayleigh**0.25)
    return (
        f"free convection in the air gaps is left out: the widest is {1e3 * width:.0f} mm (Rayleigh number "
        f"{rayleigh:.2g}), where stirring air would carry up to {stirred:.1f} times what still air conducts"
    )
