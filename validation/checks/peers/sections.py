"""Shipped cases and invented sections by independent body-fitted finite elements (scikit-fem on gmsh).

The finite elements share the case, the films and the property tables with the field, nothing else: other mesh,
other discretisation, other solver, written from the model's definition alone.
"""

from typing import Any

from sim.case import Case, case_for, load_case, parse_case
from sim.case.shipped import shipped
from sim.solve.convergence import Banded
from sim.solve.section import solve_section
from validation.peers.elements.field import CUSP_GAP, by_elements
from validation.published.rows import Row
from validation.sketches.invented import SECTIONS

SHIPPED = (("stainless-thin.toml", "cold-night"), ("half-filled-drain.toml", "frost"))
SOURCE = "curved quadratic elements by scikit-fem (@scikitfem2020) on a mesh by gmsh (@gmsh2009)"
PATHS = ("wall.min", "wall.mean", "wall.max", "contents.min", "contents.max", "barrier.min", "barrier.max")
REFERENCE_ERROR = 0.0003  # of the span: what refining the finite elements once more still moves
SHARE = {"wall and contents": 0.005, "sheath": 0.015, "heat_out": 0.002}  # of the span, or of the loss
Compared = dict[str, tuple[float, Banded]]


def _both(case: Case) -> tuple[Compared, float]:
    """Finite elements' number and ours by path, SI; and the span, K: hottest less ambient."""
    reference, result = by_elements(case, 1.0, CUSP_GAP), solve_section(case)
    exact: dict[str, Any] = {"heat_out": reference["heat_out"]}
    for path in PATHS:
        group, which = path.split(".")
        # where the bore is partly filled, the finite elements' contents are the liquid alone
        ours = "liquid" if group == "contents" and 0.0 < case.contents.fill < 1.0 else group
        exact[f"{ours}.{which}"] = (reference.get(group) or {}).get(which)
    for tracer in case.tracers:
        exact[f"tracers.{tracer.name}.sheath_max"] = reference["tracers"][tracer.name]["sheath_max"]
    hottest = max(v for path, v in exact.items() if path == "wall.max" or path.startswith("tracers."))
    numbers = {
        path: (float(value), result.quantities[path])
        for path, value in exact.items()
        if value is not None and path in result.quantities
    }
    return numbers, hottest - case.conditions[0].ambient


def _kind(path: str) -> str:
    return "sheath" if path.startswith("tracers.") else path if path == "heat_out" else "wall and contents"


def shipped_cases() -> list[Row]:
    """Two shipped cases by finite elements: extremes of wall, contents and sheath, and the loss."""
    rows = []
    for file, condition in SHIPPED:
        numbers, span = _both(case_for(load_case(shipped()[file]), condition))
        for path, (exact, ours) in numbers.items():
            heat, share = path == "heat_out", SHARE[_kind(path)]
            shift, scale = (0.0, exact) if heat else (273.15, span)
            name, reason = f"{file}, {condition}", f"{100 * share:g} % of the {'loss' if heat else 'span'}"
            unit, pair = "W/m" if heat else "degC", (exact - shift, ours.value - shift)
            rows.append(Row(name, SOURCE, path, *pair, share * scale, reason, unit, ours.band))
    return rows


def invented_sections() -> list[Row]:
    """Invented sections by finite elements.

    The worst difference of each kind in each section, and over all sections the share inside its band.
    """
    rows: list[Row] = []
    inside: list[bool] = []
    for name, section in SECTIONS.items():
        case = parse_case(section)
        numbers, span = _both(case_for(case, case.conditions[0].name))
        worst: dict[str, tuple[float, float]] = {}
        for path, (exact, ours) in numbers.items():
            scale = exact if path == "heat_out" else span
            apart, band = abs(ours.value - exact) / scale, ours.band / scale
            worst[_kind(path)] = max(worst.get(_kind(path), (0.0, 0.0)), (apart, band))
            if path != "heat_out":
                inside.append(apart <= band + REFERENCE_ERROR)
        for kind, (apart, band) in worst.items():
            unit, share = "% of loss" if kind == "heat_out" else "% of span", 100 * SHARE[kind]
            quantity, reason = f"{kind}, largest difference", f"{share:g} {unit}"
            pair = (0.0, 100 * apart, share)
            rows.append(Row(f"section {name}", SOURCE, quantity, *pair, reason, unit, 100 * band))
    accepted = "at least 9 of 10, the reference's own error of 0.03 % of the span allowed for"
    part = sum(inside) / len(inside)
    rows.append(
        Row("all sections", SOURCE, "quantities inside their band", 1.0, part, 0.1, accepted, "share")
    )
    return rows


GROUPS = (shipped_cases, invented_sections)
