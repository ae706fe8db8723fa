"""A section swept around a bend: how long each of its places is for a metre of the pipe's axis."""

from dataclasses import dataclass

import numpy as np

from sim.section.shapes import Array


@dataclass(frozen=True)
class Bend:
    """radius: of the bend, to the pipe's axis, m; outside: angle from 12 o'clock, clockwise, rad, of what faces away
    from the bend's centre."""

    radius: float
    outside: float

    def depth(self, points: Array) -> Array:
        """Length along the pipe of places (n, 2) for a metre of its axis, m, shape (n,): 1 + x'/R_b.

        x' is the distance from the axis away from the bend's centre.
        """
        away = points[..., 0] * np.sin(self.outside) + points[..., 1] * np.cos(self.outside)
        depth: Array = 1.0 + away / self.radius
        return depth
