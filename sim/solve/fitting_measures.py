"""How large a fitting's bodies are on a mesh beside what they are, and what that is worth in the bands."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from sim.heat.fitting_layers import Geometry, outer_area
from sim.section.bodies import FIRST_BODY
from sim.section.body_measures import Measure
from sim.solve.convergence import Banded


@dataclass(frozen=True)
class OnMesh:
    """A body's outer area, m2, and volume, m3, of both halves, as the cells have them and as they are; covered: of the
    area what lies towards insulation."""

    area: float
    volume: float
    true: Measure
    covered: float

    @property
    def area_error(self) -> float:
        """Of the cells' area as a part of the true one; 0 where the body has no outer face."""
        return self.area / self.true.area - 1.0 if self.true.area > 0.0 else 0.0

    @property
    def volume_error(self) -> float:
        """Of the cells' volume as a part of the true one; 0 where other bodies fill all of it."""
        return self.volume / self.true.volume - 1.0 if self.true.volume > 0.0 else 0.0


def on_mesh(geometry: Geometry | None) -> tuple[OnMesh, ...]:
    """How large each body is on a mesh; () without a fitting."""
    if geometry is None:
        return ()
    cells = geometry.cells
    code = np.concatenate([np.where(cells.there, cells.material, 0).ravel(), cells.code])
    by_body = []
    for number, true in enumerate(geometry.true):
        _, area, bare = outer_area(geometry, (number,))
        volume = float(geometry.faces.volume[code == FIRST_BODY + number].sum())
        by_body.append(OnMesh(2.0 * float(area.sum()), 2.0 * volume, true, 2.0 * float(area[~bare].sum())))
    return tuple(by_body)


def area_share(bodies: tuple[OnMesh, ...]) -> float:
    """Error of the area towards insulation as a part of it, no body's making up for another's. What is bare has its
    true area in the network."""
    true = [b.true.area - b.true.bare for b in bodies]
    wrong = sum(abs(b.covered - exact) for b, exact in zip(bodies, true, strict=True))
    return wrong / sum(true) if sum(true) > 0.0 else 0.0


def with_area_errors(
    bands: Mapping[str, Banded], bodies: tuple[OnMesh, ...], rests_on_heat: tuple[str, ...]
) -> dict[str, Banded]:
    """Bands wider by what the area error of the finest mesh is worth.

    Heat into the insulation goes at most with the area of its faces, and what the wall and the bodies fall by goes with
    that heat: each band takes the error's share of its value. Of bodies, values are above the line's mean
    wall. rests_on_heat: last parts of the paths concerned.
    """
    share = area_share(bodies)
    return {
        path: replace(q, band=q.band + share * abs(q.value))
        if np.isfinite(q.value)
        and (
            path.rpartition(".")[2] in rests_on_heat
            or path.removeprefix("with_allowance.").startswith("bodies.")
        )
        else q
        for path, q in bands.items()
    }


def measure_rows(levels: tuple[tuple[OnMesh, ...], ...]) -> list[dict[str, object]]:
    """Of each body its true outer area and volume and their relative errors on each mesh, coarse to fine."""
    return [
        {
            "body": number,
            "area": meshes[0].true.area,
            "volume": meshes[0].true.volume,
            "area_error": [m.area_error for m in meshes],
            "volume_error": [m.volume_error for m in meshes],
        }
        for number, meshes in enumerate(zip(*levels, strict=True), 1)
    ]
