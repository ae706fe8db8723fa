"""The field against closed forms: a cylinder, a wall as a fin, a heated arc on an annulus, a source off the pipe."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from sim.case import Case
from sim.solve.at_rest import FINENESS, RATIO
from sim.solve.convergence import banded
from sim.solve.section import solve_section
from validation.checks.conduction.fourier import (
    TwoLayerAnnulus,
    multilayer_cylinder,
    share_reaching_pipe,
    thin_wall_fin,
    thin_wall_fin_around,
)
from validation.published.rows import Array, Profile, Row, Table
from validation.sketches.lines import flowing, plain_pipe
from validation.sketches.sketch import LIQUID
from validation.sketches.sourced import Ring, heated_ring

ZERO = 273.15
FIN = "@incropera, table 3.4, case B (from memory): a fin of uniform section, two of them round the pipe"
SERIES = "@carslaw1959 (from memory); Fourier series of the two-layer annulus, written out in fourier.py"
MEAN_RISE = "0.5 % of the mean rise"
LEVELS = (FINENESS / RATIO**2, FINENESS / RATIO, FINENESS)
HEAT, HALF = 20.0, 0.005 / 0.05715  # W/m over 10 mm of the pipe's outside, half of it in rad


def _on_meshes(table: Table, name: str, exact: float, values: Sequence[float], most: float, why: str) -> None:
    """A number on three meshes, with its band."""
    value = banded((values[0], values[1], values[2]), RATIO)
    table.within(name, exact, value.value, most, why, band=value.band)


def cylinder() -> list[Row]:
    """Two layers around a pipe with flowing contents: loss and temperatures."""
    layers, contents = [(0.03, 0.04), (0.02, 0.06)], flowing(60.0, 500.0)
    case = plain_pipe(0.1143, 0.00602, 50.0, layers, 10.0, contents=contents, ambient=-20.0)
    radii = [0.05113, 0.05715, 0.08715, 0.10715]
    loss, ring = multilayer_cylinder(radii, [50.0, 0.04, 0.06], 500.0, 10.0, 60.0, -20.0)
    computed = solve_section(case).quantities
    source = "@incropera, section 3.3.1 (from memory); closed form"
    table = Table("multilayer cylinder", source, unit="degC", why="0.5 % of 80 K")
    lost, wall, outside = (computed[path] for path in ("heat_out", "wall.mean", "barrier.mean"))
    table.within("heat loss", loss, lost.value, 0.002 * loss, "0.2 % of the loss", "W/m", band=lost.band)
    table.within("wall, mean", 0.5 * (ring[0] + ring[1]), wall.value - ZERO, 0.4, band=wall.band)
    table.within("outside", ring[3], outside.value - ZERO, 0.4, band=outside.band)
    return table.rows


def fin() -> list[Row]:
    """A thin wall with a line source as a fin around the pipe.

    The insulation's own conduction is made radial by a small thickness of it.
    """
    rows: list[Row] = []
    for k in (50.0, 15.0):
        radius, wall, u = 0.05715, 0.00602, 0.6
        mean_radius = radius - wall / 2
        thin = 1e-3
        film = 1.0 / (1.0 / u - radius * np.log(1 + thin / radius) / 1e-2) * radius / (radius + thin)
        case = plain_pipe(2 * radius, wall, k, [(thin, 1e-2)], float(film))
        rings = [heated_ring(case, f, HEAT, 1e-3) for f in LEVELS]
        # the fin's formulas at the wall's mean radius, its loss through U of the outer surface
        given = (mean_radius, wall, k, u * radius / mean_radius, HEAT)
        low, mean, high = thin_wall_fin(*given)
        table = Table(f"thin wall as a fin, k {k:.0f}", FIN, rows, "K")
        for name, exact, values in (
            ("mean", mean, [r.mean for r in rings]),
            ("highest", high, [float(r.at(np.array([0.0]))[0]) for r in rings]),
            ("lowest", low, [float(r.rise.min()) for r in rings]),
        ):
            why = "1.2 %: a fin has no through-wall spreading (thickness/radius 0.1)"
            _on_meshes(table, name, exact, values, 0.012 * exact, why)
        around = thin_wall_fin_around(rings[-1].angle, *given)
        why = "1.2 % of the mean: a fin has no through-wall spreading"
        rows.append(_around(table.check, FIN, rings[-1], around, 0.012 * mean, why))
    return rows


def _around(check: str, source: str, ring: Ring, exact: Array, tolerance: float, reason: str) -> Row:
    """The largest difference of all faces around the pipe's outside on the finest mesh."""
    profile = Profile(np.degrees(ring.angle), exact, ring.rise)
    worst = float(np.abs(ring.rise - exact).max())
    name = "largest difference around the pipe"
    return Row(check, source, name, 0.0, worst, tolerance, reason, "K", profile=profile)


