"""Thin conducting sheets: nodes on faces, joined along the sheet. The weather barrier and the foil."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.case import Case
from sim.heat import air
from sim.heat.joints import Links
from sim.section.layout import Layout
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array

TURN = 2 * np.pi
CORNER = 0.05
"""A face shorter than this part of its sites' distance is a corner, where no foil lies.

Faces along a curve are about as long as their cells are deep; where four sites nearly lie on one circle the Voronoi
diagram leaves a face shorter than this between two that do not share a side. No source: a property of our meshes.
"""

ON, ROUNDED, UPRIGHT = 0.02, 1e-7, 0.9
"""A face lies on the foil within this part of its length (and what rounding leaves, m) of the foil's curve, and with
the line between its sites across the curve by this part. The mesh puts such faces on the curve to rounding (sites in
mirrored pairs); the room is for chords of an arc. No source: properties of our meshes.
"""


@dataclass(frozen=True)
class Foot:
    """What lies beneath the foil's ends: its conductivity, W/m/K, and the contact's conductance, W/m2/K."""

    conductivity: float
    contact: float


@dataclass(frozen=True)
class FoilRun:
    """A run of foil over hulls that overlap: numbers (n,) of its faces in order along the foil; feet (2, 2): where it
    ends on the pipe; (0, 2) where it closes around the pipe, its first face then again at the end."""

    faces: IntArray
    feet: Array


def foil_faces(mesh: PlanMesh, foot: Foot) -> tuple[IntArray, Array, list[FoilRun]]:
    """Inner faces on which foil lies, what resists between it and the cell beneath (m2 K/W), and its runs by number.

    Towards the point where a tangent meets the pipe its gap falls below the mesh's cells, which end it there. From
    there on the foil lies on the pipe's own faces, over the gap x^2 / (2 R) of what fills it and the contact.
    """
    point, radius = mesh.face_point, mesh.layout.outer_radius
    wall = mesh.of_kind("wall")[mesh.face_cells]
    near = np.zeros(len(point), bool)
    for piece in mesh.pieces:
        if piece.foil:
            reach = ON * mesh.face_length + ROUNDED
            gap = piece.curve.distance(point)
            tangent = piece.curve.normal(np.clip(piece.curve.parameter(point[:, 0], point[:, 1]), 0, 1))
            step = mesh.site[mesh.face_cells[:, 1]] - mesh.site[mesh.face_cells[:, 0]]
            across = np.abs((step * tangent).sum(axis=1)) > UPRIGHT * mesh.face_distance
            near |= (gap < np.maximum(reach, piece.curve.length * 1e-6)) & across & ~wall.any(axis=1)
    clock, away = np.arctan2(*point.T), np.hypot(*point.T)
    near &= away >= radius
    pipe = (wall[:, 0] != wall[:, 1]) & (away > 0.5 * (mesh.layout.inner_radius + radius))
    pipe &= mesh.face_length > CORNER * mesh.face_distance
    resistance = np.zeros(len(point))
    orders = []
    for start, width, feet in foil_spans(mesh.layout):
        turn = np.mod(clock - start, TURN)
        covered = near & (turn <= width * (1 + 1e-9))
        if len(feet) and covered.any():
            low, high = float(turn[covered].min()), float(turn[covered].max())
            last = pipe & ((turn < low) | ((turn > high) & (turn <= width)))
            gap = radius * (1.0 / np.cos(np.minimum(turn, width - turn)[last]) - 1.0)
            resistance[last] = gap / foot.conductivity + 1.0 / foot.contact
            covered |= last
        order = np.flatnonzero(covered)
        orders.append((order[np.argsort(turn[order])], feet))
    used = np.zeros(len(point), bool)
    for order, _ in orders:
        used[order] = True
    faces = np.flatnonzero(used)
    numbers = [(np.searchsorted(faces, order), feet) for order, feet in orders]
    runs = [FoilRun(n if len(feet) else np.append(n, n[:1]), feet) for n, feet in numbers]
    return faces, resistance[faces], runs


def foil_spans(layout: Layout) -> list[tuple[float, float, Array]]:
    """Spans of overlapping hulls: clock angle at the start, width (rad), and the two outermost feet (2, 2).

    The outside of hulls that overlap has one point at each angle about the pipe's axis. A span of a full turn has
    no feet (0, 2).
    """
    spans = []
    for hull in layout.hulls:
        feet = np.array(hull.feet)
        first, last = np.mod(np.arctan2(*feet.T), TURN)
        width = TURN if hull.closed else float(np.mod(last - first, TURN))
        spans.append((float(first), width, feet))
    spans.sort(key=lambda span: span[0])
    merged: list[tuple[float, float, Array]] = []
    for span in spans:
        if merged and span[0] <= merged[-1][0] + merged[-1][1]:
            merged[-1] = _united(merged[-1], span)
        else:
            merged.append(span)
    while len(merged) > 1 and merged[-1][0] + merged[-1][1] >= merged[0][0] + TURN:
        start, width, feet = merged.pop(0)
        merged[-1] = _united(merged[-1], (start + TURN, width, feet))
    return [
        (start, width, feet) if width < TURN else (start, TURN, feet[:0]) for start, width, feet in merged
    ]


def _united(one: tuple[float, float, Array], next_: tuple[float, float, Array]) -> tuple[float, float, Array]:
    """Two spans that overlap, the second one starting within the first, as one."""
    width = next_[0] + next_[1] - one[0]
    if width <= one[1]:
        return one
    return one[0], width, np.stack([one[2][0], next_[2][1]])


def chain(mesh: PlanMesh, nodes: IntArray, points: Array, sheet: float) -> Links:
    """Links along a run of sheet nodes: conductivity times thickness (W/K) over their distance."""
    apart, wide = np.hypot(*np.diff(points, axis=0).T), mesh.depth(0.5 * (points[1:] + points[:-1]))
    return Links(nodes[:-1], nodes[1:], sheet * wide / np.maximum(apart, 1e-12))


def sides_of_foil(mesh: PlanMesh, faces: IntArray) -> tuple[IntArray, IntArray]:
    """The cells beneath and over the foil at its faces: beneath it a tracer, or what is nearer to the pipe's axis."""
    cells = mesh.face_cells[faces]
    rank = np.hypot(*np.moveaxis(mesh.site[cells], -1, 0)) - np.where(mesh.kind[cells] == "tracer", 1e3, 0.0)
    first = rank[:, 0] < rank[:, 1]
    return np.where(first, cells[:, 0], cells[:, 1]), np.where(first, cells[:, 1], cells[:, 0])


