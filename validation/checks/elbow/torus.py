"""A bend against what is known exactly: the shell of a torus, the straight limit, areas and volumes, the balance."""

import numpy as np

from sim.case import Case, case_for, parse_case
from sim.heat.network import network
from sim.section.bend import Bend
from sim.section.layout import place
from sim.section.mesh import bent, plan_mesh
from sim.solve.elbow import of_elbow, solve_elbow
from sim.solve.quantities import quantities
from sim.solve.section import solve_section
from sim.solve.steady import solve
from validation.published.rows import Row, Table
from validation.sketches.invented import SECTIONS

SHELLS = (
    (0.03015, 0.05515, 0.0762),
    (0.08415, 0.15915, 0.2286),
    (0.05715, 0.10715, 0.11),
)  # radii, of the bend; m
POWERS, WAVES, POINTS = 12, 24, 72

SHAPE = "shape factor of a torus shell by its variational principle, written out in torus.py"
LIMIT = "a bend without curvature is a straight pipe, from the definition"
PAPPUS = "Pappus: volume and area of a body of revolution, from the definition"
BALANCE = "heat in is heat out, from the definition"
PATHS = ("wall.min", "wall.max", "barrier.max", "contents.min", "tracers.T1.sheath_max", "heat_out")


def shell_factor(inner: float, outer: float, radius: float) -> float:
    """Shape factor of a torus shell between isothermal faces for a radian of the bend, m.

    The least of the integral of w |grad T|^2 over the section, w = R_b + r cos(angle), among T that are 1 within and 0
    outside: the logarithm of the radius and x (1 - x) x^a cos(n angle) beside it, x the part of the way across.
    """
    node, weight = np.polynomial.legendre.leggauss(POINTS)
    r = inner + 0.5 * (node + 1) * (outer - inner)
    angle = (np.arange(POINTS) + 0.5) * np.pi / POINTS
    x, across = (r - inner) / (outer - inner), outer - inner
    area = np.outer(0.5 * across * weight * r, np.full(POINTS, 2 * np.pi / POINTS))
    depth = area * (radius + np.outer(r, np.cos(angle)))
    powers = np.arange(1, POWERS + 1)[:, None]
    slope = (powers * x ** (powers - 1) - (powers + 1) * x**powers) / across
    value = x**powers - x ** (powers + 1)
    waves = np.arange(WAVES)[:, None]
    cosine, sine = np.cos(waves * angle), -waves * np.sin(waves * angle)
    grad_r = np.einsum("pr,na->pnra", slope, cosine).reshape(-1, POINTS, POINTS)
    grad_a = np.einsum("pr,na->pnra", value / r, sine).reshape(-1, POINTS, POINTS)
    first = np.broadcast_to((-1 / (r * np.log(outer / inner)))[:, None], area.shape)
    matrix = np.einsum("ira,jra,ra->ij", grad_r, grad_r, depth, optimize=True)
    matrix += np.einsum("ira,jra,ra->ij", grad_a, grad_a, depth, optimize=True)
    right = np.einsum("ira,ra,ra->i", grad_r, first, depth, optimize=True)
    best = np.linalg.lstsq(matrix, right, rcond=1e-14)[0]
    return float((first**2 * depth).sum() - right @ best)


def _shell(inner: float, outer: float, radius: float) -> Case:
    """Faces at 20 and 0 degC on either side of an insulation of 0.04 W/m/K."""
    metal = {"conductivity": "10000 W/m/K", "density": "1 kg/m3", "specific_heat": "100 J/kg/K"}
    return parse_case(
        {
            "pipe": {"outer_diameter": f"{2 * inner!r} m", "wall": "1 mm", "material": metal},
            "contents": {"state": "flowing", "temperature": "20 degC", "film_coefficient": "1e7 W/m2/K"},
            "insulation": {"layer": [{"thickness": f"{outer - inner!r} m", "conductivity": "0.04 W/m/K"}]},
            "outside": {"coefficient": "1e6 W/m2/K"},
            "condition": [{"name": "c", "ambient": "0 degC"}],
            "elbow": {"radius": f"{radius!r} m"},
        }
    )


def shells() -> list[Row]:
    """The shell of a torus between two temperatures."""
    rows = []
    for inner, outer, radius in SHELLS:
        exact = 1e3 * shell_factor(inner, outer, radius)
        lost = of_elbow(solve_elbow(_shell(inner, outer, radius)))["per_radian.heat_out"]
        ours, band = (1e3 * number / (0.04 * 20.0) for number in (lost.value, lost.band))
        name = f"shape factor, {1e3 * inner:g} to {1e3 * outer:g} mm, bend {1e3 * radius:g} mm"
        reason = "0.1 % of it"
        rows.append(Row("torus shell", SHAPE, name, exact, ours, 1e-3 * exact, reason, "mm/rad", band))
    return rows


def _invented(name: str, radius: str, outside: float = 3.0) -> Case:
    case = parse_case(SECTIONS[name] | {"elbow": {"radius": radius, "outside": outside}})
    return case_for(case, case.conditions[0].name)


def straight_limit() -> list[Row]:
    """A bend of a very large radius against the straight section."""
    rows = []
    for name in ("round_still", "plastic_two_foil", "hanging_shell", "stainless_empty"):
        case = _invented(name, "900 m")
        swept, straight = solve_elbow(case, fineness=1.5), solve_section(case, fineness=1.5)
        off = max(
            abs(swept.value(path) - straight.value(path))
            for path in PATHS
            if path in straight.quantities and np.isfinite(straight.value(path))
        )
        why = "curvature of 1 in 10,000"
        rows.append(Row(name, LIMIT, "largest difference", 0.0, off, 0.05, why, "K or W/m"))
    return rows


def areas_and_balance() -> list[Row]:
    """Volume and area of a bend by Pappus, and heat in against heat out in it."""
    rows: list[Row] = []
    bends = (
        "round_still",
        "flat_mixed",
        "plastic_two_foil",
        "hanging_shell",
        "stainless_empty",
        "half_filled",
    )
    for name in bends:
        case = _invented(name, "0.16 m", 1.0)
        mesh = bent(plan_mesh(place(case), 2.0), Bend(0.16, np.pi / 6))
        radius, off = mesh.layout.cover_radius, mesh.layout.drop * float(np.cos(np.pi / 6))
        table, shifted = Table(name, PAPPUS, rows), np.pi * radius * (1 - off / 0.16)
        volume, area = (float(part.sum()) for part in (mesh.cell_volume, mesh.cover_area))
        exact = shifted * radius
        table.within("volume a metre of axis", exact, volume, 1e-4 * exact, "0.01 %", "m3")
        table.within("outer surface a metre of axis", 2 * shifted, area, 2e-4 * shifted, "0.01 %", "m2")
        closure = float(quantities(solve(network(case, mesh)))["closure"])
        table.within("closure", 0.0, closure, 1e-6, "1e-6 of the heat", "of the heat", BALANCE)
    return rows


GROUPS = (shells, straight_limit, areas_and_balance)
