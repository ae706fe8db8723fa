"""The finite elements by themselves against closed forms, to a few parts in a hundred thousand of the span."""

import math
from typing import Any

from sim.case import Case
from validation.checks.conduction.fourier import TwoLayerAnnulus, eccentric_shape_factor
from validation.peers.elements.section import solve_section
from validation.published.rows import Row, Table
from validation.sketches.invented import LIQUID
from validation.sketches.lines import flowing, plain_pipe

ZERO = 273.15
SOURCE = "closed form, written out in fourier.py"
TIGHT = 2e-5  # of the span
FINE = "a fine mesh of quadratic elements"


def heated_arc() -> list[Row]:
    """Finite elements: heat over an arc of 10 mm of a pipe, every bore, and a barrier that conducts."""
    still = {"contents": {"state": "still", "fluid": LIQUID}}
    mixed = {"contents": {"state": "mixed", "fluid": LIQUID, "film_coefficient": "100 W/m2/K"}}
    variants: list[tuple[str, float, dict[str, Any], dict[str, Any]]] = [
        ("empty, k 50", 50.0, {}, {}),
        ("empty, k 15", 15.0, {}, {}),
        ("mixed, k 15", 15.0, mixed, {"inside": "mixed", "film_inside": 100}),
        ("still, k 15", 15.0, still, {"inside": "still", "k_contents": 0.6}),
        ("empty, k 15, barrier", 15.0, {"barrier": (0.001, 160.0)}, {"sheet": 0.16}),
    ]
    rows: list[Row] = []
    for name, k, more, inside in variants:
        case = plain_pipe(0.1143, 0.00602, k, [(0.05, 0.04)], 10.0, **more)
        computed = solve_section(case, heated_arc=(6, 0.010, 20))
        exact = TwoLayerAnnulus(0.05113, 0.05715, 0.10715, k, 0.04, 10, 20, 0.010, **inside)
        ends = [0, math.pi]
        places = {"wall": exact.outside_of_pipe(ends), "barrier": exact.surface(ends)}
        if exact.inside == "still":
            places["contents"] = exact.bore(ends)
        span = float(places["wall"][0])
        table = Table(f"heated arc, {name}", SOURCE, rows, "K", f"{100 * TIGHT:g} % of {span:.4g}: {FINE}")
        for place, hot_and_cold in places.items():
            for which, value in zip(("max", "min"), hot_and_cold, strict=True):
                table.within(f"{place} {which}", value, computed[place][which] - ZERO, TIGHT * span)
    return rows


def eccentric() -> list[Row]:
    """Finite elements: a shell hanging on a pipe, void and layer of one conductivity."""
    hanging = {"fit": "oversize", "bore": "40 mm", "void": {"conductivity": "0.5 W/m/K"}}
    contents = flowing(50.0, 9e4)
    case = plain_pipe(0.02, 0.002, 400.0, [(0.01, 0.5)], 1e7, contents=contents, insulation=hanging)
    computed = solve_section(case)
    # the pipe's surface is not quite isothermal: its mean stands for it
    factor = computed["heat_out"] / (0.5 * (computed["wall"]["mean"] - ZERO))
    exact = eccentric_shape_factor(0.060, 0.020, 0.010)
    table = Table("eccentric cylinders", SOURCE, unit="-", why=FINE)
    table.row("shape factor", exact, factor, 3e-4)
    return table.rows


def on_good_metal(width: float, height: float, **tracer: Any) -> Case:
    """A flat tracer (m) of 20 W/m on metal that contents hold at 50 degC, its gap to be filled with next to nothing."""
    strip = {"name": "T1", "clock": 6.0, "shape": "flat", "width": f"{width} m", "height": f"{height} m"}
    gap = {"fit": "oversize", "bore": "80 mm", "void": {"conductivity": "0.03 W/m/K"}}
    contents, tracers = flowing(50.0, 9e4), [strip | {"output": "20 W/m"} | tracer]
    layers = [(0.05, 0.04)]
    return plain_pipe(
        0.0603, 0.00391, 400.0, layers, 10.0, contents=contents, insulation=gap, tracers=tracers
    )


def contact() -> list[Row]:
    """Finite elements: a flat tracer whose heat leaves through its base alone.

    Base: q'/(h_c w) above the pipe; through the body, heat g a volume, adiabatic outside:
    g/(2 k) (R^2 ln(R/r) - (R^2 - r^2)/2) (Poisson's equation in a ring).
    """
    body = solve_section(on_good_metal(0.012, 0.005), void_conductivity=1e-9)["tracers"]["T1"]
    inner, outer, width = 0.03015, 0.03515, 0.012
    volume_heat = 20 / (width / (2 * inner) * (outer**2 - inner**2))
    through = volume_heat / (2 * 0.3) * (outer**2 * math.log(outer / inner) - (outer**2 - inner**2) / 2)
    exact = 20 / (400 * width) + through
    # the ends of its contact do not leak: one of metal passes all through it
    metal = on_good_metal(0.006, 0.0015, body_conductivity="50 W/m/K")
    thin = solve_section(metal, void_conductivity=1e-9)["tracers"]["T1"]
    source = "resistances in series, closed form, from the definition"
    table = Table("flat tracer on its contact", SOURCE, unit="K", why=FINE)
    table.row("sheath over wall", exact, body["sheath_max"] - body["wall"], 5e-5)
    table = Table("flat tracer of metal", source, table.rows, "K", "the mesh")
    table.row("body over wall", 20 / (400 * 0.006), thin["mean"] - thin["wall"], 5e-3)
    return table.rows


GROUPS = (heated_arc, eccentric, contact)