def touches_foil(case: Case, mesh: PlanMesh, under: IntArray) -> NDArray[np.bool_]:
    """Where the foil's contact has a resistance of its own: on all that it covers, but on a compound, which wets it,
    and on the pipe, where it is in series with the gap (`foil_faces`)."""
    if case.foil is None or case.foil.contact_conductance == np.inf:
        return np.zeros(len(under), bool)
    wetted = case.insulation.void.conductivity is not None
    touching: NDArray[np.bool_] = ~((mesh.kind[under] == "void") & wetted) & (mesh.kind[under] != "wall")
    return touching


def ring(mesh: PlanMesh, nodes: IntArray, angle: Array, points: Array, sheet: float) -> Links:
    """Links all round, in the order of the nodes' angles."""
    around = np.argsort(angle)
    around = np.append(around, around[0])
    return chain(mesh, nodes[around], points[around], sheet)


def foot_of(case: Case) -> Foot:
    """Beneath the foil's ends: the void's conductivity, or the inner layer's, at the ambient."""
    assert case.foil is not None
    ambient, contact = case.conditions[0].ambient, case.foil.contact_conductance
    if case.insulation.fit == "snug":
        curve = case.insulation.layers[0].conductivity
        assert curve is not None
        return Foot(float(curve(ambient)), contact)
    given = case.insulation.void.conductivity
    return Foot(float(air.conductivity(ambient)), contact) if given is None else Foot(given, np.inf)


def strip_links(
    mesh: PlanMesh, run: FoilRun, node: IntArray, faces: IntArray, sheet: float, foot: Foot
) -> Links:
    """What leaves a run's two ends for the pipe at the tangent points; `b` holds cells, not nodes.

    Bonded, the foil of sheet conductance S (W/K) ends there, S / x from the last face at x. With a contact h it goes on
    as a long strip on the pipe, a fin of sqrt(h S). node, faces: of all of the foil.
    """
    ends = run.faces[[0, -1]] if len(run.feet) else run.faces[:0]
    under, _ = sides_of_foil(mesh, faces[ends])
    apart = np.hypot(*(mesh.face_point[faces[ends]] - run.feet).T)
    bonded = sheet / np.maximum(apart, 1e-6)
    strength = np.minimum(bonded, np.sqrt(foot.contact * sheet)) * mesh.depth(run.feet[: len(ends)])
    on_pipe = mesh.of_kind("wall")[under]
    return Links(node[ends][on_pipe], under[on_pipe], strength[on_pipe])
