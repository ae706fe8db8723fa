"""How large a fitting's bodies are on a mesh beside what they are, and what that is worth in the bands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from sim.heat.fitting_layers import Geometry, outer_area
from sim.section.bodies import FIRST_BODY
from sim.section.body_measures import Measure, measures
from sim.section.fitting_plan import FittingLayout
from sim.solve.convergence import Banded


@dataclass(frozen=True)
class OnMesh:
    """A body's outer area, m2, and volume, m3, of both halves, as the cells have them and as they are; bare: whether a
    part of it is."""

    area: float
    volume: float
    true: Measure
    bare: bool

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
    layout, cells = geometry.mesh.layout, geometry.cells
    assert isinstance(layout, FittingLayout)
    code = np.concatenate([np.where(cells.there, cells.made, 0).ravel(), cells.code])
    return tuple(
        OnMesh(
            2.0 * float(outer_area(geometry, (number,))[1].sum()),
            2.0 * float(geometry.faces.volume[code == FIRST_BODY + number].sum()),
            true,
            body.bare,
        )
        for number, (true, body) in enumerate(zip(measures(layout), layout.around.bodies, strict=True))
    )


def area_share(bodies: tuple[OnMesh, ...]) -> float:
    """Error of outer area as a part of it: the larger of the bare bodies' and the covered ones', no body's making up
    for another's."""
    shares = [0.0]
    for bare in (True, False):
        own = [b for b in bodies if b.bare is bare]
        true = sum(b.true.area for b in own)
        if true > 0.0:
            shares.append(sum(abs(b.area - b.true.area) for b in own) / true)
    return max(shares)


def with_area_errors(
    bands: Mapping[str, Banded], bodies: tuple[OnMesh, ...], rests_on_heat: tuple[str, ...]
) -> dict[str, Banded]:
    """Bands wider by what the area error of the finest mesh is worth.

    Heat through an outer face goes with its area, and what the wall and the bodies fall by goes with that heat: each
    band takes the error's share of its value. Of bodies, values are above the line's mean wall. rests_on_heat: last
    parts of the paths concerned.
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
