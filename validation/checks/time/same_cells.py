"""FiPy through time on the very same cells, by its own transient term and steps of its own, in a process of its own."""

import numpy as np

from sim.case import case_for, parse_case
from sim.case.episode import Episode
from sim.heat.network import network
from sim.heat.plan_storage import line_store
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.episode import follow
from sim.solve.steady import cell_temperature, solve
from validation.checks.time.parts import HOUR
from validation.peers.volumes.over_time import through_time
from validation.published.rows import Row
from validation.sketches.invented import SECTIONS

LASTS, STEPS = 6 * HOUR, 72
SAME = 1e-4  # of the span
SHOWN = (1.0, 3.0, 6.0)  # h


def power_cut() -> list[Row]:
    """FiPy through time on the same cells: a power cut on a still section, film and conductivities of the moment."""
    section = SECTIONS["round_still"]
    case = parse_case(section)
    case = case_for(case, case.conditions[0].name)
    mesh = plan_mesh(place(case), 1.0)
    start = solve(network(case, mesh)).temperature
    dead = case.conditions[0].model_copy(update={"supply": 0.0})
    off = network(case.model_copy(update={"conditions": (dead,)}), mesh)
    store = line_store(off)
    capacity = store.capacity(store.enthalpy(start), start)
    moments = LASTS * (np.arange(STEPS + 1) / STEPS) ** 2
    fields, change = through_time(off, capacity, start, moments)
    episode = Episode.model_validate({"name": "cut", "condition": dead.name, "lasts": f"{LASTS} s"})
    ours = follow(off, episode, (), start, 1e-3, lambda line, state: {}, tuple(moments[1:].tolist()))
    span = float(start.max() - dead.ambient)
    known = {round(moment, 3): temperature for moment, temperature, _ in ours.fields}
    rows = []
    for hours in SHOWN:
        k = int(np.argmin(np.abs(moments - hours * HOUR)))
        mine = cell_temperature(off, known[round(float(moments[k]), 3)])
        apart = float(np.abs(cell_temperature(off, fields[k]) - mine).max()) / span
        rows.append(
            Row(
                "FiPy through time on the same cells, power cut",
                "FiPy (@fipy2009), TransientTerm, backward Euler, extrapolated from two step sizes",
                f"largest difference of a cell over the span, at {moments[k] / HOUR:.2f} h",
                0.0,
                apart,
                SAME,
                f"extrapolating the steps changes {change / span:.1e} of the span; ours held to 1 mK",
                "-",
            )
        )
    return rows


LONG = (power_cut,)
