"""Contents followed in time: against closed forms, published flows that settle, and the linearised equations.

Heated plate at rest: a square fluid of one temperature that does not move, its left wall suddenly at 1, the others
adiabatic: 1 - sum over odd n of 4 / (n pi) sin(n pi x / 2) exp(-n2 pi2 t / 4) (Carslaw and Jaeger).

Squares: side-heated (de Vahl Davis 1983) and heated from below (Ouertatani et al. 2008, from memory, Nu 3.910 at
Ra 1e5), followed from rest until they settle. Growth: a small disturbance of resting contents grows as the linearised
equations say. Order: the same flow at one moment with three lengths of step.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from sim.heat.convection import Convection, FlowLaw
from sim.solve.followed import Following
from sim.solve.motion import Fluidity, State
from sim.solve.stability import growth
from validation.checks.bore.convection import DAVIS, hot_nusselt
from validation.checks.bore.enclosures import Array, Enclosure, heated_side, square
from validation.published.rows import Row


def heated_below(point: Array) -> Array:
    """Bottom at 1, top at 0, sides adiabatic."""
    y = point[:, 1]
    return np.where(y < 1e-9, 1.0, np.where(y > 1 - 1e-9, 0.0, np.nan))


def heated_left(point: Array) -> Array:
    return np.where(point[:, 0] < 1e-9, 1.0, np.nan)


def follow(enclosure: Enclosure, rayleigh: float, prandtl: float, start: State) -> Following:
    """A flow of an enclosure about to be followed from a start."""
    fluid = Fluidity(lambda t: FlowLaw(prandtl, rayleigh, 1.0), lambda t: -t, lambda t: -np.ones_like(t))
    area = enclosure.flow.area
    return Following(enclosure, Convection(enclosure.flow), fluid, area, start)


def at_rest(enclosure: Enclosure, temperature: Array) -> State:
    rest = np.zeros(enclosure.flow.cells)
    return State(temperature, rest, rest)


def tilted(enclosure: Enclosure, size: float) -> Array:
    """A disturbance (n,) that starts one round of the contents."""
    x, y = enclosure.flow.site.T
    return size * np.cos(np.pi * x) * np.sin(np.pi * y)


def stepped(flow: Following, length: float, until: float) -> Following:
    """Steps of one length."""
    flow.length = length
    flow.refer(flow.state.temperature)
    for _ in range(round(until / length)):
        flow.step()
    return flow


def plate() -> list[Row]:
    """Fluid at rest beside a wall that is suddenly hot."""
    enclosure = square(24, heated_left, 1.0)
    flow = follow(enclosure, 0.0, 1.0, at_rest(enclosure, np.zeros(enclosure.nodes)))
    stepped(flow, 1e-3, 0.2)
    n = np.arange(1, 200, 2)
    x = enclosure.flow.site[:, 0]
    part = 4 / (n * np.pi) * np.sin(np.outer(x, n) * np.pi / 2) * np.exp(-((n * np.pi / 2) ** 2) * 0.2)
    error = float(np.abs(flow.state.temperature - (1 - part.sum(axis=1))).max())
    source = "series of the plate, closed form, written out in unsteady.py"
    return [
        Row("plate suddenly hot", source, "largest error at t 0.2", 0.0, error, 2e-3, "0.2 %: 24 cells", "-")
    ]


def settled() -> list[Row]:
    """Two squares followed until they settle."""
    rows = []
    for name, walls, prandtl, exact, source in (
        ("side-heated square, Ra 1e5", heated_side, 0.71, 4.519, DAVIS),
        (
            "square heated from below, Ra 1e5",
            heated_below,
            0.71,
            3.910,
            "@ouertatani2008, mean Nu at Ra 1e5 (from memory)",
        ),
    ):
        measured = []
        for cells in (18, 26):
            enclosure = square(cells, walls, 1.4)
            temperature = enclosure.conducting() + tilted(enclosure, 0.05)
            flow = follow(enclosure, 1e5, prandtl, at_rest(enclosure, temperature))
            while flow.time < 0.35:
                flow.step()
                if flow.steps % 10 == 0:
                    flow.fit_step()
            measured.append(hot_nusselt(enclosure, flow.state.temperature))
        better = measured[1] + (measured[1] - measured[0]) / ((26 / 18) ** 2 - 1)
        rows.append(Row(name, source, "mean Nu", exact, better, 0.02 * exact, "2 %: two coarse meshes", "-"))
    return rows


def grows() -> list[Row]:
    """A small disturbance of contents heated from below, against the mode of the linearised equations."""
    enclosure = square(16, heated_below, 0.8)
    still = at_rest(enclosure, enclosure.conducting())
    fluid = Fluidity(lambda t: FlowLaw(1.0, 4000.0, 1.0), lambda t: -t, lambda t: -np.ones_like(t))
    mode = growth(enclosure, Convection(enclosure.flow), fluid, still).real
    start = at_rest(enclosure, still.temperature + tilted(enclosure, 1e-5))
    flow = stepped(follow(enclosure, 4000.0, 1.0, start), 1e-3, 0.3)
    before = float(np.abs(flow.state.psi).max())
    for _ in range(100):
        flow.step()
    measured = float(np.log(np.abs(flow.state.psi).max() / before)) / 0.1
    why = "1 %: step 1e-3, other modes"
    source = "mode of the linearised equations, from the definition"
    return [Row("growth from rest", source, "rate", mode, measured, 0.01 * mode, why, "-")]


def order() -> list[Row]:
    """The same flow at one moment with steps of one, a half and a quarter."""
    enclosure = square(14, heated_side, 1.2)
    start = at_rest(enclosure, 1 - enclosure.flow.site[:, 0])
    flow = stepped(follow(enclosure, 1e4, 0.71, start), 5e-5, 0.02)
    begin, fields = flow.state, []
    for length in (4e-4, 2e-4, 1e-4):
        again = stepped(follow(enclosure, 1e4, 0.71, begin), length, 0.04)
        fields.append(again.state.temperature)
    coarse, fine = (float(np.abs(a - b).max()) for a, b in pairwise(fields))
    measured = float(np.log2(coarse / fine))
    source = "@ascher1995: SBDF2 is of second order (from memory)"
    why = "0.35: first step of order 1"
    return [Row("steps of three lengths", source, "order in time", 2.0, measured, 0.35, why, "-")]


GROUPS = (plate, settled, grows, order)
LONG = ()
