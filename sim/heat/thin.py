"""Insulation layers and air gaps thinner than the mesh: a sheet or a resistance on the faces where they lie.

Where two interfaces crowd the mesh gives one up, and the layer between them has no cell. Its neighbours then reach into
its place; what they add there is taken off again, and the layer put back on the faces between them: as a sheet that
conducts along itself where it conducts better than both, else as a resistance. Both are exact but for the square of
its thickness over the radius.
"""

from dataclasses import dataclass

import numpy as np

from sim.basics import SIGMA
from sim.case import Case, Layer
from sim.heat import air
from sim.section.layout import THIN_GAP
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array

LEAST_HALF = 0.1  # of a half cell that is left of it at the least
PARTLY, PARTLY_LAYER = (
    0.5,
    0.1,
)  # of its area that a region, a layer, may lack before nothing passes on the mesh


@dataclass(frozen=True)
class ThinLayer:
    """A layer without cells, on the faces where it lies.

    face (n,): numbers; inside, outside (n,): cells on either side; resistance (n,): m2 K/W to be added to the face's,
    where it is none of a sheet; sheet (n,): conductivity times thickness beyond its neighbours', W/K, 0 where it is
    none; gaps (2, n): from the inner and outer cell to the sheet, m; angle (n,): about the shell's centre, rad.
    """

    face: IntArray
    inside: IntArray
    outside: IntArray
    resistance: Array
    sheet: float
    gaps: Array
    angle: Array


def lost_layers(mesh: PlanMesh) -> list[int]:
    """Layers of which no mesh cell is left."""
    there = set(mesh.index[mesh.of_kind("layer", "wet")].tolist())
    return [i for i in range(len(mesh.layout.layer_radii) - 1) if i not in there]


def _can_be_put_back(case: Case, mesh: PlanMesh, layer: int) -> bool:
    """Whether a lost layer is the same all round: not wet, not beside another lost one, clear of tracers."""
    lost, layout = lost_layers(mesh), mesh.layout
    alone = not {layer - 1, layer + 1} & set(lost) and len(layout.layer_radii) > 2
    inner = layout.layer_radii[layer]
    clear = all(body.farthest(0.0, -layout.drop) < inner for body in layout.bodies)
    gap = layer == 0 and layout.oversize  # its inside is a surface of the gap
    return alone and clear and not gap and case.insulation.layers[layer].wet is None


def thin_layers(case: Case, mesh: PlanMesh, conductivity: Array) -> list[ThinLayer]:
    """The lost layers that are put back. conductivity (cells,): at the ambient, W/m/K."""
    return [
        _thin_layer(case.insulation.layers[i], mesh, i, conductivity, case.conditions[0].ambient)
        for i in lost_layers(mesh)
        if _can_be_put_back(case, mesh, i) and i < len(case.insulation.layers) - 1
    ]


def thin_cover(case: Case, mesh: PlanMesh, conductivity: Array) -> tuple[Array, float]:
    """Where the outermost layer has no cell: gaps (cover,) from the cells to the outside, m, and its sheet, W/K."""
    i = len(case.insulation.layers) - 1
    if i not in lost_layers(mesh) or not _can_be_put_back(case, mesh, i):
        return mesh.cover_gap, 0.0
    layer, beside = case.insulation.layers[i], conductivity[mesh.cover_cell]
    assert layer.conductivity is not None
    conducts, thick = float(layer.conductivity(case.conditions[0].ambient)), layer.thickness
    borrowed = np.minimum(thick, (1 - LEAST_HALF) * mesh.cover_gap)
    along = thick * (conducts - float(beside.mean()))
    return mesh.cover_gap - borrowed + thick * beside / conducts, along if conducts > beside.max() else 0.0


