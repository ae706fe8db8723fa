"""A shoe by quadratic finite elements on a body-fitted mesh."""

from validation.peers.elements.support import compare
from validation.published.rows import Row, Table

SIZE = 0.012  # m, largest triangle of the finite elements' plan
SHARE = {  # of the finite elements' number, and its unit
    "heat_sink": (0.015, "W"),
    "chi": (0.015, "W/K"),
    "leg_heat_held": (0.015, "W"),
    "dip": (0.02, "K"),
    "fall_max": (0.02, "K"),
}


def rows() -> list[Row]:
    """A shoe by quadratic finite elements on a body-fitted mesh."""
    source = "quadratic tetrahedra by scikit-fem (@scikitfem2020) on a plan by gmsh (@gmsh2009)"
    table = Table("shoe by finite elements", source)
    for name, elements, volumes, band in compare(SIZE):
        part, unit = SHARE[name]
        why = f"{100 * part:g} % of it"
        table.within(name, elements, volumes, part * elements, why, unit, band=band)
    return table.rows
