"""FiPy on the very same cells: an independent solver of the discrete problem, in a process of its own."""

import numpy as np

from sim.case.episode import Episode
from sim.heat.network import Network, network
from sim.heat.plan_storage import line_store
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.episode import follow
from sim.solve.steady import cell_temperature, solve
from validation.checks.time.parts import HOUR
from validation.peers.volumes.field import apart
from validation.peers.volumes.over_time import through_time
from validation.peers.volumes.support import compare
from validation.published.rows import Row, Table
from validation.sketches.invented import SECTIONS
from validation.sketches.sketch import Array, case_of

LARGEST = "largest difference of a cell over the span"
LASTS, STEPS, SHOWN = 6 * HOUR, 72, (1.0, 3.0, 6.0)  # of the power cut: s, FiPy's steps, h


def sections() -> list[Row]:
    """FiPy on the same cells: three demonstration sections, the same harmonic face conductivities."""
    whole = SECTIONS["half_filled"]["contents"] | {"fill": 1.0}
    drawn = {
        "half_filled": SECTIONS["half_filled"],
        "flat_mixed, but still": SECTIONS["flat_mixed"] | {"contents": whole},
        "round_still": SECTIONS["round_still"],
    }
    rows: list[Row] = []
    for name, section in drawn.items():
        case = case_of(section)
        net = network(case, plan_mesh(place(case), 2.0))
        cells, theirs = (cell_temperature(net, field.temperature) for field in (solve(net), apart(net)))
        most = float(np.abs(theirs - cells).max() / (cells.max() - case.conditions[0].ambient))
        source = "FiPy (@fipy2009), harmonic face values, LU"
        table = Table(f"FiPy on the same cells, {name}", source, rows, "-")
        table.within(LARGEST, 0.0, most, 1e-8, "one discrete problem, each solved to rounding")
    return rows


def shoe() -> list[Row]:
    """A shoe by FiPy on the same prisms."""
    table = Table("FiPy on the same prisms", "FiPy (@fipy2009), conjugate gradients", unit="-")
    most = compare(0.8)["largest_difference"]
    table.within(LARGEST, 0.0, most, 1e-5, "linear solvers that stop at 1e-7")
    return table.rows


def power_cut() -> list[Row]:
    """FiPy through time on the same cells: a power cut on a still section, film and conductivities of the moment."""
    case = case_of(SECTIONS["round_still"])
    mesh = plan_mesh(place(case), 1.0)
    start = solve(network(case, mesh)).temperature
    dead = case.conditions[0].model_copy(update={"supply": 0.0})
    off = network(case.model_copy(update={"conditions": (dead,)}), mesh)
    moments = LASTS * (np.arange(STEPS + 1) / STEPS) ** 2
    store = line_store(off)
    theirs, change = through_time(off, store.capacity(store.enthalpy(start), start), start, moments)
    ours, span = _followed(off, start, moments), float(start.max() - dead.ambient)
    source = "FiPy (@fipy2009), TransientTerm, backward Euler, extrapolated from two step sizes"
    why = f"extrapolating the steps changes {change / span:.1e} of the span; ours held to 1 mK"
    table = Table("FiPy through time on the same cells, power cut", source, unit="-", why=why)
    for hours in SHOWN:
        k = int(np.argmin(np.abs(moments - hours * HOUR)))
        most = np.abs(cell_temperature(off, theirs[k]) - cell_temperature(off, ours[k])).max() / span
        table.within(f"{LARGEST}, at {moments[k] / HOUR:.2f} h", 0.0, most, 1e-4)
    return table.rows


def _followed(line: Network, start: Array, moments: Array) -> dict[int, Array]:
    """Our field by the number of its moment."""
    lasts = {"name": "cut", "condition": line.case.conditions[0].name, "lasts": f"{LASTS} s"}
    episode = Episode.model_validate(lasts)
    track = follow(line, episode, (), start, 1e-3, lambda line, state: {}, tuple(moments[1:].tolist()))
    return {int(np.argmin(np.abs(moments - at))): temperature for at, temperature, _ in track.fields}


GROUPS = (sections, shoe, power_cut)
