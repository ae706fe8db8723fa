"""A solved section as the page draws it: points, triangles and temperatures as bytes, all else as plain numbers."""

from base64 import b64encode
from typing import Any

import numpy as np

from sim.case.clock_face import angle_to_clock
from sim.report.scene import scene
from sim.report.stage import Array, Scene
from sim.report.words import NONE, clock, number, with_band
from sim.section.triangles import triangulation
from sim.solve.at_rest import SectionResult
from sim.solve.convergence import Banded
from sim.solve.paths import places, quantity
from sim.solve.quantities import quantities
from sim.solve.steady import Solution

NO_BAND = float("inf")


def one_mesh(solution: Solution) -> SectionResult:
    """A solution on a single mesh as a result whose bands are not known."""
    network = solution.network
    bands = {
        path: Banded(value, NO_BAND, (value, value, value), float("nan"), value, False)
        for path, value in quantities(solution).items()
    }
    mesh = network.mesh
    return SectionResult(network.case, solution, bands, (mesh.cells,), (mesh.fineness,))


def numbers(result: SectionResult) -> list[dict[str, Any]]:
    """What stands beside the field: {"path", "words", "text", "unit", "at", "value", "band"}; no band on one mesh."""
    have = result.quantities
    part = "liquid" if "liquid.min" in have else "contents"
    wanted = [f"{part}.min", "wall.min"]
    wanted += [f"tracers.{t.name}.sheath_max" for t in result.case.tracers]
    wanted += [f"sensors.{s.name}.reading" for s in result.case.sensors]
    wanted += ["barrier.max", "heat_out", *(f"tracers.{t.name}.output" for t in result.case.tracers)]
    rows = []
    for path in wanted:
        row, one = quantity(path), have[path]
        value = row.measure.shown(one.value)
        at = [clock(have[p.path].value) for p in places(path, have)]
        finite = bool(np.isfinite(value))
        rows.append(
            {
                "path": path,
                "words": row.words,
                "text": with_band(value, one.band) if np.isfinite(one.band) else number(value),
                "unit": row.measure.unit,
                "at": ", ".join(text for text in at if text != NONE),
                "value": value if finite else None,
                "band": one.band if finite and np.isfinite(one.band) else None,
            }
        )
    return rows


def picture(result: SectionResult) -> dict[str, Any]:
    """Everything the page draws of one condition; lengths in mm, temperatures in degC, clock positions in hours."""
    shown = scene(result)
    outline = shown.outline
    hollow = 0.0 if shown.bore_known else outline.inner_radius
    return {
        "condition": shown.name,
        "weather": shown.weather,
        "cells": list(result.cells),
        "field": field(shown.point, hollow) | {"value": packed(shown.value), **_ranges(shown)},
        "curves": [packed(1e3 * line) for line in shown.curves],
        "outline": sizes(outline),
        "bore_known": shown.bore_known,
        "marks": [{"kind": m.kind, "label": m.label, "x": 1e3 * m.x, "y": 1e3 * m.y} for m in shown.marks],
        "wet": [
            [float(start), float(stop), 1e3 * inner, 1e3 * outer] for start, stop, inner, outer in shown.wet
        ],
        "wind_from": shown.wind_from,
        "around": {
            "wall": _around(shown.wall, shown.wall_band),
            "cover": _around(shown.cover, shown.cover_band),
            "limits": [
                {"words": words, "curve": which, "value": value} for words, which, value in shown.limits
            ],
        },
    }


def sizes(outline: Any) -> dict[str, float]:
    names = ("inner_radius", "outer_radius", "tracer_reach", "cover_radius", "drop")
    return {name: 1e3 * float(getattr(outline, name)) for name in names}


def field(point: Array, hollow: float = 0.0) -> dict[str, Any]:
    """Points (n, 2) m and the triangles between them, none across a bore that has no temperature."""
    corner = triangulation(point)[0]
    if hollow > 0:
        corner = corner[np.hypot(*point[corner].mean(axis=1).T) >= hollow]
    return {"point": packed(1e3 * point), "corner": packed(corner, "<u4")}


def stills(point: Array, values: list[Array]) -> dict[str, Any]:
    """Several fields on the same points, with their common range."""
    every = np.concatenate(values)
    return field(point) | {
        "values": [packed(v) for v in values],
        "range": [float(every.min()), float(every.max())],
    }


def packed(values: Any, kind: str = "<f4") -> str:
    """Numbers as base64 of little-endian bytes."""
    return b64encode(np.ascontiguousarray(values, dtype=kind).tobytes()).decode("ascii")


def _ranges(shown: Scene) -> dict[str, list[float]]:
    """Least and most of the whole, and of wall and contents alone."""
    inner = shown.value[shown.inner]
    inner = inner if len(inner) else shown.wall[1]
    return {
        "range": [float(shown.value.min()), float(shown.value.max())],
        "inner": [float(inner.min()), float(inner.max())],
    }


def _around(curve: tuple[Array, Array], band: float) -> dict[str, Any]:
    hours = angle_to_clock(curve[0])
    order = np.argsort(hours)
    return {
        "hour": np.round(hours[order], 4).tolist(),
        "value": np.round(curve[1][order], 4).tolist(),
        "band": band if np.isfinite(band) else None,
    }
