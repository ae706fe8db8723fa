"""A shoe by quadratic finite elements on a body-fitted mesh, and FiPy on the same prisms."""

from validation.peers.elements.support import compare
from validation.peers.volumes.support import compare as by_fipy
from validation.published.rows import Row

SIZE = 0.012  # m, largest triangle of the finite elements' plan
UNITS = {"heat_sink": "W", "chi": "W/K", "leg_heat_held": "W", "dip": "K", "fall_max": "K"}
SHARE = {"heat_sink": 0.015, "chi": 0.015, "leg_heat_held": 0.015, "dip": 0.02, "fall_max": 0.02}


def finite_elements() -> list[Row]:
    """A shoe by quadratic finite elements on a body-fitted mesh."""
    source = "quadratic tetrahedra by scikit-fem (@scikitfem2020) on a plan by gmsh (@gmsh2009)"
    rows = []
    for name, elements, volumes, band in compare(SIZE):
        most, why = SHARE[name] * elements, f"{100 * SHARE[name]:g} % of it"
        rows.append(
            Row("shoe by finite elements", source, name, elements, volumes, most, why, UNITS[name], band)
        )
    return rows


def fipy() -> list[Row]:
    """A shoe by FiPy on the same prisms."""
    computed = by_fipy(0.8)
    source, name = "FiPy (@fipy2009), conjugate gradients", "largest difference of a cell over the span"
    most, why = computed["largest_difference"], "linear solvers that stop at 1e-7"
    return [Row("FiPy on the same prisms", source, name, 0.0, most, 1e-5, why, "-")]


GROUPS = (finite_elements, fipy)
