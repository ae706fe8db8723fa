"""A flange pair as a body about the pipe by axisymmetric finite elements on a mesh that fits it."""

from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.solve.support_meshes import solve_support
from validation.published.rows import Row
from validation.sketches.lines import flowing, solid
from validation.sketches.stretch import only

SOURCE = "axisymmetric quadratic elements by scikit-fem (@scikitfem2020), written out in flange.py"
STEEL, WOOL = 52.0, 0.04  # W/m/K
FILM, OUTSIDE, CONTENTS = 200.0, 10.0, 60.0  # W/m2/K, degC; the ambient 0 degC
INSULATION, HALF, STRETCH = 0.050, 0.045, 2.5  # m: thickness, half length of the pair and of the line
METAL = solid(STEEL)
FLANGES = {"bare flange": (0.115, 0.0), "covered flange": (0.115, 0.050)}  # m: radius, thickness of its cover
SMALLEST, GROWTH, LARGEST = 0.0004, 1.25, 0.03  # m: elements beside an edge, their growth, the widest
REFERENCE = 0.00002  # of a value: halving all elements moves less

Array = NDArray[np.float64]


def flanges() -> list[Row]:
    """Flange pairs about a pipe by axisymmetric finite elements.

    The heat sink a kelvin and the coldest, mean and hottest place of the metal, and over all the share inside its band.
    """
    rows: list[Row] = []
    inside = 0
    for name, (radius, cover) in FLANGES.items():
        case, fitting = narrowed(_pair(radius, cover))
        theirs = elements(case.pipe.inner_radius, case.pipe.outer_radius, radius, cover)
        ours = solve_support(case, fitting).quantities
        for path, unit in (("chi", "W/K"), *((f"bodies.1.{p}", "degC") for p in ("min", "mean", "max"))):
            zero = 273.15 if unit == "degC" else 0.0
            value, band, reference = ours[path].value - zero, ours[path].band, theirs[path]
            bar, reason = (0.02 * reference, "2 %") if unit == "W/K" else (0.01 * CONTENTS, "1 % of the span")
            inside += abs(value - reference) <= band + REFERENCE * abs(reference)
            rows.append(
                Row(name, SOURCE, path, reference, value, bar, f"{reason}, the bar of the issue", unit, band)
            )
    share = inside / len(rows)
    reason = "at least 9 of 10, the reference's own error of 0.002 % allowed for"
    rows.append(Row("all flanges", SOURCE, "quantities inside their band", 1.0, share, 0.1, reason, "share"))
    return rows


def narrowed(*body: dict[str, Any]) -> tuple[Any, Any]:
    """A line with a fitting of some bodies, invented, narrowed to its condition; the fitting."""
    raw = {
        "pipe": {"size": "DN 100", "schedule": "40", "material": METAL},
        "contents": flowing(CONTENTS, FILM),
        "insulation": {"layer": [{"conductivity": f"{WOOL} W/m/K", "thickness": f"{INSULATION} m"}]},
        "outside": {"coefficient": f"{OUTSIDE} W/m2/K"},
        "condition": [{"name": "a", "ambient": "0 degC"}],
        "design": {"maintain": f"{CONTENTS} degC"},
        "fitting": [{"name": "F", "body": list(body)}],
    }
    case = only(raw)
    return case, case.fittings[0]


def _pair(radius: float, cover: float) -> dict[str, Any]:
    """A flange pair as a case gives it."""
    body = {"axis": "along", "diameter": f"{2 * radius} m", "from": f"{-HALF} m", "to": f"{HALF} m"}
    return body | {"material": METAL, "cover": f"{cover} m" if cover else "bare"}


def _graded(edges: list[float], finer: float) -> Array:
    """Places from the first edge to the last, close at every edge between and at the ends where two are near, m."""
    kept = [edges[0]]
    for low, high in pairwise(edges):
        x = low
        while x < high - 1e-12:
            away = min(x - low, max(high - x, 0.0))
            x += min(SMALLEST + (GROWTH - 1) * away, LARGEST) / finer
            kept.append(min(x, high))
        if kept[-1] - kept[-2] < 0.3 * SMALLEST / finer:
            del kept[-2]
    return np.array(kept)


def elements(inner: float, outer: float, radius: float, cover: float, finer: float = 1.0) -> dict[str, float]:
    """chi, W/K, and the coldest, mean and hottest place of the flange, degC. finer: than the check's elements."""
    from skfem import (
        Basis,
        BilinearForm,
        ElementTriP0,
        ElementTriP2,
        FacetBasis,
        Functional,
        LinearForm,
        MeshTri,
        solve,
    )
    from skfem.helpers import dot, grad

    shell = outer + INSULATION
    z_edges = sorted({0.0, HALF, HALF + cover, STRETCH})
    r_edges = sorted({inner, outer, shell, radius, radius + cover})
    whole = MeshTri.init_tensor(_graded(z_edges, finer), _graded(r_edges, finer))
    z, r = whole.p[:, whole.t].mean(axis=1)
    body = (z < HALF) & (r < radius)
    covering = (z < HALF + cover) & (r < radius + cover) if cover else np.zeros(len(z), bool)
    there = body | (r < outer) | ((r < shell) & (z > HALF)) | covering
    mesh = whole.restrict(np.flatnonzero(there))
    metal = (body | (r < outer))[there]
    basis = Basis(mesh, ElementTriP2())
    k = basis.with_element(ElementTriP0()).interpolate(np.where(metal, STEEL, WOOL))
    stiffness = BilinearForm(lambda u, v, w: w.k * w.x[1] * dot(grad(u), grad(v))).assemble(basis, k=k)
    facets = mesh.boundary_facets()
    at_z, at_r = mesh.p[:, mesh.facets[:, facets]].mean(axis=1)
    bore = np.abs(at_r - inner) < 1e-9
    skin = ~bore & (at_z > 1e-9) & (at_z < STRETCH - 1e-9)
    wet, air = (FacetBasis(mesh, ElementTriP2(), facets=facets[which]) for which in (bore, skin))
    film, load = BilinearForm(lambda u, v, w: w.x[1] * u * v), LinearForm(lambda v, w: w.x[1] * v)
    matrix = stiffness + FILM * film.assemble(wet) + OUTSIDE * film.assemble(air)
    field = solve(matrix, FILM * CONTENTS * load.assemble(wet))
    flow = Functional(lambda w: w.x[1] * w["u"])
    lost = 4 * np.pi * OUTSIDE * flow.assemble(air, u=air.interpolate(field))
    resistance = 1 / (inner * FILM) + np.log(outer / inner) / STEEL + np.log(shell / outer) / WOOL
    line = 2 * np.pi / (resistance + 1 / (shell * OUTSIDE)) * CONTENTS
    own = Basis(mesh, ElementTriP2(), elements=np.flatnonzero(body[there]))
    on_body = field[np.unique(own.element_dofs)]
    volume = Functional(lambda w: w.x[1]).assemble(own)
    return {
        "chi": float(lost - 2 * STRETCH * line) / CONTENTS,
        "bodies.1.min": float(on_body.min()),
        "bodies.1.mean": float(flow.assemble(own, u=own.interpolate(field)) / volume),
        "bodies.1.max": float(on_body.max()),
    }


GROUPS = ()
LONG = (flanges,)
