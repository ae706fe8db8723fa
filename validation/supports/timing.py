"""How long the field around a shoe takes, and how the cost grows: python -m validation.supports.timing [--page FILE].

Times are processor seconds (one core; other work on the machine counts little) of one run on whatever machine it is;
the ratios are what travels. Bare pyamg is its own solver with its
defaults (Ruge-Stuben, conjugate gradients) on the matrix that the program assembled.
"""

from __future__ import annotations

import argparse
import resource
from pathlib import Path
from time import process_time
from typing import Any

import numpy as np

from sim.case import Case, case_for, load_case
from sim.heat.network import network
from sim.heat.support_layers import support_network
from sim.section.extrude import z_layers
from sim.section.mesh import plan_mesh
from sim.section.support_plan import place_support
from sim.solve.balance import evaluate, residual, step_matrix
from sim.solve.multigrid import Multigrid, memory_needed
from sim.solve.steady import solve

CASE = Path(__file__).parents[2] / "cases" / "shoe-and-cradle.toml"
RELATIVE = 1e-8
REACH, LENGTH = 0.59, 3.6


def linear_problem(case: Case, fineness: float) -> tuple[Any, np.ndarray, float]:
    """The first step's matrix and right side of the shoe, and the seconds they took from the section's field on."""
    support = case.supports[0]
    plan = network(case, plan_mesh(place_support(case, support), fineness))
    start = solve(plan).temperature
    begin = process_time()
    layers = z_layers(plan.mesh.layout, LENGTH, REACH, fineness, (support.allowance_over / 2,))  # type: ignore[arg-type]
    net = support_network(plan, layers, support)
    temperature = np.tile(start, layers.count)
    balance = evaluate(net, temperature, net.law())
    matrix = step_matrix(net, balance)
    return matrix, residual(net, balance, temperature), process_time() - begin


def timed(case: Case, fineness: float, bare: bool) -> dict[str, float]:
    """Seconds of assembly, multigrid set-up and cycles, and of bare pyamg, at one fineness."""
    import pyamg

    matrix, right, assembly = linear_problem(case, fineness)
    grid = Multigrid()
    begin = process_time()
    grid.set_up(matrix)
    ready = process_time()
    _, cycles = grid.solve(matrix, right, RELATIVE)
    done = process_time()
    row = {
        "unknowns": float(matrix.shape[0]),
        "assembly": assembly,
        "setup": ready - begin,
        "solve": done - ready,
        "cycles": float(cycles),
        "memory": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6,
        "estimate": memory_needed(matrix.shape[0]) / 1e9,
    }
    del grid
    if bare:
        begin = process_time()
        pyamg.ruge_stuben_solver(matrix).solve(right, tol=RELATIVE, accel="cg", maxiter=300)
        row["bare"] = process_time() - begin
    return row


def main() -> None:
    """Print the table; with --page write it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--page", type=Path)
    options = parser.parse_args()
    case = load_case(CASE)
    case = case_for(case, case.conditions[0].name)
    timed(case, 0.7, True)
    lines = [
        "| unknowns | assembly s | set-up s | CG s | iterations | both s | bare pyamg s | peak GB | estimate GB |",
        "|---:|---:|---:|---:|---:|---:|---:|---:|---:|",
    ]
    rows = []
    for fineness in (1.12, 1.41, 1.9, 2.5, 3.6):
        row = timed(case, fineness, fineness < 3.0)
        rows.append(row)
        both = row["setup"] + row["solve"]
        peer = f"{row['bare']:.2f}" if "bare" in row else "–"
        lines.append(
            f"| {row['unknowns']:,.0f} | {row['assembly']:.2f} | {row['setup']:.2f} | {row['solve']:.2f} |"
            f" {row['cycles']:.0f} | {both:.2f} | {peer} | {row['memory']:.2f} | {row['estimate']:.2f} |"
        )
        print(lines[-1], flush=True)
    size = np.log([r["unknowns"] for r in rows])
    cost = np.log([r["assembly"] + r["setup"] + r["solve"] for r in rows])
    power = float(np.polyfit(size, cost, 1)[0])
    lines += ["", f"Cost of assembly, set-up and solution grows as unknowns^{power:.2f}."]
    print(lines[-1])
    if options.page is not None:
        head = ["# What the field around a support costs", "", str(__doc__).partition("\n\n")[2].strip(), ""]
        picture = options.page.with_suffix(".png")
        draw(size, cost, power, picture)
        tail = ["", f"![cost over unknowns]({picture.name})"]
        options.page.write_text("\n".join([*head, *lines, *tail]) + "\n", encoding="utf-8")


def draw(size: np.ndarray, cost: np.ndarray, power: float, path: Path) -> None:
    """Cost over unknowns (both as logarithms), with the bar's slope of 1.2 drawn through the first."""
    from sim.report.style import figure, save

    made = figure(5.2, 3.6)
    axes = made.add_axes((0.14, 0.14, 0.83, 0.80))
    axes.loglog(np.exp(size), np.exp(cost), "o-", label=f"measured, unknowns^{power:.2f}")
    axes.loglog(
        np.exp(size), np.exp(cost[0] + 1.2 * (size - size[0])), ":", color="black", label="unknowns^1.2"
    )
    for side in (axes.xaxis, axes.yaxis):
        side.set_major_formatter("{x:,g}")
    axes.set_xlabel("unknowns")
    axes.set_ylabel("processor seconds")
    axes.legend(frameon=False, fontsize=8)
    save(made, path)


if __name__ == "__main__":
    main()
