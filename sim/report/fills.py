"""The regions of a section as filled outlines, in the order to paint them."""

from __future__ import annotations

import numpy as np

from sim.report.stage import Array
from sim.section.layout import FlatBody, Layout, RoundBody


def fills(layout: Layout) -> tuple[tuple[str, int, Array], ...]:
    """(kind, number, outline (n, 2) in m) of every region, outermost first: the later covers the earlier."""
    low = (0.0, -layout.drop)
    painted: list[tuple[str, int, Array]] = []
    for i in range(len(layout.layer_radii) - 2, -1, -1):
        painted.append(("layer", i, _circle(*low, layout.layer_radii[i + 1])))
        for layer, start, stop in layout.wet:
            if layer == i:
                turn = start + np.linspace(0.0, 1.0, 91) * np.mod(stop - start, 2 * np.pi)
                arc = _ring(turn, layout.layer_radii[i + 1], -layout.drop)
                painted.append(("wet", i, np.concatenate([[low], arc])))
    if layout.oversize:
        painted.append(("void", 0, _circle(*low, layout.layer_radii[0])))
    painted += [("void", 0, hull.polygon) for hull in layout.hulls if hull.void]
    painted += [("void", 0, _sector(gap)) for gap in layout.gaps]
    for body in reversed(layout.bodies):
        outline = _circle(body.cx, body.cy, body.radius) if isinstance(body, RoundBody) else _sector(body)
        painted.append(("tracer", body.index, outline))
    painted.append(("wall", 0, _circle(0.0, 0.0, layout.outer_radius)))
    bore = _circle(0.0, 0.0, layout.inner_radius)
    painted.append(("liquid" if layout.level == np.inf else "gas", 0, bore))
    if abs(layout.level) < layout.inner_radius:
        half = np.arccos(-layout.level / layout.inner_radius)
        painted.append(("liquid", 0, _ring(np.pi + np.linspace(-half, half, 91), layout.inner_radius, 0.0)))
    return tuple(painted)


def _ring(turn: Array, radius: float, y: float) -> Array:
    return np.stack([radius * np.sin(turn), y + radius * np.cos(turn)], axis=-1)


def _circle(x: float, y: float, radius: float) -> Array:
    return _ring(np.linspace(0.0, 2 * np.pi, 181), radius, y) + np.array([x, 0.0])


def _sector(body: FlatBody) -> Array:
    turn = body.clock_angle + np.linspace(-body.half_angle, body.half_angle, 25)
    return np.concatenate([_ring(turn, body.inner, 0.0), _ring(turn[::-1], body.outer, 0.0)])