def _heated_arc(k: float, inside: dict[str, Any], **line: Any) -> tuple[Case, TwoLayerAnnulus]:
    """An insulated DN 100 line whose wall conducts k (W/m/K), and its series; inside: keys of the series."""
    exact = TwoLayerAnnulus(0.05113, 0.05715, 0.10715, k, 0.04, 10.0, HEAT, 0.010, **inside)
    return plain_pipe(0.1143, 0.00602, k, [(0.05, 0.04)], 10.0, **line), exact


def _at(table: Table, case: Case, exact: TwoLayerAnnulus, degrees: tuple[int, ...]) -> list[Ring]:
    """Rows of the pipe's outside at some angles from the arc; the rings on three meshes."""
    angle, rings = np.radians(np.array(degrees, float)), [heated_ring(case, f, HEAT, HALF) for f in LEVELS]
    for at, place in zip(angle, degrees, strict=True):
        values = [float(ring.at(np.array([at]))[0]) for ring in rings]
        there, most = float(exact.outside_of_pipe(at)), 0.005 * exact.mean
        _on_meshes(table, f"pipe's outside at {place} deg", there, values, most, MEAN_RISE)
    return rings


def annulus() -> list[Row]:
    """A heated arc on a two-layer annulus, around the clock, and the order of accuracy."""
    rows: list[Row] = []
    angle = np.radians([0.0, 45.0, 90.0, 180.0])
    for k in (50.0, 15.0):
        case, exact = _heated_arc(k, {})
        table = Table(f"heated arc on an annulus, k {k:.0f}", SERIES, rows, "K")
        finest = _at(table, case, exact, (0, 45, 90, 180))[-1]
        around = exact.outside_of_pipe(finest.angle)
        rows.append(_around(table.check, SERIES, finest, around, 0.005 * exact.mean, MEAN_RISE))
        errors = [
            float(np.abs(heated_ring(case, f, HEAT, HALF).at(angle) - exact.outside_of_pipe(angle)).max())
            for f in (4.0, 8.0)
        ]
        why = "second order within 0.2, fineness 4 to 8"
        table.within("order of accuracy", 2.0, float(np.log2(errors[0] / errors[1])), 0.2, why, "-")
    return rows


def annulus_inside_and_sheet() -> list[Row]:
    """The heated arc with contents (mixed, still) and a barrier that conducts around the outside."""
    rows: list[Row] = []
    mixed = {"state": "mixed", "fluid": LIQUID, "film_coefficient": "60 W/m2/K"}
    still = {"state": "still", "fluid": LIQUID}
    stirred = {"inside": "mixed", "film_inside": 60.0}
    rests = {"inside": "still", "k_contents": 0.6}
    for name, contents, barrier, inside in (
        ("mixed contents", mixed, None, stirred),
        ("still contents", still, None, rests),
        (
            "still contents, barrier 0.6 mm of 160 W/m/K",
            still,
            (6e-4, 160.0),
            rests | {"sheet": 6e-4 * 160.0},
        ),
    ):
        case, exact = _heated_arc(15.0, inside, contents=contents, barrier=barrier)
        _at(Table(f"heated arc, {name}", SERIES, rows, "K"), case, exact, (0, 180))
    return rows


def lifted_source() -> list[Row]:
    """A tracer off the pipe: the share of its heat that reaches an isothermal pipe in a uniform medium.

    Body, void and insulation have one conductivity, so the round body acts as a line source at its centre.
    """
    radius, standoff, diameter, thickness, k, film = 0.05715, 0.010, 0.004, 0.05, 0.04, 10.0
    lifted = {"name": "T1", "clock": 3, "shape": "round", "diameter": f"{diameter} m", "output": "20 W/m"}
    lifted |= {"standoff": f"{standoff} m", "body_conductivity": f"{k} W/m/K"}
    case = plain_pipe(
        2 * radius,
        0.006,
        1e4,
        [(thickness, k)],
        film,
        contents=flowing(0.0, 1e6),
        insulation={"fit": "snug", "void": {"conductivity": f"{k} W/m/K"}},
        tracers=[lifted],
    )
    taken = solve_section(case).quantities["from_contents"]
    exact = share_reaching_pipe(radius, radius + standoff + diameter / 2, radius + thickness, k, film)
    source = "closed form, written out in fourier.py: two resistances side by side, B / (A + B)"
    name, share, band = "share of the heat reaching the pipe", -taken.value / 20.0, taken.band / 20.0
    return [Row("tracer off the pipe", source, name, exact, share, 0.005 * exact, "0.5 %", "-", band)]


GROUPS = (cylinder, fin, annulus, annulus_inside_and_sheet, lifted_source)
