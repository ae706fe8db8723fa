"""The cells of a fitting's field as sites in space with their temperatures."""

import numpy as np

from sim.section.shapes import Array
from sim.solve.support_meshes import Field, SupportResult


def sites_in_space(result: SupportResult, field: Field) -> tuple[Array, Array]:
    """Sites (n, 3), m, z >= 0, of all cells that take part, and their temperatures (n,), K; of a fitting's result."""
    cells = result.cells
    assert cells is not None
    shape = cells.there.shape
    z = np.broadcast_to(result.layers.centre[:, None], shape)
    plane = np.broadcast_to(result.mesh.site[None], (*shape, 2))
    of_plan = np.concatenate([plane, z[..., None]], axis=2)
    conducts = cells.there & np.isfinite(field.cells)
    if result.case.contents.state not in ("still", "buoyant"):
        conducts = conducts & ~result.mesh.of_kind("liquid", "gas")[None]
    site = np.concatenate([of_plan[conducts], cells.point])
    return site, np.concatenate([field.cells[conducts], field.further])
