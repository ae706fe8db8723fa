"""Thin conducting sheets: nodes on faces, joined along the sheet. The weather barrier and the foil."""

from __future__ import annotations

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


def sides_of_foil(mesh: PlanMesh, faces: IntArray) -> tuple[IntArray, IntArray]:
    """The cells beneath and over the foil at its faces: beneath it a tracer, or what is nearer to the pipe's axis."""
    cells = mesh.face_cells[faces]
    rank = np.hypot(*np.moveaxis(mesh.site[cells], -1, 0)) - np.where(mesh.kind[cells] == "tracer", 1e3, 0.0)
    first = rank[:, 0] < rank[:, 1]
    return np.where(first, cells[:, 0], cells[:, 1]), np.where(first, cells[:, 1], cells[:, 0])


def touches_foil(case: Case, mesh: PlanMesh, under: IntArray) -> NDArray[np.bool_]:
    """Where the foil's contact has a resistance: on all that it covers, but on a compound, which wets it."""
    if case.foil is None or case.foil.contact_conductance == np.inf:
        return np.zeros(len(under), bool)
    wetted = case.insulation.void.conductivity is not None
    return ~((mesh.kind[under] == "void") & wetted)


@dataclass(frozen=True)
class Foot:
    """What lies beneath the foil's ends: its conductivity, W/m/K, and the contact's conductance, W/m2/K."""

    conductivity: float
    contact: float


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


def foot_conductance(apart: float, radius: float, sheet: float, foot: Foot) -> float:
    """Conductance from the foil at `apart` (m) from the tangent point to the pipe of `radius`, W/m/K.

    The foil is a fin of sheet conductance S (W/K) over a gap x^2 / (2 R) of conductivity k with the contact h in
    series, and beyond the tangent point a long strip on the pipe with h alone:
    S T'' = 2 R k / (x^2 + c^2) (T - T_pipe), c^2 = 2 R k / h, T'/T = sqrt(h / S) at x = 0.
    With x = c sinh t and T'/T = w / (c cosh t): dw/dt = p - w^2 + w tanh t, w(0) = sqrt(p), p = 2 R k / S. Without
    a resistance w is its end value m, m (m - 1) = p, and T goes as x^m.
    """
    p = 2.0 * radius * foot.conductivity / sheet
    c = float(np.sqrt(2.0 * radius * foot.conductivity / foot.contact))
    if c < 1e-6 * apart:
        return float(sheet * 0.5 * (1.0 + np.sqrt(1.0 + 4.0 * p)) / apart)
    end, w = float(np.arcsinh(apart / c)), float(np.sqrt(p))
    steps = 20 + int(20 * end * max(w, 1.0))
    dt = end / steps

    def slope(t: float, w: float) -> float:
        return float(p - w * w + w * np.tanh(t))

    for n in range(steps):  # Runge and Kutta's fourth order
        t = n * dt
        k1 = slope(t, w)
        k2 = slope(t + dt / 2, w + dt / 2 * k1)
        k3 = slope(t + dt / 2, w + dt / 2 * k2)
        k4 = slope(t + dt, w + dt * k3)
        w += dt / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
    return sheet * w / float(np.hypot(apart, c))


def foot_links(
    mesh: PlanMesh, nodes: IntArray, points: Array, feet: Array, sheet: float, foot: Foot
) -> list[Links]:
    """The foil's two ends on the pipe, see `foot_conductance`; `b` holds wall cells, not nodes."""
    wall = np.flatnonzero((mesh.kind == "wall") & (np.hypot(*mesh.site.T) > mesh.layout.inner_radius))
    links = []
    for place in feet:
        end = int(np.argmin(np.hypot(*(points - place).T)))
        cell = wall[np.argmin(np.hypot(*(mesh.site[wall] - place).T))]
        apart = max(float(np.hypot(*(points[end] - place))), 1e-6)
        strength = foot_conductance(apart, mesh.layout.outer_radius, sheet, foot)
        links.append(Links(nodes[[end]], np.array([cell]), np.array([strength])))
    return links
