"""Delaunay triangles of points in the plane."""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from pythoncdt import IntersectingConstraintEdges, Triangulation, VertexInsertionOrder

from sim.basics import IntArray


def triangulation(points: NDArray[np.float64]) -> tuple[IntArray, IntArray]:
    """Delaunay triangles of points (n, 2): corners (t, 3), counter-clockwise, and the neighbour (t, 3) beyond the edge
    from corner i to corner i + 1, -1 where there is none. Of points that coincide one is a corner.

    By the library CDT, whose predicates are exact (Shewchuk 1997).
    """
    delaunay: Any = Triangulation(VertexInsertionOrder.AUTO, IntersectingConstraintEdges.NOT_ALLOWED, 0.0)
    try:
        delaunay.insert_vertices(np.ascontiguousarray(points))
    except RuntimeError:  # of points that coincide
        first = np.unique(points, axis=0, return_index=True)[1]
        if len(first) == len(points):
            raise
        corner, beyond = triangulation(points[first])
        return first[corner], beyond
    delaunay.erase_super_triangle()
    triangles = delaunay.triangles_array()
    corner, beyond = triangles["vertices"].astype(np.int64), triangles["neighbors"].astype(np.int64)
    return corner, np.where(beyond < len(corner), beyond, -1)
