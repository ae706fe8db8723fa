"""Thin conducting sheets: nodes on faces, joined along the sheet. The weather barrier and the foil."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.case import Case
from sim.heat import air
from sim.heat.joints import Links
from sim.section.layout import Layout
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array

TURN = 2 * np.pi


def foil_faces(mesh: PlanMesh, kind: NDArray[np.str_]) -> tuple[IntArray, list[tuple[IntArray, Array]]]:
    """Inner faces on which foil lies, and its runs: their order along the foil, and the two feet it ends at (2, 2).

    A run goes over all hulls that overlap; one that closes around the pipe has no feet (0, 2) and ends at its start.
    """
    point = mesh.face_point
    near = np.zeros(len(point), bool)
    conducting = np.isin(kind[mesh.face_cells], ("wall",)).any(axis=1)
    for piece in mesh.pieces:
        if piece.foil:
            reach = 0.02 * mesh.face_length + 1e-7
            gap = piece.curve.distance(point)
            tangent = piece.curve.normal(np.clip(piece.curve.parameter(point[:, 0], point[:, 1]), 0, 1))
            step = mesh.site[mesh.face_cells[:, 1]] - mesh.site[mesh.face_cells[:, 0]]
            across = np.abs((step * tangent).sum(axis=1)) > 0.9 * mesh.face_gap
            near |= (gap < np.maximum(reach, piece.curve.length * 1e-6)) & across & ~conducting
    faces = np.flatnonzero(near)
    x, y = point[faces].T
    beyond = np.hypot(x, y) >= mesh.layout.outer_radius
    runs = []
    for start, width, feet in foil_spans(mesh.layout):
        turn = np.mod(np.arctan2(x, y) - start, TURN)
        order = np.flatnonzero(beyond & (turn <= width * (1 + 1e-9)))
        order = order[np.argsort(turn[order])]
        runs.append((order if len(feet) else np.append(order, order[:1]), feet))
    return faces, runs


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


def chain(nodes: IntArray, points: Array, sheet: float) -> Links:
    """Links along a run of sheet nodes: conductivity times thickness (W/K) over their distance."""
    apart = np.hypot(*np.diff(points, axis=0).T)
    return Links(nodes[:-1], nodes[1:], sheet / np.maximum(apart, 1e-12))


def beneath_foil(case: Case) -> float:
    """Conductivity of what lies beneath the foil's ends, W/m/K: the void's, or the inner layer's, at the ambient."""
    ambient = case.conditions[0].ambient
    if case.insulation.fit == "snug":
        curve = case.insulation.layers[0].conductivity
        assert curve is not None
        return float(curve(ambient))
    given = case.insulation.void.conductivity
    return float(air.conductivity(ambient)) if given is None else given


def foot_links(
    mesh: PlanMesh, nodes: IntArray, points: Array, feet: Array, sheet: float, beneath: float
) -> list[Links]:
    """The foil's two ends, bonded to the pipe at the tangent points; `b` holds wall cells, not nodes.

    From the last sheet node, at x from the foot, the foil is a fin over a gap x^2 / (2 R) of conductivity k:
    S T'' = 2 R k / x^2 (T - T_pipe), S the sheet's conductance (W/K), so T goes as x^m, m (m - 1) = 2 R k / S, and
    the conductance to the pipe is S m / x.
    """
    wall = np.flatnonzero((mesh.kind == "wall") & (np.hypot(*mesh.site.T) > mesh.layout.inner_radius))
    power = 0.5 * (1 + np.sqrt(1 + 8 * mesh.layout.outer_radius * beneath / sheet))
    links = []
    for foot in feet:
        end = int(np.argmin(np.hypot(*(points - foot).T)))
        cell = wall[np.argmin(np.hypot(*(mesh.site[wall] - foot).T))]
        apart = max(float(np.hypot(*(points[end] - foot))), 1e-6)
        links.append(Links(nodes[[end]], np.array([cell]), np.array([sheet * power / apart])))
    return links
