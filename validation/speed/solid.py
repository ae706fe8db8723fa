"""The shoe in three dimensions by all solvers: error of its heat sink over time."""

import numpy as np

from sim.case import Case, Support, case_for, parse_case
from sim.heat.network import network
from sim.heat.support_layers import support_network
from sim.section.extrude import z_layers
from sim.section.mesh import plan_mesh
from sim.section.support_plan import place_support
from sim.solve.multigrid import Multigrid
from sim.solve.quantities import quantities
from sim.solve.steady import solve
from sim.solve.support_level import maintained_case, reach
from sim.solve.support_quantities import heat
from validation.peers.elements.support import BORE_FILM, HALF_SPACING, assembled
from validation.peers.elements.support import case as raw_case
from validation.peers.volumes.support import compare
from validation.speed.curves import Point, timed

HELD = 333.15
FINENESS = (0.5, 0.6, 0.7, 0.85, 1.0, 1.25, 1.6)
SIZES = {1: (0.03, 0.02, 0.014, 0.010, 0.007), 2: (0.08, 0.05, 0.035, 0.025)}
AROUND = 40  # elements around a circle at a size of 12 mm, in proportion at others


def the_case() -> tuple[Case, Support]:
    narrowed = case_for(parse_case(raw_case()), "a")
    return maintained_case(narrowed, HELD), narrowed.supports[0]


def ours(case: Case, support: Support, fineness: float) -> dict[str, float]:
    """Heat sink W, with unknowns and iterations: the whole way from the case on, mesh included."""
    layout = place_support(case, support)
    section_net = network(case, plan_mesh(layout, fineness))
    section = solve(section_net)
    z = z_layers(layout, HALF_SPACING, reach(section), fineness, ())
    grid = Multigrid()
    net = support_network(section_net, z, support)
    field = solve(net, np.tile(section.temperature, z.count), grid)
    drained = heat(field).out - 2 * HALF_SPACING * quantities(section)["heat_out"]
    return {"sink": drained, "unknowns": float(net.nodes), "iterations": float(field.iterations)}


def elements(size: float, degree: int) -> dict[str, float]:
    """The same by tetrahedra and pyamg under conjugate gradients: the line without the shoe and with it."""
    import gmsh
    import pyamg

    if gmsh.isInitialized():  # the section's peer leaves it running
        gmsh.finalize()
    # classical coarsening is the quicker on linear elements, and breaks down on some quadratic ones
    setup = pyamg.ruge_stuben_solver if degree == 1 else pyamg.smoothed_aggregation_solver
    half = assembled(size, degree, round(AROUND * min(2.0, 0.012 / size)))
    out, count = {}, 0
    for with_shoe in (False, True):
        grid, left = setup(half.matrix(with_shoe).tocsr(), max_coarse=100), list[float]()
        right = BORE_FILM * 60.0 * half.load["bore"]
        field = grid.solve(right, tol=1e-7, accel="cg", maxiter=400, residuals=left)
        out[with_shoe], count = sum(half.leaving(field, with_shoe)), len(left)
    return {"sink": out[True] - out[False], "unknowns": float(half.basis.N), "iterations": float(count)}


def solid() -> tuple[list[Point], dict[str, float]]:
    """Curves of coldspot and the finite elements, and what they are measured against."""
    case, support = the_case()
    mine, theirs = [], []
    for fineness in FINENESS:
        seconds, wall, solved = timed(lambda f=fineness: ours(case, support, f), 2)  # type: ignore[misc]
        mine.append(("coldspot", "prisms", fineness, solved, seconds, wall))
    for degree, sizes in SIZES.items():
        for size in sizes:
            seconds, wall, solved = timed(lambda s=size, d=degree: elements(s, d), 2)  # type: ignore[misc]
            theirs.append(("scikit-fem + gmsh", f"P{degree}", 1 / size, solved, seconds, wall))
    fine_ours = ours(case, support, 2.2)["sink"]
    coarse_ours = mine[-1][3]["sink"]
    ours_at_rest = fine_ours + (fine_ours - coarse_ours) / ((2.2 / FINENESS[-1]) ** 2 - 1)
    fine = elements(0.012, 2)["sink"]
    reference = 0.5 * (ours_at_rest + fine)
    points = [
        Point(who, series, setting, f["unknowns"], seconds, wall, 100 * (f["sink"] / reference - 1))
        for who, series, setting, f, seconds, wall in [*mine, *theirs]
    ]
    return points, {
        "reference": reference,
        "ours": ours_at_rest,
        "theirs": fine,
        "uncertainty": 50 * abs(ours_at_rest - fine) / reference,
    }


def fipy(fineness: float) -> dict[str, float]:
    """FiPy on the same prisms of one linear problem of the shoe: the same discrete answer, so the same error."""
    return compare(fineness)
