"""Conductivity of every cell at its temperature."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sim.case import Case, Curve, Support
from sim.heat import air
from sim.section.layout import Region
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array
from sim.section.support_plan import INSERT, LEG, PAD

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

    part (layers, cells of a section): the support's part that a cell is made of,
    PAD, LEG, INSERT or 0 for the section's own; none for a section.
    """

    def __init__(
        self,
        case: Case,
        mesh: PlanMesh,
        part: IntArray | None = None,
        support: Support | None = None,
    ) -> None:
        made_of = np.zeros((1, mesh.cells), np.int64) if part is None else part
        laws: list[tuple[IntArray, Law]] = []
        for number, region in enumerate(mesh.layout.regions):
            cells = np.flatnonzero((made_of == 0) & (mesh.cell_region == number))
            if len(cells):
                laws.append((cells, of_region(case, region)))
        if support is not None:
            laws.append((np.flatnonzero(made_of == PAD), support.pad_material.conductivity))
            laws.append((np.flatnonzero(made_of == LEG), support.leg_material.conductivity))
            if support.insert is not None:
                laws.append((np.flatnonzero(made_of == INSERT), support.insert.conductivity))
        fixed = [isinstance(law, Curve) and law.is_constant for _, law in laws]
        self.varying = [part for part, constant in zip(laws, fixed, strict=True) if not constant]
        self.base = np.empty(made_of.size)
        for (cells, law), constant in zip(laws, fixed, strict=True):
            if constant:
                self.base[cells] = law(np.full(len(cells), ANY_TEMPERATURE))

    def __call__(self, temperature: Array) -> Array:
        conductivity = self.base.copy()
        for cells, law in self.varying:
            conductivity[cells] = law(temperature[cells])
        return conductivity