def _thin_layer(layer: Layer, mesh: PlanMesh, i: int, conductivity: Array, ambient: float) -> ThinLayer:
    layout = mesh.layout
    within = mesh.of_kind("layer", "wet") & (mesh.index == i - 1)
    if i == 0:
        within = mesh.of_kind("wall")
    beyond = mesh.of_kind("layer", "wet") & (mesh.index == i + 1)
    a, b = mesh.face_cells.T
    face = np.flatnonzero((within[a] & beyond[b]) | (within[b] & beyond[a]))
    a, b = a[face], b[face]
    inside, outside = np.where(within[a], a, b), np.where(within[a], b, a)
    x, y = mesh.face_point[face, 0], mesh.face_point[face, 1] + layout.drop
    radius, half = np.hypot(x, y), 0.5 * mesh.face_distance[face]
    start, stop = layout.layer_radii[i], layout.layer_radii[i + 1]
    if (
        start == stop
    ):  # no region of the layout: the neighbours meet in its middle, or beyond the pipe or bore
        before = 0.0 if i == 0 else 0.5 * layer.thickness
        start, stop = start - before, start - before + layer.thickness
    borrowed = np.stack([np.clip(radius, start, stop) - start, stop - np.clip(radius, start, stop)])
    borrowed = np.minimum(borrowed, (1 - LEAST_HALF) * half)
    beside = np.stack([conductivity[inside], conductivity[outside]])
    curve = layer.conductivity
    assert curve is not None
    conducts, thick = float(curve(ambient)), stop - start
    along = conducts * thick - float((borrowed * beside).sum(axis=0).mean())
    return ThinLayer(
        face,
        inside,
        outside,
        thick / conducts - (borrowed / beside).sum(axis=0),
        along if conducts > beside.max() else 0.0,
        half - borrowed + 0.5 * thick * beside / conducts,
        np.arctan2(x, y),
    )


def gap_resistance(case: Case, tracer: int) -> float:
    """Resistance of the air beneath a lifted tracer whose gap has no cell of its own, m2 K/W; at the ambient."""
    standoff, void, ambient = case.tracers[tracer].standoff, case.insulation.void, case.conditions[0].ambient
    if void.conductivity is not None:
        return standoff / void.conductivity
    pipe, sheath = void.pipe_emissivity, void.tracer_emissivity
    grey = 1 / (1 / pipe + 1 / sheath - 1) if pipe and sheath else 0.0
    return 1 / (float(air.conductivity(ambient)) / standoff + 4 * SIGMA * grey * ambient**3)


def put_back(case: Case, mesh: PlanMesh) -> tuple[str, ...]:
    """Which layers and gaps without cells are sheets or resistances on faces, in words."""
    words = [
        f"insulation layer {i + 1} is thinner than the mesh: a sheet or a resistance between its neighbours"
        for i in lost_layers(mesh)
        if _can_be_put_back(case, mesh, i)
    ]
    words += [
        f"the gap of {1e3 * t.standoff:g} mm beneath {t.name} is thinner than the mesh: a resistance on its face"
        for t in case.tracers
        if t.shape == "flat" and 0 < t.standoff < THIN_GAP
    ]
    return tuple(words)


def left_out(case: Case, mesh: PlanMesh) -> str:
    """Parts too thin to mesh that are not put back either, in words; "" where there are none."""
    words = []
    lost = lost_layers(mesh)
    words += [f"insulation layer {i + 1}" for i in lost if not _can_be_put_back(case, mesh, i)]
    words += [
        f"the gap beneath {t.name}" for t in case.tracers if t.shape == "round" and 0 < t.standoff < THIN_GAP
    ]
    for region, error in zip(mesh.layout.regions, mesh.area_error, strict=True):
        word = PARTLY_LAYER if region.kind in ("layer", "wet") else PARTLY
        layer_lost = region.kind in ("layer", "wet") and region.index in lost
        if error < -word and not layer_lost:
            at = f" {region.name}" if region.name else ""
            words.append(f"{region.kind}{at}")
    return ", ".join(words)
