"""The width of a void at any point of it, by which free convection in it is judged."""

import numpy as np

from sim.section.layout import Layout
from sim.section.pieces import Piece
from sim.section.shapes import Array


def void_width(layout: Layout, pieces: tuple[Piece, ...], points: Array) -> Array:
    """Local width of a void, m, shape (n,): the sum of the distances to the two nearest bodies bounding it.

    Bodies are the pipe, each tracer, and the insulation.
    """
    apart: dict[tuple[str, int], Array] = {}
    for piece in pieces:
        sides = [layout.regions[n] for n in (piece.left, piece.right) if n >= 0]
        if [side.kind for side in sides].count("void") != 1 or len(sides) != 2:
            continue
        other = sides[1] if sides[0].kind == "void" else sides[0]
        body = (
            (other.kind, other.index) if other.kind == "tracer" else (other.kind.replace("wet", "layer"), 0)
        )
        distance = piece.curve.distance(points)
        apart[body] = np.minimum(apart[body], distance) if body in apart else distance
    nearest = np.sort(np.stack(list(apart.values())), axis=0)
    width: Array = nearest[:2].sum(axis=0)
    return width
