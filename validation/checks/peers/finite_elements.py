"""The finite elements by themselves against closed forms, to a few parts in a hundred thousand of the span."""

import math
from typing import Any

from sim.case import Case
from validation.checks.conduction.fourier import (
    TwoLayerAnnulus,
    eccentric_shape_factor,
    multilayer_cylinder,
    thin_wall_fin,
)
from validation.peers.elements.section import solve_section
from validation.published.rows import Row
from validation.sketches.invented import LIQUID
from validation.sketches.lines import flowing, plain_pipe

ZERO = 273.15
SOURCE = "closed form, written out in fourier.py"
TIGHT = 2e-5  # of the span


def _row(check: str, name: str, exact: float, computed: float, span: float, part: float = TIGHT) -> Row:
    unit = "K" if ", K" in name else "W/m" if ", W/m" in name else "-"
    reason = f"{100 * part:g} % of {span:.4g}: a fine mesh of quadratic elements"
    return Row(check, SOURCE, name.partition(",")[0], exact, computed, part * abs(span), reason, unit)


def multilayer() -> list[Row]:
    """Finite elements: flowing contents, a wall and two layers, both films."""
    layers = [(0.03, 0.05), (0.03, 0.035)]
    computed = solve_section(plain_pipe(0.1143, 0.00602, 50.0, layers, 10.0, contents=flowing(60.0, 200.0)))
    radii = [0.05113, 0.05715, 0.08715, 0.11715]
    loss, at = multilayer_cylinder(radii, [50, 0.05, 0.035], 200, 10, 60, 0)
    check = "multilayer cylinder"
    return [
        _row(check, "heat loss, W/m", loss, computed["heat_out"], loss),
        _row(check, "pipe's outside, K", at[1], computed["wall"]["min"] - ZERO, 60.0),
        _row(check, "surface, K", at[3], computed["barrier"]["mean"] - ZERO, 60.0),
    ]


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
    rows = []
    for name, k, more, inside in variants:
        case = plain_pipe(0.1143, 0.00602, k, [(0.05, 0.04)], 10.0, **more)
        computed = solve_section(case, heated_arc=(6, 0.010, 20))
        exact = TwoLayerAnnulus(0.05113, 0.05715, 0.10715, k, 0.04, 10, 20, 0.010, **inside)
        places = {"wall": exact.outside_of_pipe([0, math.pi]), "barrier": exact.surface([0, math.pi])}
        if exact.inside == "still":
            places["contents"] = exact.bore([0, math.pi])
        span = float(places["wall"][0])
        for place, ends in places.items():
            for which, value in zip(("max", "min"), ends, strict=True):
                ours = computed[place][which] - ZERO
                rows.append(_row(f"heated arc, {name}", f"{place} {which}, K", float(value), ours, span))
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
    return [_row("eccentric cylinders", "shape factor", exact, factor, exact, 3e-4)]


def fin() -> list[Row]:
    """Finite elements: a thin bare wall, heat over a short arc."""
    radius, thickness, k, u = 0.05414, 0.001, 15.0, 0.6
    outer = radius + thickness / 2
    computed = solve_section(
        plain_pipe(2 * outer, thickness, k, [], u * radius / outer), heated_arc=(3, 0.0005, 20)
    )
    low, mean, high = thin_wall_fin(radius, thickness, k, u, 20)
    return [
        _row("thin wall as a fin", f"wall {which}, K", exact, computed["wall"][which] - ZERO, high)
        for which, exact in (("min", low), ("mean", mean))
    ]


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
    part = 20 / (400 * 0.006)
    return [
        _row(
            "flat tracer on its contact",
            "sheath over wall, K",
            exact,
            body["sheath_max"] - body["wall"],
            exact,
            5e-5,
        ),
        Row(
            "flat tracer of metal",
            source,
            "body over wall",
            part,
            thin["mean"] - thin["wall"],
            5e-3 * part,
            "0.5 %",
            "K",
        ),
    ]


GROUPS = (multilayer, heated_arc, eccentric, fin, contact)
