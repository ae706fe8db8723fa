"""Published conduction cases that are not pipes, through the same faces and joints: ISO 10211 and NAFEMS."""

from itertools import product

import numpy as np
from numpy.typing import NDArray

from sim.heat.film import radiative
from validation.published.rows import Row
from validation.sketches.boxes import Field, box, solve_box

Array = NDArray[np.float64]

COLUMN = (  # degC, 7 rows from the hot face by 4 columns from the cold one
    (9.7, 13.4, 14.7, 15.1),
    (5.3, 8.6, 10.3, 10.8),
    (3.2, 5.6, 7.0, 7.5),
    (2.0, 3.6, 4.7, 5.0),
    (1.3, 2.3, 3.0, 3.2),
    (0.7, 1.4, 1.8, 1.9),
    (0.3, 0.6, 0.8, 0.9),
)


def column() -> list[Row]:
    """Half a square column (ISO 10211, case 1).

    x from the cold side to the adiabatic middle, y from the hot face.
    """
    side = 1.0
    cells = box(np.linspace(0, 0.5, 65), np.linspace(0, 1.0, 129), lambda x, y: np.ones_like(x))
    point = cells.outer_point
    hot, middle = point[:, 1] < 1e-9, point[:, 0] > 0.5 - 1e-9
    field = solve_box(cells, np.where(middle, 0.0, np.inf), np.where(hot, 20.0, 0.0))
    check = "half a square column (ISO 10211, case 1)"
    source = "@iso10211, Annex C, case 1 (table from memory; equals its series)"
    why = "0.1 K, the standard's own"
    rows = []
    for i, j in product(range(7), range(4)):
        name, ours = f"row {i + 1}, column {j + 1}", field.at(side * (j + 1) / 8, side * (i + 1) / 8)
        rows.append(Row(check, source, name, COLUMN[i][j], ours, 0.1, why, "degC"))
    return rows


def _layers(x: Array, y: Array) -> Array:
    k = np.full_like(x, 0.029)
    k[(y > 0.0365) & (x < 0.015)] = 0.12
    k[(y > 0.035) & (y < 0.0365) & (x < 0.015)] = 230.0
    k[(y < 0.0365) & (x < 0.0015)] = 230.0
    k[y < 0.0015] = 230.0
    k[y > 0.0415] = 1.15
    return k


def _graded(bounds: list[float], step: list[float]) -> Array:
    parts = [
        np.linspace(a, b, max(1, round((b - a) / s)) + 1)[:-1]
        for a, b, s in zip(bounds[:-1], bounds[1:], step, strict=True)
    ]
    return np.concatenate([*parts, [bounds[-1]]])


def metal_and_concrete() -> list[Row]:
    """Aluminium in insulation under concrete (ISO 10211, case 2): heat flow and nine temperatures."""
    x = _graded(
        [0, 0.0015, 0.005, 0.013, 0.0145, 0.0155, 0.02, 0.05, 0.15, 0.5],
        [1.25e-4, 1.25e-4, 5e-4, 2.5e-4, 1e-4, 2.5e-4, 5e-4, 2.5e-3, 5e-3],
    )
    y = _graded(
        [0, 0.0015, 0.006, 0.030, 0.036, 0.037, 0.041, 0.042, 0.0475],
        [1.25e-4, 1.25e-4, 5e-4, 2e-4, 1e-4, 2e-4, 1e-4, 5e-4],
    )
    cells = box(x, y, _layers)
    top, bottom = cells.outer_point[:, 1] > 0.0475 - 1e-9, cells.outer_point[:, 1] < 1e-9
    film = np.where(top, 1 / 0.06, np.where(bottom, 1 / 0.11, 0.0))
    field = solve_box(cells, film, np.where(bottom, 20.0, 0.0))
    points = {
        "A": (0, 47.5, 7.1),
        "B": (500, 47.5, 0.8),
        "C": (0, 41.5, 7.9),
        "D": (15, 41.5, 6.3),
        "E": (500, 41.5, 0.8),
        "F": (0, 36.5, 16.4),
        "G": (15, 36.5, 16.3),
        "H": (0, 0, 16.8),
        "I": (500, 0, 18.3),
    }
    name, source = "metal, insulation and concrete (ISO 10211, case 2)", "@iso10211, Annex C, case 2"
    flow = float(field.leaving[top].sum())
    rows = [Row(name, source, "heat flow", 9.5, flow, 0.1, "0.1 W/m, the standard's own", "W/m")]
    for letter, (px, py, published) in points.items():
        computed = field.at(px / 1e3, py / 1e3)
        why = "0.1 K, the standard's own"
        rows.append(Row(name, source, f"point {letter}", published, computed, 0.1, why, "degC"))
    return rows


def radiating_bar() -> list[Row]:
    """A bar held at 1000 K that radiates from its far end to 300 K (NAFEMS T2)."""
    cells = box(np.linspace(0, 0.1, 101), np.linspace(0, 0.01, 5), lambda x, y: np.full_like(x, 55.563))
    hot, far = cells.outer_point[:, 0] < 1e-9, cells.outer_point[:, 0] > 0.1 - 1e-9
    surface = np.full(len(far), 900.0)
    field: Field | None = None
    for _ in range(60):
        h = np.asarray(radiative(surface, ambient=300.0, emissivity=0.98))
        film = np.where(hot, np.inf, np.where(far, h, 0.0))
        field = solve_box(cells, film, np.where(hot, 1000.0, 300.0))
        surface = field.surface
    assert field is not None
    check, why = "bar that radiates (NAFEMS T2)", "half a unit of the last digit"
    ours = float(field.surface[far].mean())
    return [Row(check, "@nafems1986, test T2", "far end", 927.0, ours, 0.5, why, "K")]


def convecting_plate() -> list[Row]:
    """A plate hot below, adiabatic on the left, convecting to the right and above (NAFEMS T4)."""
    cells = box(np.linspace(0, 0.6, 97), np.linspace(0, 1.0, 161), lambda x, y: np.full_like(x, 52.0))
    x, y = cells.outer_point.T
    hot, film = y < 1e-9, np.where((x > 0.6 - 1e-9) | (y > 1 - 1e-9), 750.0, 0.0)
    field = solve_box(cells, np.where(hot, np.inf, film), np.where(hot, 100.0, 0.0))
    right = x > 0.6 - 1e-9
    order = np.argsort(y[right])
    computed = float(np.interp(0.2, y[right][order], field.surface[right][order]))
    source = "@nafems1986, test T4 (value from memory)"
    reason = "half a unit of the last digit"
    return [Row("convecting plate (NAFEMS T4)", source, "point E", 18.3, computed, 0.05, reason, "degC")]


GROUPS = (column, metal_and_concrete, radiating_bar, convecting_plate)
