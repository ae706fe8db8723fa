"""Heat across faces of contents that freeze at one temperature, wherever the front between ice and liquid lies.

Within a medium with two conductivities the flow is that of Kirchhoff's transform, k_ice (T - T_f) below the freezing
point and k_liquid (T - T_f) above it (Carslaw and Jaeger, section 1.6). A cell at the freezing point is then ice
towards colder neighbours and liquid towards warmer ones, and between a frozen cell and a warm one the front lies on the
line between their sites. The flow is continuous in both temperatures and rises with the fall between them, so that the
balance of a step has one solution; a conductivity of the cell that changes with its share would leave none when a face
is warmed while the cell behind it is still ice, and a front half a cell short.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.heat.joints import Faces
from sim.section.mesh import IntArray
from sim.section.shapes import Array


@dataclass(frozen=True)
class FrontFaces:
    """Joints of a group of faces with the freezing liquid on one side or both.

    at (k,): joints of the group; wet_a, wet_b (k,): whether that side is the liquid.
    """

    group: str
    at: IntArray
    wet_a: NDArray[np.bool_]
    wet_b: NDArray[np.bool_]


@dataclass(frozen=True)
class Freezing:
    """A liquid that freezes at one temperature, where it meets its faces: start K, conductivities W/m/K."""

    start: float
    ice: float
    water: float

    def across(
        self, faces: Faces, front: FrontFaces, conductivity: Array, temperature: Array
    ) -> tuple[Array, Array, Array]:
        """Conductance (k,) W/K of the front's faces, and by how much the heat that leaves either side rises with that
        side's temperature, (k,) and (k,) W/K: cell_a's and cell_b's.

        conductivity, temperature: of all cells, the first that of ice or of liquid in frozen or liquid cells.
        """
        a, b = faces.cell_a[front.at], faces.cell_b[front.at]
        over_a, over_b = temperature[a] - self.start, temperature[b] - self.start
        half_a, half_b = faces.half_a[front.at], faces.half_b[front.at]
        r_a = half_a / self._seen(conductivity[a], over_a, over_b, front.wet_a)
        r_b = half_b / self._seen(conductivity[b], over_b, over_a, front.wet_b)
        between = r_a + r_b + faces.resistance[front.at]
        conductance = faces.area[front.at] / between
        split = np.flatnonzero((over_a * over_b < 0) & (front.wet_a | front.wet_b))
        if not len(split):
            return conductance, conductance, conductance
        # from here on of the split faces: w the warmer side, c the colder
        warm_a = over_a[split] > 0

        def sides(of_a: NDArray[Any], of_b: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any]]:
            x, y = of_a[split], of_b[split]
            return np.where(warm_a, x, y), np.where(warm_a, y, x)

        over, under = sides(over_a, over_b)
        under = -under
        wet_w, wet_c = sides(front.wet_a, front.wet_b)
        half_w, half_c = sides(half_a, half_b)
        own_w, own_c = sides(r_a, r_b)  # each side with its own medium
        rest = faces.resistance[front.at][split]
        # in the liquid on one side the front is there if the face is on the other side of the freezing point
        inside = np.where(wet_w, under * own_w > over * (own_c + rest), over * own_c > under * (own_w + rest))
        # what the warm side's excess and the cold side's lack drive, each through the whole of its own medium
        to_cold, to_warm = own_c + rest, own_w + rest
        by_warm = np.where(wet_c, to_warm + half_c / self.water, own_w * (1 + to_cold * self.ice / half_w))
        by_cold = np.where(wet_w, to_cold + half_w / self.ice, own_c * (1 + to_warm * self.water / half_c))
        there = (wet_w & wet_c) | inside
        steep_w = 1.0 / np.where(there, by_warm, between[split])
        steep_c = 1.0 / np.where(there, by_cold, between[split])
        area = faces.area[front.at][split]
        from_a, from_b = conductance.copy(), conductance.copy()
        conductance[split] = area * (steep_w * over + steep_c * under) / (over + under)
        from_a[split] = area * np.where(warm_a, steep_w, steep_c)
        from_b[split] = area * np.where(warm_a, steep_c, steep_w)
        return conductance, from_a, from_b

    def _seen(self, resting: Array, over: Array, other: Array, wet: NDArray[np.bool_]) -> Array:
        """Conductivity of one side towards the other: `resting`, but for liquid at its freezing point."""
        return np.where(wet & (over == 0.0), np.where(other < 0.0, self.ice, self.water), resting)
