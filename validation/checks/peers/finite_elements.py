"""The finite-element section against closed forms, one row a quantity.

`python -m validation.checks.peers.finite_elements` prints them. Sizes are invented; the closed forms and their
sources are in `fourier.py`.
"""

from __future__ import annotations

import copy
import logging
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sim.case import parse_case
from validation.checks.conduction.fourier import (
    TwoLayerAnnulus,
    eccentric_shape_factor,
    multilayer_cylinder,
    thin_wall_fin,
)
from validation.peers.elements.section import solve_section
from validation.sketches.invented import GAS, LIQUID

ZERO = 273.15
PERFECT = 1e7  # W/m2/K or W/m/K: no resistance to speak of


@dataclass(frozen=True)
class Row:
    """One comparison; `scale` is what a difference is measured by (a span in K, or the value itself)."""

    check: str
    quantity: str
    closed_form: float
    computed: float
    scale: float

    @property
    def percent(self) -> float:
        """Difference in percent of the scale."""
        return 100 * (self.computed - self.closed_form) / self.scale


def line(outer: float, wall: float, k_wall: float, **more: Any) -> dict[str, Any]:
    """A case with metres and W/m/K given as numbers, 0 degC outside with 10 W/m2/K."""
    material = {"conductivity": f"{k_wall} W/m/K", "density": "1000 kg/m3", "specific_heat": "1000 J/kg/K"}
    case: dict[str, Any] = {
        "title": "closed form",
        "pipe": {"outer_diameter": f"{outer * 1e3} mm", "wall": f"{wall * 1e3} mm", "material": material},
        "contents": {"state": "empty", "film_coefficient": "0 W/m2/K", "gas": GAS},
        "insulation": {"fit": "snug", "layer": [{"thickness": "50 mm", "conductivity": "0.04 W/m/K"}]},
        "outside": {"coefficient": "10 W/m2/K"},
        "condition": [{"name": "only", "ambient": "0 degC"}],
    }
    return copy.deepcopy(case | more)


def _flowing(temperature: float, film: float) -> dict[str, Any]:
    return {
        "state": "flowing",
        "fluid": LIQUID,
        "temperature": f"{temperature} degC",
        "film_coefficient": f"{film} W/m2/K",
    }


def multilayer(refine: float = 1.0) -> Iterator[Row]:
    """Flowing contents at 60 degC, wall and two layers, both films."""
    layers = [
        {"thickness": "30 mm", "conductivity": "0.05 W/m/K"},
        {"thickness": "30 mm", "conductivity": "0.035 W/m/K"},
    ]
    case = parse_case(
        line(
            0.1143,
            0.00602,
            50,
            contents=_flowing(60, 200),
            insulation={"fit": "snug", "layer": layers},
        )
    )
    result = solve_section(case, refine=refine)
    radii = [0.05113, 0.05715, 0.08715, 0.11715]
    loss, at = multilayer_cylinder(radii, [50, 0.05, 0.035], 200, 10, 60, 0)
    yield Row("multilayer cylinder", "heat loss, W/m", loss, result["heat_out"], loss)
    yield Row("multilayer cylinder", "pipe outside, degC", at[1], result["wall"]["min"] - ZERO, 60)
    yield Row("multilayer cylinder", "barrier, degC", at[3], result["barrier"]["mean"] - ZERO, 60)


def heated_arc(refine: float = 1.0) -> Iterator[Row]:
    """DN 100 wall, 50 mm of 0.04, 20 W/m over an arc of 10 mm; every bore, and a conducting barrier."""
    still = {"state": "still", "fluid": LIQUID, "gas": GAS}
    mixed = {"state": "mixed", "fluid": LIQUID, "film_coefficient": "100 W/m2/K"}
    sheet = {"barrier": {"thickness": "1 mm", "conductivity": "160 W/m/K", "emissivity": 0.3}}
    variants: list[tuple[str, float, dict[str, Any], dict[str, Any]]] = [
        ("empty, k 50", 50, {}, {}),
        ("empty, k 15", 15, {}, {}),
        ("mixed, k 15", 15, {"contents": mixed}, {"inside": "mixed", "film_inside": 100}),
        ("still, k 15", 15, {"contents": still}, {"inside": "still", "k_contents": 0.6}),
        ("empty, k 15, barrier", 15, sheet, {"sheet": 0.16}),
    ]
    for name, k, more, inside in variants:
        result = solve_section(
            parse_case(line(0.1143, 0.00602, k, **more)), refine=refine, heated_arc=(6, 0.010, 20)
        )
        exact = TwoLayerAnnulus(0.05113, 0.05715, 0.10715, k, 0.04, 10, 20, 0.010, **inside)
        top, far = exact.outside_of_pipe([0, math.pi])
        span = top
        yield Row(f"heated arc, {name}", "wall max, K", top, result["wall"]["max"] - ZERO, span)
        yield Row(f"heated arc, {name}", "wall min, K", far, result["wall"]["min"] - ZERO, span)
        near, off = exact.surface([0, math.pi])
        yield Row(f"heated arc, {name}", "barrier max, K", near, result["barrier"]["max"] - ZERO, span)
        yield Row(f"heated arc, {name}", "barrier min, K", off, result["barrier"]["min"] - ZERO, span)
        if exact.inside == "still":
            hot, cold = exact.bore([0, math.pi])
            yield Row(f"heated arc, {name}", "contents max, K", hot, result["contents"]["max"] - ZERO, span)
            yield Row(f"heated arc, {name}", "contents min, K", cold, result["contents"]["min"] - ZERO, span)


