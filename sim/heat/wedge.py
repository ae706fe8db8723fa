"""The innermost part of the wedge beside a round tracer's contact, below the mesh's smallest cells.

Tracer and pipe part there at a small angle a, with material of conductivity k between them that conducts k / (a r)
across at distance r from the corner. In the bodies the temperature goes as r^p cos(p phi) on either side, which
meets that conductance when

    a / k = 1 / (k1 p tan(p b1)) + 1 / (k2 p tan(p b2)),

b1, b2 the bodies' own angles at the corner. p is often so small (0.1 to 0.4) that what flows below any cell size
is not negligible: a jump dT at distance r passes (k / a) dT / p. The closed form stands in for it.
"""

from dataclasses import dataclass

import numpy as np

from sim.heat.joints import Cells, PerMetre, Same
from sim.section.layout import RoundBody
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array

# what the mesh's own innermost cells pass, in units of (k / a) dT: length over gap at its middle
FIRST_CELL = 2.0


@dataclass(frozen=True)
class Wedges:
    """Corners of round tracers' contacts: cells (n,) on either side and in the wedge; angle (n,) of the wedge, rad;
    length (n,) along the pipe, m. A kind of `sim.heat.joints`, from seat to tracer, below the mesh's cells."""

    tracer_cell: Cells
    seat_cell: Cells
    wedge_cell: Cells
    angle: Same
    length: PerMetre

    def ends(self, cell_node: IntArray) -> tuple[IntArray, IntArray]:
        return cell_node[self.seat_cell], cell_node[self.tracer_cell]

    def conductance(self, conductivity: Array, temperature: Array) -> Array:
        if not len(self.angle):
            return np.zeros(0)
        across = conductivity[self.wedge_cell] / self.angle * self.length
        return across * np.maximum(1.0 / self._exponent(conductivity) - FIRST_CELL, 0.0)

    def corner_temperature(self, conductivity: Array, temperature: Array) -> Array:
        """Temperature at the corners, where seat and tracer meet, K, shape (n,), from cells' (cells,) values."""
        power = self._exponent(conductivity)
        seat, tracer = temperature[self.seat_cell], temperature[self.tracer_cell]
        seat_share = 1.0 / (conductivity[self.seat_cell] * np.tan(power * np.pi))
        tracer_share = 1.0 / (conductivity[self.tracer_cell] * np.tan(power * (np.pi - self.angle)))
        return seat + (tracer - seat) * seat_share / (seat_share + tracer_share)

    def _exponent(self, conductivity: Array) -> Array:
        k, k1 = conductivity[self.wedge_cell], conductivity[self.tracer_cell]
        return exponent(k, self.angle, k1, np.pi - self.angle, conductivity[self.seat_cell])


def exponent(k: Array, angle: Array, k1: Array, b1: Array, k2: Array) -> Array:
    """The least p in (0, 1/2) of the module's equation, with b2 = pi, all arrays (n,).

    Newton on the reciprocal root of the right side, which is nearly straight in p; bisection where that leaves the
    bracket.
    """
    low, high = np.full(np.shape(k), 1e-6), np.full(np.shape(k), 0.5)
    target, p = np.sqrt(k / angle), np.full(np.shape(k), 0.25)
    for _ in range(48):
        tan1, tan2 = np.tan(p * b1), np.tan(p * np.pi)
        one, two = 1.0 / (k1 * p * tan1), 1.0 / (k2 * p * tan2)
        series = one + two
        fall = series / p + b1 * one * (tan1 + 1.0 / tan1) + np.pi * two * (tan2 + 1.0 / tan2)
        short = target - 1.0 / np.sqrt(series)
        low, high = np.where(short > 0, p, low), np.where(short > 0, high, p)
        newton = p + 2.0 * short * series**1.5 / fall
        step = np.where((newton >= low) & (newton <= high), newton, 0.5 * (low + high)) - p
        p = p + step
        if np.abs(step).max(initial=0.0) < 1e-13:
            break
    return p


def wedges(mesh: PlanMesh) -> Wedges:
    """Find the corners of a mesh: ends of contacts between a round tracer and what it is pressed on."""
    regions = mesh.layout.regions
    bodies = {b.index: b for b in mesh.layout.bodies if isinstance(b, RoundBody)}
    corner_cells: list[tuple[int, int, int, float]] = []
    corners: list[Array] = []
    soft = np.flatnonzero(mesh.of_kind("layer", "wet", "void"))
    for piece in mesh.pieces:
        if piece.left < 0 or piece.right < 0 or piece.left == piece.right:
            continue
        sides = {piece.left, piece.right}
        if {regions[s].kind for s in sides} - {"wall", "tracer"}:
            continue
        # the tracer that is pressed on comes last in the order of placing
        order = [b.index for b in mesh.layout.bodies]
        tracers = sorted(
            (s for s in sides if regions[s].kind == "tracer"), key=lambda s: order.index(regions[s].index)
        )
        body = bodies.get(regions[tracers[-1]].index)
        if body is None:
            continue
        seat = next(s for s in sides if s != tracers[-1])
        half = 0.5 * float(np.hypot(*np.diff(piece.curve.point(np.array([0.0, 1.0])), axis=0)[0]))
        angle = float(np.arcsin(min(half / body.radius, 1.0)) + np.arcsin(min(half / body.seat_radius, 1.0)))
        for end in piece.curve.point(np.array([0.0, 1.0])):
            cells = [
                np.flatnonzero(mesh.cell_region == tracers[-1]),
                np.flatnonzero(mesh.cell_region == seat),
                soft,
            ]
            nearest = [int(c[np.argmin(np.hypot(*(mesh.site[c] - end).T))]) for c in cells]
            corner_cells.append((nearest[0], nearest[1], nearest[2], angle))
            corners.append(end)
    if not corner_cells:
        none = np.zeros(0, np.int64)
        return Wedges(none, none, none, np.zeros(0), np.zeros(0))
    tracer_cell, seat_cell, wedge_cell, angle_at = (np.array(x) for x in zip(*corner_cells, strict=True))
    return Wedges(tracer_cell, seat_cell, wedge_cell, angle_at, mesh.depth(np.array(corners)))
