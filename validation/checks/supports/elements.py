"""A shoe by quadratic finite elements on a body-fitted mesh, and FiPy on the same prisms."""

from __future__ import annotations

from validation.peers.elements.support import compare
from validation.peers.volumes.support import compare as by_fipy
from validation.published.rows import Row

SIZE = 0.012  # m, largest triangle of the finite elements' plan
UNITS = {"heat_sink": "W", "chi": "W/K", "leg_heat_held": "W", "dip": "K", "fall_max": "K"}
SHARE = {"heat_sink": 0.015, "chi": 0.015, "leg_heat_held": 0.015, "dip": 0.02, "fall_max": 0.02}


def finite_elements() -> list[Row]:
    """A shoe by quadratic finite elements on a body-fitted mesh."""
    return [
        Row(
            "shoe by finite elements",
            "quadratic tetrahedra by scikit-fem (@scikitfem2020) on a plan by gmsh (@gmsh2009)",
            name,
            elements,
            volumes,
            SHARE[name] * elements,
            f"{100 * SHARE[name]:g} %, the bar of the issue",
            UNITS[name],
            band,
        )
        for name, elements, volumes, band in compare(SIZE)
    ]


def fipy() -> list[Row]:
    """A shoe by FiPy on the same prisms."""
    computed = by_fipy(0.8)
    return [
        Row(
            "FiPy on the same prisms",
            "FiPy (@fipy2009), conjugate gradients",
            "largest difference of a cell over the span",
            0.0,
            computed["largest_difference"],
            1e-5,
            "linear solvers that stop at 1e-7",
            "-",
        )
    ]


GROUPS = (finite_elements, fipy)
