"""Conductivity of every cell at its temperature."""

from collections.abc import Callable, Mapping

import numpy as np

from sim.case import Case, Curve
from sim.heat import air
from sim.section.layout import Region
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array

ANY_TEMPERATURE = 300.0  # K, at which a conductivity that does not depend on it is taken
Law = Callable[[Array], Array]


def _constant(value: float) -> Curve:
    return Curve("constant", (value,))


def of_region(case: Case, region: Region) -> Law:
    """Conductivity of a region's cells by their temperature, K; air in a void only conducts (`sim.heat.voids`)."""
    if region.kind == "wall":
        return case.pipe.material.conductivity
    if region.kind == "liquid":
        return (
            case.contents.gas.conductivity
            if case.contents.state == "empty"
            else case.contents.fluid.conductivity
        )
    if region.kind == "gas":
        return case.contents.gas.conductivity
    if region.kind == "tracer":
        return _constant(case.tracers[region.index].body_conductivity)
    if region.kind == "void":
        filling = case.insulation.void.conductivity
        return air.conductivity if filling is None else _constant(filling)
    layer = case.insulation.layers[region.index]
    curve = layer.conductivity
    assert curve is not None
    if region.kind == "layer":
        return curve
    wet = layer.wet
    assert wet is not None
    if wet.conductivity is not None:
        return _constant(wet.conductivity)
    factor = wet.factor or 1.0
    return lambda t: factor * curve(t)


class CellConductivity:
    """Conductivity of all cells of all layers, W/m/K, as a function of their temperatures, both (cells,).

    part (layers, cells of a section): what a cell is made of, by `laws`, or 0 for the section's own; none for a
    section. further: the same of cells beyond those of the layers, and the regions that are theirs where it is 0.
    """

    def __init__(
        self,
        case: Case,
        mesh: PlanMesh,
        part: IntArray | None = None,
        laws: Mapping[int, Law] | None = None,
        further: tuple[IntArray, IntArray] | None = None,
    ) -> None:
        made_of = np.zeros(mesh.cells, np.int64) if part is None else part.ravel()
        region_of = np.tile(mesh.cell_region, len(made_of) // mesh.cells)
        if further is not None:
            made_of = np.concatenate([made_of, further[0]])
            region_of = np.concatenate([region_of, further[1]])
        cells_by_law: list[tuple[IntArray, Law]] = []
        for number, region in enumerate(mesh.layout.regions):
            cells = np.flatnonzero((made_of == 0) & (region_of == number))
            if len(cells):
                cells_by_law.append((cells, of_region(case, region)))
        cells_by_law += [(np.flatnonzero(made_of == code), law) for code, law in (laws or {}).items()]
        fixed = [isinstance(law, Curve) and law.is_constant for _, law in cells_by_law]
        self.varying = [part for part, constant in zip(cells_by_law, fixed, strict=True) if not constant]
        self.base = np.full(len(made_of), 1.0)
        for (cells, law), constant in zip(cells_by_law, fixed, strict=True):
            if constant:
                self.base[cells] = law(np.full(len(cells), ANY_TEMPERATURE))

    def __call__(self, temperature: Array) -> Array:
        conductivity = self.base.copy()
        for cells, law in self.varying:
            conductivity[cells] = law(temperature[cells])
        return conductivity
