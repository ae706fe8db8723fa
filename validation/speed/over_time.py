"""A power cut by three integrators on one section's own matrices: `python -m validation.speed.over_time [--page FILE]`.

The section is linear, so that its answer is exact in time on these cells, by the eigenvectors of its matrix; what is
compared is processor time at equal error of the steps. FiPy is the extra `validation`.
"""

from __future__ import annotations

import argparse
import os
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import scipy.linalg
from scipy.integrate import solve_ivp
from scipy.sparse import csc_matrix, csr_matrix, diags_array

from sim.basics import Array
from sim.case import case_for, parse_case
from sim.case.episode import Episode
from sim.heat.network import Network, network
from sim.heat.plan_storage import line_store
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.balance import evaluate, step_matrix
from sim.solve.episode import Track, follow
from sim.solve.steady import solve
from validation.pages import rendered
from validation.peers.process import Job, ask
from validation.sketches.invented import SECTIONS
from validation.speed.curves import Point, reached, timed

SECTION, FINENESS = "round_still", 1.5
LASTS = 48 * 3600.0
SHOWN = LASTS * (np.array([2, 4, 6, 8, 12, 16]) / 16.0) ** 2  # s; ours and FiPy's steps end there
WANTED = (0.1, 0.01)  # K, largest error of any cell at any of these moments
BARS = {"FiPy": 10.0, "BDF": 3.0}
TOLERANCES = (0.8, 0.4, 0.2, 0.1, 0.05, 0.025, 0.0125, 0.00625)  # K, of our steps
ABSOLUTE = (1.0, 0.3, 0.1, 0.03, 0.01, 3e-3, 1e-3, 3e-4, 1e-4)  # K, of BDF's
STEPS = (16, 32, 64, 128, 256)  # of FiPy's
PATIENCE = 1800.0  # s
RELATIVE = 1e-10  # of BDF's tolerance: its absolute one alone counts


@dataclass(frozen=True)
class Cut:
    """The section without power. start: field K; ambient K; capacity J/m/K and matrix W/m/K of the nodes that store
    heat, those that store none eliminated (`stores`); exact (moments, stored nodes), K over the ambient."""

    network: Network
    start: Array
    ambient: float
    stores: np.ndarray
    capacity: Array
    matrix: csc_matrix
    exact: Array

    def error(self, fields: Array) -> float:
        """Largest error of fields (moments, nodes) K."""
        return float(np.abs(fields[:, self.stores] - self.ambient - self.exact).max())


def cut() -> Cut:
    """The problem and its answer."""
    case = parse_case(SECTIONS[SECTION])
    case = case_for(case, case.conditions[0].name)
    mesh, ambient = plan_mesh(place(case), FINENESS), case.conditions[0].ambient
    start = solve(network(case, mesh)).temperature
    dead = case.conditions[0].model_copy(update={"supply": 0.0})
    off = network(case.model_copy(update={"conditions": (dead,)}), mesh)
    store = line_store(off)
    capacity = store.capacity(store.enthalpy(start), start)
    stores = capacity > 0
    whole = step_matrix(off, evaluate(off, start, off.law()))
    own, coupled, rest = whole[stores][:, stores], whole[stores][:, ~stores], whole[~stores][:, ~stores]
    inside = csr_matrix(np.linalg.inv(rest.toarray())) if rest.shape[0] else rest
    matrix = csc_matrix(own - coupled @ inside @ coupled.T)
    root = np.sqrt(capacity[stores])
    rates, modes = scipy.linalg.eigh(matrix.toarray() / np.outer(root, root))
    first = modes.T @ (root * (start[stores] - ambient))
    exact = (np.exp(-np.outer(SHOWN, rates)) * first) @ modes.T / root
    return Cut(off, start, ambient, stores, capacity[stores], matrix, exact)


