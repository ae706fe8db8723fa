"""The manufactured problems: which field on which mesh, at which levels; each solved to its errors.

All sizes and conductivities are invented.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sim.case import Case, case_for, parse_case
from sim.heat.layers import layered
from sim.heat.network import network
from sim.heat.support_layers import support_network
from sim.section.extrude import Layers, z_layers
from sim.section.layout import place
from sim.section.mesh import PlanMesh, plan_mesh
from sim.section.support_plan import place_support
from validation.checks.mesh.order_fields import Array, plane, sleeve
from validation.checks.mesh.order_meshes import edges, sites, square, square_network
from validation.checks.mesh.order_solve import Errors, in_layers, in_plane
from validation.sketches.lines import plain_pipe, solid
from validation.sketches.sketch import LIQUID

GOOD, POOR, THIRD = 100.0, 0.1, 1.0  # W/m/K, either side of x = 1/2, and beyond z = 1/2 in the cube
FILM = 5.0  # W/m2/K
RADII = (0.03, 0.06, 0.11)  # m, bore, pipe, insulation: a thick wall, so that heat also crosses its outside
CONTENTS, WALL, INSULATION, INSERT = 0.6, 50.0, 0.04, 0.2  # W/m/K
LENGTH = 0.2  # m, half length of the line; the insert ends in its middle
Solve = Callable[[float, int], Errors]


@lru_cache(maxsize=1)
def _square_case() -> Case:
    return plain_pipe(0.1, 0.01, WALL, [(0.05, INSULATION)], FILM)


def flat(kind: str) -> Solve:
    """The unit square with a jump of 1000 in k at x = 1/2, cells along a side as the level."""

    def solve(level: float, seed: int) -> Errors:
        case = _square_case()
        mesh = square(case, sites(kind, round(level), seed))
        k = np.where(mesh.cell_region == 0, GOOD, POOR)
        return in_plane(square_network(case, mesh), lambda t: k, k, plane(POOR), False)

    return solve


def prisms(kind: str) -> Solve:
    """The unit cube of prisms, three conductivities that meet in one line; cells along a side as the level."""

    def solve(level: float, seed: int) -> Errors:
        case = _square_case()
        mesh = square(case, sites(kind, round(level), seed))
        edge = edges(kind, round(level), seed)
        below = (0.5 * (edge[1:] + edge[:-1]) < 0.5)[:, None]
        k = np.where(mesh.cell_region == 0, GOOD, np.where(below, POOR, THIRD))
        cube = layered(square_network(case, mesh), Layers(edge, np.zeros(len(edge) - 1, np.int64)))
        return in_layers(cube, lambda t: k.ravel(), k, plane(POOR, np.pi), False)

    return solve


def _pipe() -> dict[str, object]:
    return {
        "pipe": {
            "outer_diameter": f"{2 * RADII[1]} m",
            "wall": f"{RADII[1] - RADII[0]} m",
            "material": solid(WALL),
        },
        "contents": {"state": "still", "fluid": LIQUID | {"conductivity": f"{CONTENTS} W/m/K"}},
        "insulation": {
            "layer": [{"thickness": f"{RADII[2] - RADII[1]} m", "conductivity": f"{INSULATION} W/m/K"}]
        },
        "outside": {"coefficient": f"{FILM} W/m2/K"},
        "condition": [{"name": "only", "ambient": "0 degC"}],
    }


@lru_cache(maxsize=1)
def _section_case() -> Case:
    return case_for(parse_case(_pipe()), "only")


def _layered(mesh: PlanMesh) -> Array:
    """Conductivity where each site lies, by its distance from the axis, W/m/K, shape (cells,)."""
    r = np.hypot(*mesh.site.T)
    return np.where(r < RADII[0], CONTENTS, np.where(r < RADII[1], WALL, INSULATION))


def section(level: float, seed: int) -> Errors:
    """A real section's plan mesh, contents | wall | insulation 0.6 | 50 | 0.04 W/m/K; fineness as the level."""
    mesh = plan_mesh(place(_section_case()), level)
    net = network(_section_case(), mesh)
    return in_plane(net, net.law(), _layered(mesh), sleeve(RADII, INSULATION), True)


def line(level: float, seed: int) -> Errors:
    """The same pipe along z in the program's own layers, an insert in place of the insulation over half the length."""
    support = {
        "name": "S",
        "family": "parts",
        "insert": {"arc": "360 deg", "length": f"{LENGTH} m", "conductivity": f"{INSERT} W/m/K"},
        "material": {"conductivity": f"{WALL} W/m/K"},
    }
    raw = _pipe() | {"support": [support], "design": {"maintain": "60 degC"}}
    case = case_for(parse_case(raw), "only")
    layout = place_support(case, case.supports[0])
    plan = network(case, plan_mesh(layout, level))
    layers = z_layers(layout, LENGTH, 0.5, level)
    net = support_network(plan, layers, case.supports[0])
    plain = _layered(plan.mesh)
    inserted = np.where(plain == INSULATION, INSERT, plain)
    k = np.where((0.5 * (layers.edge[1:] + layers.edge[:-1]) < LENGTH / 2)[:, None], inserted, plain)
    return in_layers(net, net.law(), k, sleeve(RADII, INSULATION, np.pi / LENGTH), True)


@dataclass(frozen=True)
class Problem:
    """Levels of one problem, quick and full; seeds: random meshes over which errors are averaged (1: not random).

    rounded: its layers are whole numbers that do not go quite as the level, so that single errors jump about h^2.
    """

    name: str
    dimensions: int
    solve: Solve
    quick: tuple[float, ...]
    full: tuple[float, ...]
    seeds: int = 1
    rounded: bool = False


def mean(errors: list[Errors]) -> Errors:
    """The geometric mean of several meshes of one size."""
    table: Array = np.array([[e.size, e.l2, e.largest, e.heat] for e in errors])
    size, l2, largest, heat = np.exp(np.log(table).mean(axis=0))
    return Errors(errors[0].cells, float(size), float(l2), float(largest), float(heat))


SQUARES, MORE_SQUARES = (8, 16, 32, 64), (8, 16, 32, 64, 128)
CUBES, MORE_CUBES = (8, 12, 16, 24), (8, 12, 16, 24, 32, 48)
FINENESS = (1.0, 1.19, 1.41, 1.68, 2.0, 2.38, 2.83)
PROBLEMS = (
    Problem("uniform squares", 2, flat("uniform"), SQUARES, MORE_SQUARES),
    Problem("graded rectangles", 2, flat("graded"), SQUARES, MORE_SQUARES),
    Problem("random cells", 2, flat("random"), SQUARES, MORE_SQUARES, 6),
    Problem("section, circles, sources", 2, section, (3.0, 4.24, 6.0), (1.5, 3.0, 6.0, 12.0)),
    Problem("uniform cubes", 3, prisms("uniform"), CUBES, MORE_CUBES),
    Problem("graded prisms", 3, prisms("graded"), CUBES, MORE_CUBES),
    Problem("random prisms", 3, prisms("random"), CUBES, MORE_CUBES, 3),
    Problem("line with an insert", 3, line, (1.0, 1.41, 2.0), FINENESS, rounded=True),
)
