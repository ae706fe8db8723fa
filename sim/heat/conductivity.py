"""Conductivity of every cell at its temperature."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sim.case import Case, Void
from sim.heat import air
from sim.section.layout import Region
from sim.section.mesh import IntArray, PlanMesh
from sim.section.shapes import Array

SIGMA = 5.670374419e-8


def air_void(temperature: Array, width: Array, emissivity: float) -> Array:
    """Air that conducts and radiates across a gap between grey walls, W/m/K: k_air + 4 sigma e T^3 L.

    temperature (n,) K, width L (n,) m; e = emissivity / (2 - emissivity), two parallel grey surfaces. Free
    convection in the gap is left out.
    """
    effective = emissivity / (2.0 - emissivity)
    return air.conductivity(temperature) + 4 * SIGMA * effective * temperature**3 * width


def _of_void(void: Void, width: Array) -> Callable[[Array], Array]:
    if void.conductivity is not None:
        given = void.conductivity
        return lambda t: np.full_like(t, given)
    return lambda t: air_void(t, width, void.emissivity)


def of_region(case: Case, region: Region, width: Array) -> Callable[[Array], Array]:
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
        body = case.tracers[region.index].body_conductivity
        return lambda t: np.full_like(t, body)
    if region.kind == "void":
        return _of_void(case.insulation.void, width)
    layer = case.insulation.layers[region.index]
    curve = layer.conductivity
    assert curve is not None
    if region.kind == "layer":
        return curve
    wet = layer.wet
    assert wet is not None
    if wet.conductivity is not None:
        given_wet = wet.conductivity
        return lambda t: np.full_like(t, given_wet)
    factor = wet.factor or 1.0
    return lambda t: factor * curve(t)


class CellConductivity:
    """Conductivity of the cells of a mesh, W/m/K, as a function of their temperatures (cells,) K."""

    def __init__(self, case: Case, mesh: PlanMesh, void_width: Array) -> None:
        self.parts: list[tuple[IntArray, Callable[[Array], Array]]] = []
        for number, region in enumerate(mesh.layout.regions):
            cells = np.flatnonzero(mesh.cell_region == number)
            if len(cells):
                self.parts.append((cells, of_region(case, region, void_width[cells])))
        self.count = mesh.cells

    def __call__(self, temperature: Array) -> Array:
        conductivity = np.empty(self.count)
        for cells, law in self.parts:
            conductivity[cells] = law(temperature[cells])
        return conductivity
