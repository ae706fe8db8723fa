"""FiPy on the very same cells: an independent solver of the discrete problem, in a process of its own."""

import numpy as np

from sim.case import case_for, parse_case
from sim.heat.network import network
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.steady import cell_temperature, solve
from validation.peers.volumes.field import apart
from validation.published.rows import Row
from validation.sketches.invented import SECTIONS

SAME = 1e-8  # of the span


def sections() -> list[Row]:
    """FiPy on the same cells: three demonstration sections, the same harmonic face conductivities."""
    whole = SECTIONS["half_filled"]["contents"] | {"fill": 1.0}
    drawn = {
        "half_filled": SECTIONS["half_filled"],
        "flat_mixed, but still": SECTIONS["flat_mixed"] | {"contents": whole},
        "round_still": SECTIONS["round_still"],
    }
    out = []
    for name, section in drawn.items():
        case = parse_case(section)
        case = case_for(case, case.conditions[0].name)
        net = network(case, plan_mesh(place(case), 2.0))
        cells = cell_temperature(net, solve(net).temperature)
        theirs = cell_temperature(net, apart(net).temperature)
        most = float(np.abs(theirs - cells).max() / (cells.max() - case.conditions[0].ambient))
        check, source = f"FiPy on the same cells, {name}", "FiPy (@fipy2009), harmonic face values, LU"
        what, why = (
            "largest difference of a cell over the span",
            "one discrete problem, each solved to rounding",
        )
        out.append(Row(check, source, what, 0.0, most, SAME, why, "-"))
    return out


GROUPS = (sections,)