def ours(problem: Cut) -> list[Point]:
    """coldspot's integrator at several tolerances."""
    lasts = {"name": "cut", "condition": problem.network.case.conditions[0].name, "lasts": f"{LASTS} s"}
    episode, points = Episode.model_validate(lasts), []
    for tolerance in TOLERANCES:
        run = partial(_ours, problem, episode, tolerance)
        seconds, wall, track = timed(run)
        fields = np.array([temperature for at, temperature, _ in track.fields if at > 0.0])
        error = problem.error(fields)
        points.append(Point("coldspot", "tolerance, K", tolerance, track.steps, seconds, wall, error))
    return points


def _ours(problem: Cut, episode: Episode, tolerance: float) -> Track:
    return follow(
        problem.network, episode, (), problem.start, tolerance, lambda line, at: {}, tuple(SHOWN.tolist())
    )


def by_bdf(problem: Cut) -> list[Point]:
    """scipy's BDF with the constant matrix as its Jacobian."""
    per_capacity = diags_array(1.0 / problem.capacity)
    matrix = csr_matrix(-per_capacity @ problem.matrix)
    jacobian, begin = csc_matrix(matrix), (problem.start - problem.ambient)[problem.stores]
    points = []
    for tolerance in ABSOLUTE:
        options = {"t_eval": SHOWN, "jac": jacobian, "rtol": RELATIVE, "atol": tolerance}
        run = partial(solve_ivp, lambda time, rise: matrix @ rise, (0.0, LASTS), begin, "BDF", **options)
        seconds, wall, found = timed(run)
        error = float(np.abs(found.y.T - problem.exact).max())
        points.append(Point("BDF", "tolerance, K", tolerance, found.nfev, seconds, wall, error))
    return points


def by_fipy(problem: Cut) -> list[Point]:
    """FiPy's backward Euler with steps that lengthen evenly, and extrapolated from those and their halves."""
    whole = np.zeros(problem.network.nodes)
    whole[problem.stores] = problem.capacity
    given = {"network": problem.network, "capacity": whole, "start": problem.start}
    points = []
    for steps in STEPS:
        moments = LASTS * (np.arange(steps + 1) / steps) ** 2
        job = Job("validation.peers.volumes.over_time", ("fipy",), given | {"moments": moments})
        reply = ask({"FiPy": job}, PATIENCE)["FiPy"]
        if reply.answer is None:
            raise RuntimeError(f"FiPy: {reply.failure}")
        at = np.searchsorted(moments, SHOWN * (1 - 1e-9))
        one, two = reply.answer["seconds"]
        plain, better = (problem.error(reply.answer[name][at]) for name in ("plain", "fields"))
        points.append(Point("FiPy", "backward Euler, steps", steps, steps, one, one, plain))
        points.append(Point("FiPy", "extrapolated, steps", steps, 3 * steps, one + two, one + two, better))
    return points


def page(problem: Cut, points: list[Point], load: float) -> str:
    """What was measured beside the bars, as Markdown."""
    rows = []
    for error in WANTED:
        times = {
            who: reached([p for p in points if p.who == who], error) for who in ("coldspot", "FiPy", "BDF")
        }
        cells = [f"{1e3 * times['coldspot'].seconds:.0f} ms"]
        for who, bar in BARS.items():
            ratio = times[who].seconds / times["coldspot"].seconds
            short = "" if ratio >= bar else ", **short**"
            bound = "<= " if times[who].bound else ""
            cells.append(f"{bound}{1e3 * times[who].seconds:,.0f} ms: **{ratio:.1f}** (bar {bar:g}{short})")
        rows.append(f"| {error:g} K | " + " | ".join(cells) + " |")
    return rendered(
        Path(__file__).with_name("over-time.md.jinja"),
        hours=LASTS / 3600,
        section=SECTION,
        network=problem.network,
        cores=os.cpu_count(),
        load=load,
        rows=rows,
        shown=SHOWN,
        points=points,
    )


def main() -> None:
    """Measure, print, and write the page."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--page", type=Path, default=Path(__file__).with_name("over-time.md"))
    to = parser.parse_args().page
    problem = cut()
    points = [*ours(problem), *by_bdf(problem), *by_fipy(problem)]
    text = page(problem, points, os.getloadavg()[0])
    print(text)
    to.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