def eccentric(refine: float = 1.0) -> Iterator[Row]:
    """A shell hanging on a pipe, void and layer of one conductivity: two eccentric isothermal cylinders."""
    layers = [{"thickness": "10 mm", "conductivity": "0.5 W/m/K"}]
    insulation = {
        "fit": "oversize",
        "bore": "40 mm",
        "void": {"conductivity": "0.5 W/m/K"},
        "layer": layers,
    }
    outside = {"coefficient": f"{PERFECT} W/m2/K"}
    case = line(0.020, 0.002, 400, contents=_flowing(50, 9e4), insulation=insulation, outside=outside)
    result = solve_section(parse_case(case), refine=refine)
    # the pipe's surface is not quite isothermal: its mean stands for it
    drop = result["wall"]["mean"] - ZERO
    factor = result["heat_out"] / (0.5 * drop)
    exact = eccentric_shape_factor(0.060, 0.020, 0.010)
    yield Row("eccentric cylinders", "shape factor", exact, factor, exact)


def fin(refine: float = 1.0) -> Iterator[Row]:
    """A thin bare wall, heat over a short arc; the fin's formula leaves out the field through the wall."""
    radius, thickness, k, u = 0.05414, 0.001, 15.0, 0.6
    outer = radius + thickness / 2
    case = line(2 * outer, thickness, k, insulation={"fit": "snug", "layer": []})
    case["outside"] = {"coefficient": f"{u * radius / outer} W/m2/K"}
    result = solve_section(parse_case(case), refine=refine, heated_arc=(3, 0.0005, 20))
    low, mean, high = thin_wall_fin(radius, thickness, k, u, 20)
    yield Row("thin wall as a fin", "wall min, K", low, result["wall"]["min"] - ZERO, high)
    yield Row("thin wall as a fin", "wall mean, K", mean, result["wall"]["mean"] - ZERO, high)


def contact(refine: float = 1.0) -> Iterator[Row]:
    """A flat tracer whose heat leaves through its base into a pipe held at 50 degC, all but nothing around it.

    Base: q'/(h_c w) above the pipe; through the body, heat g a volume, adiabatic outside:
    g/(2 k) (R^2 ln(R/r) - (R^2 - r^2)/2) (Poisson's equation in a ring, written out anew here).
    """
    tracer = {
        "name": "T1",
        "clock": 6.0,
        "shape": "flat",
        "width": "12 mm",
        "height": "5 mm",
        "output": "20 W/m",
    }
    case = line(0.0603, 0.00391, 400, contents=_flowing(50, 9e4), tracer=[tracer])
    case["insulation"] |= {"fit": "oversize", "bore": "80 mm", "void": {"conductivity": "0.03 W/m/K"}}
    result = solve_section(parse_case(case), refine=refine, void_conductivity=1e-9)
    inner, outer, width = 0.03015, 0.03515, 0.012
    volume_heat = 20 / (width / (2 * inner) * (outer**2 - inner**2))
    through = volume_heat / (2 * 0.3) * (outer**2 * math.log(outer / inner) - (outer**2 - inner**2) / 2)
    rise = result["tracers"]["T1"]["sheath_max"] - result["tracers"]["T1"]["wall"]
    exact = 20 / (400 * width) + through
    yield Row("flat tracer on its contact", "sheath over wall, K", exact, rise, exact)


CHECKS = (multilayer, heated_arc, eccentric, fin, contact)


def rows(refine: float = 1.0) -> list[Row]:
    """Every comparison."""
    return [row for check in CHECKS for row in check(refine)]


def main() -> None:
    """Print the table."""
    logging.getLogger("skfem").setLevel(logging.ERROR)
    print(f"{'check':32s} {'quantity':22s} {'closed form':>12s} {'computed':>12s} {'diff %':>10s}")
    for row in rows():
        names, values = f"{row.check:32s} {row.quantity:22s}", f"{row.closed_form:12.5f} {row.computed:12.5f}"
        print(f"{names} {values} {row.percent:10.5f}")


if __name__ == "__main__":
    main()
