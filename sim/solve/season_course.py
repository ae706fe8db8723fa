"""What a long stretch of weather does to a line, by the reduced model: extremes over its course."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.heat.network import Network
from sim.section.shapes import Array
from sim.solve.reduced import Reduced

COLDEST, HOTTEST = ("contents", "wall"), ("wall_max", "tracer", "barrier")


@dataclass(frozen=True)
class Season:
    """What a stretch of weather does, at each of the file's moments (n,): output of all tracers, W/m, and the share of
    the time they are on, means since the moment before; state (n, r). moment (m,) s: those, and what lies between where
    a control switches; courses (m,) K there: coldest contents and wall, hottest wall, tracer (its body) and outside,
    NaN where there is none."""

    time: Array
    output: Array
    duty: Array
    switchings: int
    state: Array
    moment: Array
    courses: dict[str, Array]

    def extreme(self, name: str) -> Array:
        """The lowest or highest (n,) K of a course since the moment before."""
        first = np.append(0, np.searchsorted(self.moment, self.time[:-1], side="right"))
        of = np.minimum if name in COLDEST else np.maximum
        return of.reduceat(self.courses[name], first)

    @property
    def lowest(self) -> str:
        """The course that tells how cold it gets: the contents, or without them the wall."""
        return "contents" if np.isfinite(self.courses["contents"]).all() else "wall"

    def hours_beyond(self, name: str, limit: float) -> float:
        """How long a course is beyond a limit, h."""
        course = self.courses[name][1:]
        return float(np.diff(self.moment)[course < limit if name in COLDEST else course > limit].sum()) / 3600


def courses_of(model: Reduced, every: Array, some: Array) -> dict[str, Array]:
    """Courses of a season's extremes at all states (m, r), over the places that are the coldest or hottest in some."""
    groups = node_groups(model.network)
    courses = {}
    for name in (*COLDEST, *HOTTEST):
        rows = model.basis[groups[name.removesuffix("_max")]]
        if not len(rows):
            courses[name] = np.full(len(every), np.nan)
            continue
        of, where = (np.min, np.argmin) if name in COLDEST else (np.max, np.argmax)
        places = np.unique(where(some @ rows.T, axis=1))
        courses[name] = model.reference + of(every @ rows[places].T, axis=1)
    return courses


def node_groups(network: Network) -> dict[str, NDArray[np.int64]]:
    """Nodes of the contents, the wall, the tracers' bodies and the outside."""
    kind, node = network.mesh.kind, network.cell_node
    contents = node[np.isin(kind, ("liquid", "gas"))]
    contents = contents[contents >= 0]
    if network.bore is not None:
        contents = np.array([n for n in (network.bore.liquid, network.bore.gas) if n >= 0], np.int64)
    return {
        "contents": contents,
        "wall": node[kind == "wall"],
        "tracer": node[kind == "tracer"],
        "barrier": network.cover_node,
    }
