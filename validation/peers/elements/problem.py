"""A section in the finite-element check: conductivities, films, heat, contacts and sheets as entries."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from sim.heat.outlets import sunshine
from validation.peers.elements.bodies import direction
from validation.peers.elements.bore import Bore
from validation.peers.elements.lines import Array, Depth, Entries, Lines
from validation.peers.elements.mesh import FieldMesh
from validation.peers.elements.voids import VoidBounds

# coefficient, and with it the temperature it goes to where that is not the ambient
Film = Callable[[Array, Array], Array | tuple[Array, Array]]
SIGMA = 5.670374419e-8  # W/m2/K4, CODATA 2018


@dataclass
class Problem:
    """What does not change between rounds of one solution."""

    case: Any
    condition: Any
    grid: FieldMesh
    basis: Any
    area: Array  # (n_triangles, n_points) integration weights, m2
    outer: Lines
    film: float | Film
    void: float | Callable[[Array], Array] | None
    heated_arc: tuple[float, float, float] | None
    bore: Bore | None = None
    centre: complex = 0j  # of the outermost circle
    air: Callable[[Array], Array] | None = None  # conductivity of air over kelvin
    voids: VoidBounds | None = None  # what bounds voids of air, and radiates
    depth: Depth | None = None  # of points (2, ...) in a bend, for a metre of its axis
    apart: str = ""  # a region whose conduction is put in by other means

    @cached_property
    def deep(self) -> Array:
        """Depth at the integration points (n_triangles, n_points), m for a metre of the axis."""
        if self.depth is None:
            return np.ones_like(self.area)
        return self.depth(np.asarray(self.basis.global_coordinates()))

    @property
    def volume(self) -> Array:
        """Integration weights (n_triangles, n_points) for a metre of the axis, m3."""
        return self.area * self.deep

    @property
    def nodes(self) -> int:
        """Number of temperatures on the mesh."""
        return int(self.grid.points.shape[1])

    def conductivity(self, temperature: Array) -> Array:
        """k at every integration point (n_triangles, n_points) for temperatures there."""
        case, k = self.case, np.full_like(temperature, np.nan)
        for code, name in enumerate(self.grid.names):
            mine = self.grid.region == code
            if mine.any() and name == self.apart:
                k[mine] = 0.0
            elif mine.any():
                k[mine] = self._law(case, *name.partition(":")[::2])(temperature[mine])
        return k

    def _law(self, case: Any, kind: str, index: str) -> Callable[[Array], Array]:
        def constant(value: float) -> Callable[[Array], Array]:
            return lambda t: np.full_like(t, value)

        if kind == "wall":
            return case.pipe.material.conductivity
        if kind in ("liquid", "gas"):
            return (case.contents.fluid if kind == "liquid" else case.contents.gas).conductivity
        if kind == "tracer":
            return constant(case.tracers[int(index)].body_conductivity)
        if kind == "void":
            return self._void_law(constant)
        layer = case.insulation.layers[int(index)]
        if kind == "layer":
            return layer.conductivity
        if layer.wet.conductivity is not None:
            return constant(layer.wet.conductivity)
        return lambda t: layer.wet.factor * layer.conductivity(t)

    def _void_law(self, constant: Callable[[float], Callable[[Array], Array]]) -> Callable[[Array], Array]:
        given = self.case.insulation.void
        k = self.void if self.void is not None else given.conductivity
        if k is not None:
            return k if callable(k) else constant(float(k))
        if self.air is None:
            raise ValueError("the void needs a conductivity, or that of air, here")
        return self.air

    def film_at(self, surface: Array) -> tuple[Array, Array]:
        """Outside coefficient at the outer integration points for surface temperatures there, and where it goes to."""
        if not callable(self.film):
            return np.full_like(surface, self.film), np.full_like(surface, self.condition.ambient)
        film = self.film(surface, self.outer_angle())
        return film if isinstance(film, tuple) else (film, np.full_like(film, self.condition.ambient))

    def outer_angle(self) -> Array:
        """Angle of the outer integration points from 12 o'clock, rad."""
        x, y = self.outer.at
        return np.arctan2(x - self.centre.real, y - self.centre.imag) % (2 * np.pi)

    def sunshine(self) -> Array:
        """The sun's heat absorbed at the outer integration points, W/m2."""
        return sunshine(self.case, self.outer_angle())


