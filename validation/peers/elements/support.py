"""A shoe on a DN 100 line by finite elements: an independent solution of the same physical problem.

Quadratic tetrahedra (scikit-fem) on a body-fitted gmsh triangulation of the plan, extruded over its own layers and
cut into tetrahedra. Geometry, materials and boundary conditions are set up here from plain numbers, not through the
program's rooms. One of a row of shoes 1.2 m apart; half is modelled; contacts are perfect on both sides, the weather
barrier is absent, one coefficient outside. Run: python -m validation.peers.elements.support [size]
"""

import sys
from dataclasses import dataclass
from itertools import pairwise
from time import perf_counter
from typing import Any

import numpy as np

R_I, R_O, R_COVER = 0.05113, 0.05715, 0.10715
PAD = {"outer": 0.05715 + 0.006, "half_angle": np.pi / 4, "half_length": 0.075}
LEG = {"half_width": 0.005, "half_length": 0.060, "exposed": 0.100, "film": 10.0}
TRACER = {"outer": 0.05715 + 0.005, "half_angle": 0.012 / 2 / 0.05715}  # flat, at 3 o'clock
HALF_SPACING = 0.6
K = {"wall": 50.0, "metal": 50.0, "tracer": 0.3, "layer": 0.04}
BORE_FILM, OUTSIDE_FILM, HEAT = 200.0, 10.0, 25.0


def case(half_spacing: float = HALF_SPACING) -> dict[str, Any]:
    """The same problem as a case for the program; `contents` is set by what is compared."""
    from validation.sketches.stretch import raw_line

    shoe = {
        "name": "shoe",
        "family": "shoe",
        "material": {"conductivity": "50 W/m/K"},
        "pad": {"contact_conductance": "1e7 W/m2/K"},
        "leg": {"film_coefficient": f"{LEG['film']} W/m2/K"},
        "spacing": f"{2 * half_spacing} m",
    }
    tracer = {"name": "T1", "clock": 3, "output": f"{HEAT} W/m", "shape": "flat", "width": "12 mm"}
    tracer |= {"height": "5 mm", "body_conductivity": "0.3 W/m/K", "contact_conductance": "1e7 W/m2/K"}
    contents = {"state": "mixed", "film_coefficient": f"{BORE_FILM} W/m2/K"}
    return raw_line(K["wall"], shoe, K["layer"], contents=contents, tracer=[tracer])


def plan(size: float, around: float = 80) -> tuple[np.ndarray, np.ndarray]:
    """Body-fitted triangles of the plan, at least so many around a circle: points (n, 2) and triangles (m, 3)."""
    import gmsh

    gmsh.initialize(interruptible=False)
    gmsh.option.setNumber("General.Verbosity", 1)
    occ = gmsh.model.occ
    cover, outer, inner = (occ.addDisk(0, 0, 0, r, r) for r in (R_COVER, R_O, R_I))
    ring = [(2, cover)]
    occ.cut(ring, [(2, inner)], removeTool=True)
    tools = [(2, outer)]
    for radius, middle, half in (
        (PAD["outer"], -np.pi / 2, PAD["half_angle"]),
        (TRACER["outer"], 0.0, TRACER["half_angle"]),
    ):
        centre = occ.addPoint(0, 0, 0)
        ends = [
            occ.addPoint(radius * np.cos(middle + s), radius * np.sin(middle + s), 0) for s in (-half, half)
        ]
        arc = occ.addCircleArc(ends[0], centre, ends[1])
        loop = occ.addCurveLoop([occ.addLine(centre, ends[0]), arc, occ.addLine(ends[1], centre)])
        tools.append((2, occ.addPlaneSurface([loop])))
    w = LEG["half_width"]
    tools.append((2, occ.addRectangle(-w, -1.2 * R_COVER, 0, 2 * w, 1.2 * R_COVER)))
    body = occ.getEntities(2)
    body = [e for e in body if e not in tools]
    _, parts = occ.fragment(body, tools)
    occ.synchronize()
    keep = {e for group in parts[: len(body)] for e in group}
    occ.remove([e for e in occ.getEntities(2) if e not in keep], recursive=True)
    occ.synchronize()
    gmsh.option.setNumber("Mesh.MeshSizeMin", 0.25 * size)
    gmsh.option.setNumber("Mesh.MeshSizeMax", size)
    gmsh.option.setNumber("Mesh.MeshSizeFromCurvature", around)
    corners = list(occ.getEntities(0))
    field = gmsh.model.mesh.field
    near = field.add("Distance")
    field.setNumbers(near, "PointsList", [tag for _, tag in corners])
    grade = field.add("Threshold")
    for key, value in (
        ("InField", near),
        ("SizeMin", 0.25 * size),
        ("SizeMax", size),
        ("DistMin", 0.001),
        ("DistMax", 0.02),
    ):
        field.setNumber(grade, key, value)
    field.setAsBackgroundMesh(grade)
    gmsh.model.mesh.generate(2)
    tags, xyz, _ = gmsh.model.mesh.getNodes()
    _, triangles = gmsh.model.mesh.getElementsByType(2)
    gmsh.finalize()
    number = np.zeros(int(tags.max()) + 1, int)
    number[tags] = np.arange(len(tags))
    corner = number[triangles.reshape(-1, 3).astype(int)]
    used, flat = np.unique(corner, return_inverse=True)
    return xyz.reshape(-1, 3)[used, :2], flat.reshape(-1, 3)


