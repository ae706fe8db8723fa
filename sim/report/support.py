"""Supports in results.json and in the report's page."""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil, isfinite
from typing import Any

from sim.judge.check import Answer
from sim.judge.support import SupportAnswer
from sim.report.words import LIMIT_WORDS, NONE, ZERO, clock, number, signed, with_band
from sim.solve.convergence import Banded

TEMPERATURES = ("wall_min", "contents_min", "sheath_max")
ONE_LINE = {
    "heat_sink": ("heat sink dQ, contents at the maintain temperature", "W", 2),
    "chi": ("point thermal transmittance chi", "W/K", 4),
    "equivalent_tracer_length": ("equivalent tracer length", "m", 3),
    "equivalent_line_length": ("equivalent line length", "m", 3),
    "allowance_enough": ("allowance that would be just enough", "m", 3),
}
BOTH = {
    "wall_min": ("coldest wall", "degC", 2),
    "contents_min": ("coldest contents", "degC", 2),
    "dip": ("dip: section's coldest wall less that at the support", "K", 2),
    "fall_max": ("largest fall of the wall at one place", "K", 2),
    "fall_mean": ("fall of the wall's mean at z = 0", "K", 2),
    "reach": ("reach of the dip to a tenth", "m", 2),
    "sheath_max": ("hottest sheath in the stretch", "degC", 1),
    "leg_heat": ("heat through the leg", "W", 2),
}


def _finite(value: float) -> float | None:
    return float(value) if isfinite(value) else None


def _shift(path: str) -> float:
    return ZERO if path.rsplit(".", 1)[-1] in TEMPERATURES else 0.0


def _numbers(found: Mapping[str, Banded]) -> dict[str, Any]:
    tree: dict[str, Any] = {path: _finite(q.value - _shift(path)) for path, q in found.items()}
    tree["band"] = {path: _finite(q.band) for path, q in found.items() if path != "closure"}
    return tree


def support_results(answer: Answer) -> dict[str, Any]:
    """`supports` of results.json: name -> conditions -> numbers, bands and the same with the allowance.

    Temperatures in degC, heat in W, lengths and z in m. Without an allowance `with_allowance` repeats the numbers.
    """
    tree: dict[str, Any] = {}
    for said in answer.supports:
        entry: dict[str, Any] = {"verdict": said.verdict, "failure": said.failure or None}
        if said.result is not None:
            found = said.result.quantities
            alone = {p: q for p, q in found.items() if not p.startswith("with_allowance.")}
            entry |= _numbers(alone)
            installed = {p.partition(".")[2]: q for p, q in found.items() if p.startswith("with_allowance.")}
            entry["with_allowance"] = _numbers(
                installed or {p: q for p, q in alone.items() if p != "allowance_enough"}
            )
            entry["unknowns"] = list(said.result.unknowns)
            entry["maintain"] = _finite(said.result.line.maintain - ZERO)
            entry["notes"] = list(said.result.notes)
            entry["mesh_table"] = [
                {
                    "quantity": path,
                    "values": [_finite(v - _shift(path)) for v in q.values],
                    "order": _finite(q.order),
                    "band": _finite(q.band),
                    "asymptotic": q.asymptotic,
                }
                for path, q in found.items()
            ]
        entry["allowance"] = {
            "installed": said.support.allowance,
            "common_practice": said.rule,
            "verdict": said.allowance_verdict,
        }
        entry["limits"] = [
            {
                "limit": held.limit,
                "value": _finite(held.value - ZERO),
                "band": _finite(held.band),
                "allowed": _finite(held.allowed - ZERO),
                "margin": _finite(held.margin),
                "verdict": held.verdict,
                "note": held.note,
            }
            for held in said.limits
        ]
        tree.setdefault(said.name, {"family": said.support.family, "conditions": {}})
        tree[said.name]["conditions"][said.condition] = entry
    return tree


def picture_name(said: SupportAnswer, names: Mapping[str, str], position: int) -> str:
    """File name part of a support in a condition."""
    return f"support_{position}_{names[said.condition]}"


def _text(path: str, found: Banded | None, digits: int) -> str:
    if found is None or not isfinite(found.value):
        return NONE
    value = number(found.value - _shift(path), digits)
    if not isfinite(found.band):
        return f"{value} (no band)"
    return f"{value} ± {number(max(ceil(found.band * 10**digits - 1e-9), 1) / 10**digits, digits)}"


def support_section(said: SupportAnswer) -> dict[str, Any]:
    """What the page shows of one support in one condition."""
    found = said.result.quantities if said.result is not None else {}
    single = [
        (words, unit, _text(path, found.get(path), digits))
        for path, (words, unit, digits) in ONE_LINE.items()
    ]
    both = [
        (
            words,
            unit,
            _text(path, found.get(path), digits),
            _text(path, found.get(f"with_allowance.{path}"), digits),
        )
        for path, (words, unit, digits) in BOTH.items()
    ]
    place = NONE
    if found:
        z = found["wall_min_z"].value
        place = f"{clock(found['wall_min_clock'].value)}, z = {1e3 * z:.0f} mm"
    return {
        "name": said.name,
        "family": said.support.family,
        "condition": said.condition,
        "verdict": said.verdict,
        "failure": said.failure,
        "place": place,
        "single": single,
        "both": both if found else [],
        "allowance": [
            ("design's allowance", f"{said.support.allowance:.3g} m"),
            (
                "common practice, no source: twice the length plus 0.4 m where metal passes, none where insulated",
                NONE if said.rule is None else f"{said.rule:.3g} m",
            ),
            ("just enough, from the field", single[-1][2] + (" m" if single[-1][2] != NONE else "")),
            ("design's allowance against it", said.allowance_verdict),
        ],
        "limits": [
            (
                LIMIT_WORDS[held.limit],
                number(held.allowed - ZERO, 1),
                with_band(held.value - ZERO, held.band),
                signed(held.margin, 2),
                held.verdict,
                held.note,
            )
            for held in said.limits
        ],
        "meshes": [f"{n:,}" for n in said.result.unknowns] if said.result is not None else [],
        "notes": said.result.notes if said.result is not None else (),
    }


def terminal_rows(answer: Answer) -> list[tuple[str, ...]]:
    """One row a support and condition: name, condition, chi, heat sink, dip, left of it, allowance enough, verdict."""
    rows = []
    for said in answer.supports:
        found = said.result.quantities if said.result is not None else {}
        cells = [
            _text(path, found.get(path), digits)
            for path, digits in (
                ("chi", 3),
                ("heat_sink", 2),
                ("dip", 2),
                ("with_allowance.dip", 2),
                ("allowance_enough", 2),
            )
        ]
        rows.append((said.name, said.condition, *cells, said.verdict))
    return rows