@dataclass
class Source:
    """Heat of one tracer: load on the nodes of a watt from each of its metres, for a metre of the axis, the weights of
    the mean of the wall beneath it, and the share of its power that a control leaves it."""

    tracer: Any
    unit_load: Array
    beneath: Array
    share: float = 1.0

    def power(self, wall: float, condition: Any) -> tuple[float, float]:
        """W/m and its slope in W/m/K at a wall temperature, tolerance included."""
        if not self.tracer.on:
            return 0.0, 0.0
        factor = self.share * (
            {"low": -1.0, "nominal": 0.0, "high": 1.0}[condition.output] * self.tracer.tolerance + 1.0
        )
        output = self.tracer.output
        return (
            factor * float(output.watts(wall, condition.supply)),
            factor * float(output.slope(wall, condition.supply)),
        )


def sources_of(problem: Problem) -> list[Source]:
    """The tracers' heat, each uniform over the body's own area on the mesh."""
    grid, sources = problem.grid, []
    for i, tracer in enumerate(problem.case.tracers):
        mine = grid.triangles_of(f"tracer:{i}")
        shape = np.stack([np.asarray(b[0]) for b in problem.basis.basis])[:, mine]
        shape = np.broadcast_to(shape, (6, len(mine), problem.area.shape[1]))
        load = np.einsum("inq,nq->in", shape, problem.volume[mine]) / problem.area[mine].sum()
        unit = np.zeros(problem.nodes)
        np.add.at(unit, grid.nodes_of(mine), load)
        kind = "footprint" if tracer.standoff else "contact"
        lines = Lines(grid.points, grid.lines[f"{kind}:{i}"], problem.depth)
        sources.append(Source(tracer, unit, lines.vector(problem.nodes) / lines.length))
    return sources


def _arc_lines(problem: Problem) -> Lines:
    """The lines of the heated arc, or none."""
    assert problem.heated_arc
    clock, width, _ = problem.heated_arc
    bare = "pipe" if "pipe" in problem.grid.lines else "outer"
    nodes = problem.grid.lines[bare]
    middle = problem.grid.points[0, nodes[:, 1]] + 1j * problem.grid.points[1, nodes[:, 1]]
    apart = abs(np.angle(middle / direction(clock)))
    near = nodes[apart < width / (2 * problem.case.pipe.outer_radius)]
    return Lines(problem.grid.points, near, problem.depth)


def _press_foil(foil: Any, problem: Problem, entries: Entries) -> None:
    """The foil's contact with what lies beneath, and at its ends a long strip on the pipe: sqrt(k t h)."""
    grid = problem.grid
    over, under = grid.lines["foil"], grid.lines["beneath"]
    mass = Lines(grid.points, over, problem.depth).mass(foil.contact_conductance)
    strip = np.sqrt(foil.thickness * foil.conductivity * foil.contact_conductance) * np.ones((1, 1, 1))
    ends, uses = np.unique(over[:, [0, 2]], return_counts=True)
    joints = [(over, under, mass)]
    for tip in ends[uses == 1]:
        at = np.argwhere(over == tip)[0]
        wide = 1.0 if problem.depth is None else float(problem.depth(grid.points[:, tip]))
        joints.append((np.array([[tip]]), under[at[0], at[1]].reshape(1, 1), wide * strip))
    for a, b, values in joints:
        for rows, columns, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
            entries.blocks(rows, columns, sign * values)


def fixed_entries(problem: Problem) -> tuple[Entries, Array]:
    """Contacts and sheets: entries and loads."""
    entries, load = Entries(), np.zeros(problem.nodes)
    if problem.heated_arc:
        arc = _arc_lines(problem)
        load += problem.heated_arc[2] / arc.length * arc.vector(problem.nodes)
    case, grid, points = problem.case, problem.grid, problem.grid.points
    for i, tracer in enumerate(case.tracers):
        if f"contact:{i}" in grid.lines:
            pipe, body = grid.lines[f"contact:{i}"], grid.lines[f"body:{i}"]
            mass = Lines(points, pipe, problem.depth).mass(tracer.contact_conductance)
            for rows, columns, sign in ((pipe, pipe, 1), (body, body, 1), (pipe, body, -1), (body, pipe, -1)):
                entries.blocks(rows, columns, sign * mass)
    if case.barrier:
        nodes = problem.outer.nodes
        entries.blocks(
            nodes, nodes, problem.outer.stiffness(case.barrier.thickness * case.barrier.conductivity)
        )
    if case.foil and "foil" in grid.lines:
        nodes = grid.lines["foil"]
        entries.blocks(
            nodes,
            nodes,
            Lines(points, nodes, problem.depth).stiffness(case.foil.thickness * case.foil.conductivity),
        )
    if case.foil and "beneath" in grid.lines:
        _press_foil(case.foil, problem, entries)
    return entries, load