def layers(size: float) -> np.ndarray:
    """Layer edges of the half stretch, with edges at the ends of leg and pad, m."""
    parts = []
    marks = (0.0, LEG["half_length"], PAD["half_length"], HALF_SPACING)
    for low, high in pairwise(marks):
        if high < HALF_SPACING:
            count = max(2, round((high - low) / (1.6 * size)))
            parts.append(low + (high - low) * np.arange(count) / count)
            if low == 0.0:  # finer towards the leg's end
                parts[-1] = high * np.sin(0.5 * np.pi * np.arange(count) / count)
        else:
            steps, z = [], low
            step = 0.8 * size
            while z < high - step:
                steps.append(z)
                z, step = z + step, min(1.25 * step, 0.06)
            parts.append(np.array(steps))
    return np.append(np.concatenate(parts), HALF_SPACING)


def tetrahedra(point: np.ndarray, triangle: np.ndarray, edge: np.ndarray) -> Any:
    """The extruded triangles cut into tetrahedra that meet face to face."""
    from skfem import MeshTet

    n = len(point)
    t = np.sort(triangle, axis=1)
    low = t[None] + (np.arange(len(edge) - 1) * n)[:, None, None]
    a0, a1, a2 = (low[..., i].ravel() for i in range(3))
    b0, b1, b2 = a0 + n, a1 + n, a2 + n
    cells = np.concatenate(
        [np.stack(c) for c in ((a0, a1, a2, b2), (a0, a1, b1, b2), (a0, b0, b1, b2))], axis=1
    )
    xyz = np.concatenate([np.tile(point.T, len(edge)), np.repeat(edge, n)[None]])
    return MeshTet(np.ascontiguousarray(xyz), np.ascontiguousarray(cells))


def conductivity(x: np.ndarray, with_support: bool) -> np.ndarray:
    """Conductivity at points (3, m), W/m/K."""
    r, turn = np.hypot(x[0], x[1]), np.arctan2(x[0], -x[1])
    k = np.full(r.shape, K["layer"])
    tracer = (r < TRACER["outer"]) & (np.abs(np.arctan2(x[1], x[0])) < TRACER["half_angle"])
    k[tracer] = K["tracer"]
    if with_support:
        k[(np.abs(x[0]) < LEG["half_width"]) & (x[1] < 0) & (x[2] < LEG["half_length"])] = K["metal"]
        k[(r < PAD["outer"]) & (np.abs(turn) < PAD["half_angle"]) & (x[2] < PAD["half_length"])] = K["metal"]
    k[r < R_O] = K["wall"]
    return k


@dataclass(frozen=True)
class Shoe:
    """The half stretch assembled: conduction without and with the shoe; of bore, cover and the cut that the leg makes
    in it, the film matrix of 1 W/m2/K and its load; fin: the leg's exposed part over its cut, W/m2/K."""

    mesh: Any
    basis: Any
    middle: np.ndarray
    conducts: dict[bool, Any]
    film: dict[str, Any]
    load: dict[str, np.ndarray]
    fin: float

    def matrix(self, with_shoe: bool, film: float = BORE_FILM) -> Any:
        """Conduction, the outside's film with the leg's fin where it is, and a film in the bore."""
        cut = self.fin if with_shoe else OUTSIDE_FILM
        outside = OUTSIDE_FILM * self.film["cover"] + cut * self.film["cut"]
        return self.conducts[with_shoe] + outside + film * self.film["bore"]

    def leaving(self, field: np.ndarray, with_shoe: bool) -> tuple[float, float]:
        """Heat through the cover and through the leg's cut, of both halves, W."""
        cut = self.fin if with_shoe else OUTSIDE_FILM
        return 2 * OUTSIDE_FILM * float(self.load["cover"] @ field), 2 * cut * float(self.load["cut"] @ field)


