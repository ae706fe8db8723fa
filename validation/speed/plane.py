"""The section by all solvers: sheath error over time on four problems."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sim.case import Case, case_for, load_case, parse_case, with_overrides
from sim.heat.network import network
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.balance import evaluate
from sim.solve.quantities import quantities
from sim.solve.steady import Solution, solve
from validation.peers.elements.section import solve_section as by_elements
from validation.peers.volumes.field import apart
from validation.sketches.invented import SECTIONS
from validation.speed.curves import Point, timed
from validation.speed.plain_elements import solve_plain
from validation.speed.plain_mesh import Sizes

ROOT = Path(__file__).parents[2]
FINENESS = (0.5, 0.7, 0.85, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0)
FIPY_FINENESS = (0.7, 1.0, 1.5, 2.5)
FINER = (0.35, 0.5, 0.7, 1.0, 1.4, 2.0)
CORNERS = {"round": (0.02, 0.005), "flat": (0.02, 0.1), "perfect": (0.02, 0.1), "winter": (0.1, 0.3)}
LARGEST = 8_000  # unknowns of a peer beyond which its curve is not followed


@dataclass(frozen=True)
class Problem:
    """A section to be solved: its case, and the sheath's temperature by two fine solutions, K."""

    name: str
    title: str
    case: Case
    ours: float = float("nan")
    theirs: float = float("nan")

    @property
    def reference(self) -> float:
        return 0.5 * (self.ours + self.theirs)

    @property
    def span(self) -> float:
        """Hottest less coldest of the section: sheath less ambient, K."""
        return self.reference - self.case.conditions[0].ambient

    @property
    def uncertainty(self) -> float:
        """Half the difference of the two fine solutions, % of the span."""
        return 50 * abs(self.ours - self.theirs) / self.span

    def error(self, sheath: float) -> float:
        return 100 * (sheath - self.reference) / self.span


def problems() -> list[Problem]:
    """The four sections, their references found."""
    still = SECTIONS["round_still"]["contents"]
    flat: dict[str, Any] = SECTIONS["flat_mixed"] | {"contents": still}
    perfect = flat | {"tracer": [flat["tracer"][0] | {"contact_conductance": "1e6 W/m2/K"}]}
    winter = with_overrides(
        load_case(ROOT / "cases" / "winter-brine.toml"),
        {"insulation": {"void": {"conductivity": "0.06 W/m/K"}}},
    )
    listed = [
        ("round", "linear, round tracer, contact resistance", parse_case(SECTIONS["round_still"])),
        ("flat", "linear, flat tracer, contact resistance", parse_case(flat)),
        ("perfect", "linear, flat tracer, contact of next to no resistance", parse_case(perfect)),
        ("winter", "shipped winter case, its nonlinearities, its voids filled with a compound", winter),
    ]
    return [_with_reference(Problem(n, t, case_for(c, c.conditions[0].name))) for n, t, c in listed]


def _with_reference(p: Problem) -> Problem:
    coarse, fine = (sheath(solved(p.case, f)) for f in (4.0, 6.0))
    ours = fine + (fine - coarse) / ((6.0 / 4.0) ** 2 - 1)
    if p.name == "winter":
        theirs = solve_plain(p.case, place(p.case), _sizes(p, 0.1, 2.5))["sheath"]
    else:
        theirs = by_elements(p.case, refine=2.0)["tracers"][p.case.tracers[0].name]["sheath_max"]
    return Problem(p.name, p.title, p.case, ours, theirs)


def solved(case: Case, fineness: float) -> Solution:
    return solve(network(case, plan_mesh(place(case), fineness)))


def sheath(solution: Solution) -> float:
    name = solution.network.case.tracers[0].name
    return float(quantities(solution)[f"tracers.{name}.sheath_max"])


def _sizes(p: Problem, corner: float, finer: float) -> Sizes:
    """Element sizes as parts of the tracer's height; the last three were tried and kept."""
    tracer = p.case.tracers[0]
    high = float(tracer.diameter or tracer.height or 0.0)
    return Sizes(corner * high, 0.4 * high, 1.5 * high, 3.0 * high).finer(finer)


def curve_of_ours(p: Problem) -> list[Point]:
    points = []
    for fineness in FINENESS:
        try:
            seconds, wall, (value, unknowns) = timed(lambda f=fineness: _ours(p.case, f))  # type: ignore[misc]
        except ValueError:  # a mesh too coarse for its tracer
            continue
        points.append(Point("coldspot", "cells", fineness, unknowns, seconds, wall, p.error(value)))
    return points


def _ours(case: Case, fineness: float) -> tuple[float, int]:
    solution = solved(case, fineness)
    return sheath(solution), solution.network.nodes


def curve_of_elements(p: Problem) -> list[Point]:
    """scikit-fem on gmsh, curved quadratic triangles, with two sizes at the contact's ends."""
    points = []
    layout = place(p.case)
    for corner in CORNERS[p.name]:
        for finer in FINER:
            sizes = _sizes(p, corner, finer)
            try:
                seconds, wall, solved = timed(lambda s=sizes: solve_plain(p.case, layout, s))  # type: ignore[misc]
            except (RuntimeError, ValueError, KeyError):
                continue
            given = (finer, solved["unknowns"], seconds, wall, p.error(solved["sheath"]))
            points.append(Point("scikit-fem + gmsh", f"P2, corner {corner:g}", *given))
            if solved["unknowns"] > LARGEST:
                break
    return points


def curve_of_fipy(p: Problem) -> list[Point]:
    """FiPy on our cells, in a process of its own; the making of the cells is part of its time."""
    points = []
    for fineness in FIPY_FINENESS:
        meshing, wall, mesh = timed(lambda f=fineness: plan_mesh(place(p.case), f))  # type: ignore[misc]
        net = network(p.case, mesh)
        peers = [apart(net) for _ in range(2)]
        seconds = min(peer.seconds[0] + peer.seconds[1] for peer in peers)
        temperature = peers[0].temperature
        theirs = Solution(net, temperature, evaluate(net, temperature, net.law()), 0.0, 0.0, 0)
        error = p.error(sheath(theirs))
        points.append(
            Point("FiPy", "our cells", fineness, mesh.cells, meshing + seconds, wall + seconds, error)
        )
    return points


SOLVERS: tuple[Callable[[Problem], list[Point]], ...] = (curve_of_ours, curve_of_elements, curve_of_fipy)
