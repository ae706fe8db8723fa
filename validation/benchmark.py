"""How fast a section is solved, as ratios against peers in the same run. `python -m validation.benchmark`.

Peers: FiPy on the same cells (the winter case with all its nonlinearities), and a body-fitted finite-element
solution (scikit-fem on gmsh) at equal error of the sheath temperature. Times are medians of several runs; the
mesh is included in ours, and in FiPy's (it is handed our cells and needs them too).
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import tempfile
from pathlib import Path
from time import perf_counter

import numpy as np

from sim.case import Case, case_for, load_case, parse_case
from sim.heat.network import network
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.quantities import quantities
from sim.solve.section import FINENESS
from sim.solve.steady import Solution, cell_temperature, solve
from sim.verify.checks.invented import SECTIONS
from sim.verify.second.polygons import polygons

HERE = Path(__file__).parent
SWEEPS = HERE.parent / "sim" / "verify" / "second" / "sweeps.py"
RUNS = 5


def ours(case: Case, fineness: float) -> tuple[float, float, Solution]:
    """Median seconds of mesh and of network plus solution, and the solution."""
    meshing, solving = [], []
    layout = place(case)
    for _ in range(RUNS):
        begin = perf_counter()
        mesh = plan_mesh(layout, fineness)
        meshed = perf_counter()
        solution = solve(network(case, mesh))
        meshing.append(meshed - begin)
        solving.append(perf_counter() - meshed)
    return float(np.median(meshing)), float(np.median(solving)), solution


def fipy(solution: Solution) -> tuple[float, float, int, float]:
    """FiPy's median seconds for its mesh and its sweeps, its sweeps, and its largest difference from ours, K."""
    net = solution.network
    cells = net.cell_node
    resistance = np.zeros(len(net.mesh.face_cells))
    resistance[net.face] = net.resistance
    given = {
        "case": net.case,
        "mesh": net.mesh,
        "polygons": polygons(net.mesh),
        "void_width": net.void_width,
        "resistance": resistance,
        "cover_angle": net.cover_angle,
        "film": np.full(len(net.cover_node), 10.0),
        "beneath": net.beneath[:, cells],
        "share": net.heat_share[:, cells],
    }
    runs = []
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder) / "in.pickle", Path(folder) / "out.npz"
        source.write_bytes(pickle.dumps(given))
        for _ in range(RUNS):
            worker = [sys.executable, str(SWEEPS), str(source), str(target)]
            subprocess.run(worker, check=True, capture_output=True, cwd=HERE.parent, env=_environment())
            with np.load(target) as found:
                runs.append((*found["seconds"], int(found["sweeps"])))
                theirs = found["temperature"]
    mesh, sweep, count = np.median(np.array(runs), axis=0)
    apart = float(np.abs(theirs - cell_temperature(net, solution.temperature)).max())
    return float(mesh), float(sweep), int(count), apart


def _environment() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(HERE.parent), "OPENBLAS_NUM_THREADS": "1"}


def equal_error(name: str) -> list[tuple[str, float, float, int]]:
    """(who, seconds, sheath error in percent of the span, unknowns) at several finenesses of both methods."""
    from sim.verify.elements.section import solve_section

    case = parse_case(SECTIONS[name])
    case = case_for(case, case.conditions[0].name)
    tracer = case.tracers[0].name
    reference = solve_section(case, refine=2.0)["tracers"][tracer]["sheath_max"]
    span = reference - case.conditions[0].ambient
    rows = []
    for fineness in (1.0, 1.5, 2.0, 3.0):
        mesh, solving, solution = ours(case, fineness)
        error = abs(quantities(solution)[f"tracers.{tracer}.sheath_max"] - reference) / span
        rows.append(("finite volumes", mesh + solving, 100 * error, solution.network.nodes))
    for refine in (0.4, 0.6, 1.0):
        times = []
        for _ in range(3):
            begin = perf_counter()
            found = solve_section(case, refine=refine)
            times.append(perf_counter() - begin)
        error = abs(found["tracers"][tracer]["sheath_max"] - reference) / span
        rows.append(("finite elements", float(np.median(times)), 100 * error, found["unknowns"]))
    return rows


def main() -> None:
    """Print the comparison."""
    case = load_case(HERE.parent / "cases" / "winter-brine.toml")
    case = case_for(case, case.conditions[0].name)
    ours(case, 1.0)
    mesh, solving, solution = ours(case, FINENESS)
    their_mesh, sweeping, sweeps, apart = fipy(solution)
    total, theirs = mesh + solving, mesh + their_mesh + sweeping
    print(f"winter-brine, first condition, {solution.network.mesh.cells} cells")
    print(
        f"  ours: mesh {mesh * 1e3:.0f} ms, network and solution {solving * 1e3:.0f} ms, {solution.steps} steps"
    )
    print(f"  FiPy: its mesh {their_mesh * 1e3:.0f} ms, {sweeps} sweeps {sweeping * 1e3:.0f} ms")
    print(f"  largest difference of a cell {apart:.3g} K")
    print(
        f"  FiPy / ours: {theirs / total:.1f} with the mesh, {(their_mesh + sweeping) / solving:.1f} without"
    )
    for name in ("round_still", "flat_mixed"):
        print(f"{name}, sheath error against a finer finite-element solution")
        for who, seconds, error, unknowns in equal_error(name):
            print(f"  {who:15s} {unknowns:7d} unknowns {seconds * 1e3:8.0f} ms  {error:.3f} % of the span")


if __name__ == "__main__":
    main()