def assembled(size: float, degree: int = 2, around: float = 80) -> Shoe:
    """Tetrahedra of a size and degree, and all that does not change between solutions on them."""
    from skfem import Basis, BilinearForm, ElementTetP1, ElementTetP2, FacetBasis, LinearForm, asm
    from skfem.helpers import dot, grad

    element = ElementTetP1() if degree == 1 else ElementTetP2()
    mesh = tetrahedra(*plan(size, around), layers(size))
    place, corners = mesh.p[:, mesh.facets].mean(axis=1), np.hypot(*mesh.p[:2, mesh.facets])
    edge = np.zeros(mesh.facets.shape[1], bool)
    edge[mesh.boundary_facets()] = True
    cover = edge & (np.hypot(*place[:2]) > 0.5 * (R_O + R_COVER)) & (corners.min(axis=0) > 0.999 * R_COVER)
    cut = cover & (np.abs(place[0]) < LEG["half_width"]) & (place[1] < 0) & (place[2] < LEG["half_length"])
    surfaces = {"bore": edge & (corners.max(axis=0) < R_I * 1.001), "cover": cover & ~cut, "cut": cut}

    @BilinearForm
    def conduct(u: Any, v: Any, w: Any) -> Any:
        return w["k"] * dot(grad(u), grad(v))

    @BilinearForm
    def film(u: Any, v: Any, w: Any) -> Any:
        return u * v

    @LinearForm
    def one(v: Any, w: Any) -> Any:
        return 1.0 * v

    basis = Basis(mesh, element, intorder=degree)
    middle = mesh.p[:, mesh.t].mean(axis=1)
    conducts = {
        shoe: asm(conduct, basis, k=np.repeat(conductivity(middle, shoe)[:, None], basis.X.shape[1], axis=1))
        for shoe in (False, True)
    }
    rims = {name: FacetBasis(mesh, element, facets=np.flatnonzero(on)) for name, on in surfaces.items()}
    load = {name: asm(one, rim) for name, rim in rims.items()}
    area, long = 4 * LEG["half_width"] * LEG["half_length"], LEG["exposed"]
    m = np.sqrt(LEG["film"] * 4 * (LEG["half_width"] + LEG["half_length"]) / (K["metal"] * area))
    fin = float(m * K["metal"] * area * np.tanh(m * long) / (2 * load["cut"].sum()))
    return Shoe(
        mesh, basis, middle, conducts, {name: asm(film, rim) for name, rim in rims.items()}, load, fin
    )


def solve(size: float = 0.007) -> dict[str, float]:
    """dQ and chi with the bore held at 60 degC, and the wall's temperatures with the tracer alone (adiabatic bore)."""
    import pyamg
    from skfem import Basis, ElementTetP2, LinearForm, asm

    half = assembled(size)

    def answer(with_shoe: bool, right: np.ndarray, film: float) -> np.ndarray:
        grid = pyamg.ruge_stuben_solver(half.matrix(with_shoe, film).tocsr(), max_coarse=100)
        field: np.ndarray = grid.solve(right, tol=1e-9, accel="cg", maxiter=400)
        return field

    warmed = BORE_FILM * 60.0 * half.load["bore"]
    plain, (cover, leg) = (
        half.leaving(answer(with_shoe, warmed, BORE_FILM), with_shoe) for with_shoe in (False, True)
    )
    loss = sum(plain)
    r, turn = np.hypot(*half.middle[:2]), np.arctan2(half.middle[1], half.middle[0])
    tracer = (r > R_O) & (r < TRACER["outer"]) & (np.abs(turn) < TRACER["half_angle"])
    within = Basis(half.mesh, ElementTetP2(), elements=np.flatnonzero(tracer))
    heated = asm(LinearForm(lambda v, w: 1.0 * v), within)
    heated *= HEAT * HALF_SPACING / heated.sum()
    wall = np.unique(half.basis.element_dofs[:, r < R_O])
    section, around = (answer(with_shoe, heated, 0.0)[wall] for with_shoe in (False, True))
    return {
        "unknowns": float(half.basis.N),
        "loss": loss / (2 * HALF_SPACING),
        "leg_heat_held": leg,
        "heat_sink": cover + leg - loss,
        "chi": (cover + leg - loss) / 60.0,
        "section_wall_min": float(section.min()),
        "wall_min": float(around.min()),
        "dip": float(section.min() - around.min()),
        "fall_max": float((section - around).max()),
    }


def compare(size: float) -> list[tuple[str, float, float, float]]:
    """(quantity, finite elements, finite volumes, band) of the shoe."""
    from sim.case import case_for, parse_case
    from sim.solve.support_meshes import solve_support

    elements = solve(size)
    changed = case()
    adiabatic = case() | {"contents": {"state": "mixed", "film_coefficient": "0 W/m2/K"}}
    rows = []
    for raw, names in ((changed, ("heat_sink", "chi", "leg_heat_held")), (adiabatic, ("dip", "fall_max"))):
        narrowed = case_for(parse_case(raw), "a")
        values = solve_support(narrowed, narrowed.supports[0]).quantities
        rows += [(name, elements[name], values[name].value, values[name].band) for name in names]
    return rows


if __name__ == "__main__":
    begin = perf_counter()
    for name, elements, volumes, band in compare(float(sys.argv[1]) if len(sys.argv) > 1 else 0.007):
        print(
            f"{name:16s} {elements:10.5f} {volumes:10.5f} +- {band:8.5f}  {100 * (volumes / elements - 1):+.3f} %"
        )
    print(f"{perf_counter() - begin:.0f} s")
