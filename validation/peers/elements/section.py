"""An independent finite-element solution of a traced section, to check the finite-volume program against.

Quadratic triangles with curved sides (scikit-fem on a gmsh mesh), written from docs/model.md alone; it shares no
code with the program's own geometry, mesh or solver. Contacts are jump conditions, foil and weather barrier
are lines with conductance along them, and a single temperature (mixed contents, the wall beneath a
self-regulating tracer) is an unknown of its own. Nonlinear cases go by Picard iteration, the tracer's slope
is taken in exactly.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from validation.peers.elements.bodies import bore_centre, clock_of, direction, place
from validation.peers.elements.bore import bore_of, from_contents
from validation.peers.elements.geometry import draw
from validation.peers.elements.lines import Array, Depth, Lines
from validation.peers.elements.mesh import FieldMesh, build
from validation.peers.elements.problem import Film, Problem, sources_of
from validation.peers.elements.rounds import iterated
from validation.peers.elements.voids import bounds_of


def foil_apart(case: Any) -> bool:
    """Whether foil has a contact resistance towards what it covers."""
    return case.foil is not None and case.foil.contact_conductance != np.inf


def solve_section(case: Any, *, tolerance: float = 1e-7, **drawing: Any) -> dict[str, Any]:
    """Temperatures of a section in one condition.

    tolerance: the largest change in the last round, K; drawing: what `drawn` takes besides the case.

    Returns a dict: `wall`, `contents` (the liquid; None where there is none), `gas` (above the level or in an empty
    bore, or None), `barrier` (the outer surface) with min, mean, max in K (`wall` also min_clock, max_clock);
    `tracers` by name with sheath_max, mean (body), output in W/m, wall (mean beneath it); heat_in (tracers),
    heat_out, heat_from_contents (flowing) in W/m; lumps: temperatures of lumped contents by name; around: angle from
    12 o'clock (rad, increasing) and temperature of the pipe's outside (`wall`) and of the outer surface (`cover`);
    closure (relative); rounds; change (K); unknowns; triangles; smallest and largest element (m); area of each
    region (m2). RuntimeError if it does not converge.
    """
    problem = drawn(case, **drawing)
    field, powers, rounds, change = iterated(problem, tolerance)
    return results(problem, field, powers) | {"rounds": rounds, "change": change}


def drawn(
    case: Any,
    condition: Any = None,
    refine: float = 1.0,
    outside: Film | None = None,
    void_conductivity: float | Callable[[Array], Array] | None = None,
    heated_arc: tuple[float, float, float] | None = None,
    cusp_gap: float = 5e-7,
    air: Callable[[Array], Array] | None = None,
    bore_films: tuple[float, float] | None = None,
    bend: tuple[float, float] | None = None,
) -> Problem:
    """A section in one condition (the case's first by default), drawn and meshed, with what does not change as it is
    solved.

    `case` has the attributes of a parsed case, SI and kelvin. `refine` divides every element size. `outside(surface
    temperature in K, angle from 12 o'clock clockwise in rad)` gives the outside coefficient in W/m2/K where the
    case states none. `void_conductivity` (W/m/K, or a function of kelvin) stands for the void's own; `heated_arc`
    is heat spread over an arc of the pipe's surface: clock, width in m, W/m; `cusp_gap` (m) is where cusps are cut;
    `air` its conductivity over kelvin, for voids that hold it; `bore_films` the coefficients of liquid and gas in
    W/m2/K where the case gives none; `bend` the radius of a bend, m, and the clock position that faces away from
    its centre: heat is then for a metre of its axis, but a tracer's output for a metre of the tracer.
    """
    from skfem import Basis, ElementTriP2

    condition = condition if condition is not None else case.conditions[0]
    film = outside if outside is not None else case.outside.coefficient
    if film is None:
        raise ValueError("an outside coefficient or a function for it is needed")
    grid = build(
        draw(case, cusp_gap, heated_arc[:2] if heated_arc else None),
        refine,
        with_contents=case.contents.state == "still",
        foil_apart=foil_apart(case),
    )
    basis = Basis(grid.mesh, ElementTriP2(), intorder=5)
    depth = None if bend is None else _depth(*bend)
    outer = Lines(grid.points, grid.lines["outer"], depth)
    bore = None
    if case.contents.state != "still":
        if bore_films is None:
            given = case.contents.film_coefficient
            if given is None or (given and 0 < case.contents.fill < 1):
                raise ValueError("the bore needs film coefficients here")
            bore_films = (given, given)
        bore = bore_of(case, grid, bore_films, depth)
    oversize = case.insulation.fit == "oversize"
    centre = bore_centre(case, [place(t, case.pipe.outer_radius) for t in case.tracers]) if oversize else 0j
    problem = Problem(
        case,
        condition,
        grid,
        basis,
        np.asarray(basis.dx),
        outer,
        film,
        void_conductivity,
        heated_arc,
        bore,
        centre,
        air,
        bounds_of(case, grid) if air is not None and void_conductivity is None else None,
        depth,
    )
    if problem.voids is not None and depth is not None:
        raise ValueError("voids of air in a bend are not in the finite-element solution")
    return problem


def _depth(radius: float, outside: float) -> Depth:
    """1 + x'/R_b at points (2, ...), x' the distance from the pipe's axis away from the bend's centre."""
    away = direction(outside)

    def at(points: Array) -> Array:
        return 1.0 + (points[0] * away.real + points[1] * away.imag) / radius

    return at


def _coldest_clock(points: Array, field: Array, nodes: NDArray[np.int64]) -> float:
    """Clock of the lowest node, a parabola laid through it and its neighbours on the same circle."""
    z = points[0] + 1j * points[1]
    lowest = nodes[np.argmin(field[nodes])]
    ring = nodes[abs(abs(z[nodes]) - abs(z[lowest])) < 1e-9]
    ring = ring[np.argsort(np.angle(z[ring] / z[lowest]))]
    here = int(np.flatnonzero(ring == lowest)[0])
    if len(ring) < 3:
        return clock_of(complex(z[lowest]))
    three = ring[[here - 1, here, (here + 1) % len(ring)]]
    a = np.angle(z[three] / z[lowest])
    bend, lean, _ = np.polyfit(a, field[three] - field[lowest], 2)
    shift = -lean / (2 * bend) if bend > 0 else 0.0
    return clock_of(complex(z[lowest] * np.exp(1j * np.clip(shift, a.min(), a.max()))))


def _around(grid: FieldMesh, field: Array, region: str) -> tuple[Array, Array]:
    """Angle from 12 o'clock in [0, 2 pi), increasing, and temperature, on the outermost circle of a region."""
    nodes = np.unique(grid.nodes_of(grid.triangles_of(region)))
    radius = np.hypot(*grid.points[:, nodes])
    rim = nodes[radius > radius.max() - 1e-9]
    angle = np.mod(np.arctan2(*grid.points[:, rim]), 2 * np.pi)
    order = np.argsort(angle)
    return angle[order], field[rim][order]


def _around_cover(problem: Problem, field: Array) -> tuple[Array, Array]:
    """As `_around`, on the outer surface and about its own centre."""
    nodes = np.unique(problem.outer.nodes)
    x, y = problem.grid.points[:, nodes]
    angle = np.mod(np.arctan2(x - problem.centre.real, y - problem.centre.imag), 2 * np.pi)
    order = np.argsort(angle)
    return angle[order], field[nodes][order]


def _region_values(problem: Problem, field: Array, *prefixes: str) -> dict[str, float] | None:
    mine = problem.grid.triangles_of(*prefixes)
    if not len(mine):
        return None
    nodes = np.unique(problem.grid.nodes_of(mine))
    at_points = np.asarray(problem.basis.interpolate(field[: problem.nodes]))[mine]
    weight = problem.volume[mine]
    return {
        "min": float(field[nodes].min()),
        "mean": float((at_points * weight).sum() / weight.sum()),
        "max": float(field[nodes].max()),
    }


def _outline_nodes(grid: FieldMesh, triangles: NDArray[np.int64]) -> NDArray[np.int64]:
    """Unknowns on the boundary of a set of triangles, on their own side of a contact."""
    facets, uses = np.unique(grid.mesh.t2f[:, triangles], return_counts=True)
    edge = facets[uses == 1]
    return np.unique(np.concatenate([grid.mesh.facets[:, edge].ravel(), grid.mesh.dofs.facet_dofs[0, edge]]))


def _tracers(problem: Problem, field: Array, powers: list[float]) -> dict[str, dict[str, float]]:
    """By tracer: its hottest and mean temperature, its output, and the mean of the wall beneath it."""
    tracers = {}
    own = len(field) - len(powers)
    for i, (tracer, power) in enumerate(zip(problem.case.tracers, powers, strict=True)):
        triangles = problem.grid.triangles_of(f"tracer:{i}")
        body = _region_values(problem, field, f"tracer:{i}")
        assert body is not None
        tracers[tracer.name] = {
            "sheath_max": float(field[_outline_nodes(problem.grid, triangles)].max()),
            "mean": body["mean"],
            "output": power,
            "wall": float(field[own + i]),
        }
    return tracers


def results(problem: Problem, field: Array, powers: list[float]) -> dict[str, Any]:
    grid, n = problem.grid, problem.nodes
    wall = _region_values(problem, field, "wall")
    assert wall is not None
    wall_nodes = np.unique(grid.nodes_of(grid.triangles_of("wall")))
    wall["min_clock"] = _coldest_clock(grid.points, field, wall_nodes)
    wall["max_clock"] = _coldest_clock(grid.points, -field, wall_nodes)
    contents, gas = _region_values(problem, field, "liquid"), _region_values(problem, field, "gas")
    lumps: dict[str, float] = {}
    if problem.bore:
        lumps = {name: float(field[n + i]) for i, name in enumerate(problem.bore.lumps)}
        if problem.bore.given is not None:
            lumps["liquid"] = problem.bore.given
        parts = [
            None if t is None else {"min": t, "mean": t, "max": t}
            for t in (lumps.get(p) for p in ("liquid", "gas"))
        ]
        contents, gas = parts
    surface = field[problem.outer.nodes]
    h, sink = problem.film_at(problem.outer.values(field))
    drop = problem.outer.values(field) - sink
    shone = float((problem.sunshine() * problem.outer.weight).sum())
    heat_out = float((h * drop * problem.outer.weight).sum()) + shone
    sources = sources_of(problem)
    heat_in = (
        shone
        + float(sum(p * s.unit_load.sum() for p, s in zip(powers, sources, strict=True)))
        + (problem.heated_arc[2] if problem.heated_arc else 0.0)
    )
    from_bore = from_contents(problem.bore, field, n) if problem.bore else 0.0
    edge = np.sqrt(2 * problem.area.sum(axis=1))
    regions = {name: grid.triangles_of(name) for name in grid.names}
    return {
        "wall": wall,
        "contents": contents,
        "gas": gas,
        "barrier": {
            "min": float(surface.min()),
            "mean": problem.outer.mean(field),
            "max": float(surface.max()),
        },
        "tracers": _tracers(problem, field, powers),
        "lumps": lumps,
        "around": {"wall": _around(grid, field, "wall"), "cover": _around_cover(problem, field)},
        "heat_in": heat_in,
        "heat_out": heat_out,
        "heat_from_contents": from_bore,
        "closure": abs(heat_in + from_bore - heat_out)
        / max(abs(heat_in) + abs(from_bore), abs(heat_out), 1e-9),
        "unknowns": len(field),
        "triangles": len(grid.region),
        "smallest": float(edge.min()),
        "largest": float(edge.max()),
        "area": {name: float(problem.area[inside].sum()) for name, inside in regions.items() if len(inside)},
    }
