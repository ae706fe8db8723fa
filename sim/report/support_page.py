"""Supports on the report's page and on the terminal."""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil, isfinite, isinf, isnan
from typing import Any

from sim.judge.check import Answer
from sim.judge.support import SupportAnswer
from sim.report.words import NONE, clock, inputs_text, margin_text, number, with_band
from sim.solve.convergence import Banded
from sim.solve.paths import LIMITS, of_support

SINGLE = ("heat_sink", "chi", "equivalent_tracer_length", "equivalent_line_length")
ALLOWANCES = ("allowance_enough", "allowance_for_wall_min", "allowance_for_contents_min")
BOTH = (
    "wall_min",
    "wall_max",
    "contents_min",
    "dip",
    "fall_max",
    "fall_mean",
    "reach",
    "sheath_max",
    "barrier_max",
    "leg_heat",
)
IN_TERMINAL = (("chi", 3), ("heat_sink", 2), ("dip", 2), ("with_allowance.dip", 2), ("allowance_enough", 2))


def picture_name(said: SupportAnswer, names: Mapping[str, str], position: int) -> str:
    """File name part of a support in a condition."""
    return f"support_{position}_{names[said.condition]}"


def _text(path: str, found: Banded | None, decimals: int | None = None) -> str:
    row = of_support(path)
    digits = row.decimals if decimals is None else decimals
    if found is None or isnan(found.value):
        return NONE
    if isinf(found.value):
        return "not reachable"
    value = number(row.measure.shown(found.value), digits)
    if not isfinite(found.band):
        return f"{value} (no band)"
    return f"{value} ± {number(max(ceil(found.band * 10**digits - 1e-9), 1) / 10**digits, digits)}"


def _metres(text: str, reason: str | None) -> str:
    """A length with its unit, or why it cannot be reached."""
    if reason is not None:
        return f"{text}: {reason}"
    return text if text == NONE else f"{text} m"


def support_section(said: SupportAnswer) -> dict[str, Any]:
    """What the page shows of one support in one condition."""
    found = said.result.quantities if said.result is not None else {}
    single = [
        (of_support(path).words, of_support(path).measure.unit, _text(path, found.get(path)))
        for path in SINGLE
    ]
    both = [
        (
            of_support(path).words,
            of_support(path).measure.unit,
            _text(path, found.get(path)),
            _text(f"with_allowance.{path}", found.get(f"with_allowance.{path}")),
        )
        for path in BOTH
    ]
    unreachable = said.result.unreachable if said.result is not None else {}
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
            *(
                (
                    f"{of_support(path).words}, from the field",
                    _metres(_text(path, found[path]), unreachable.get(path)),
                )
                for path in ALLOWANCES
                if path in found
            ),
            ("design's allowance against what restores the wall", said.allowance_verdict),
        ],
        "limits": [
            (
                LIMITS[held.limit].words(),
                number(LIMITS[held.limit].measure.shown(held.allowed), 1),
                with_band(LIMITS[held.limit].measure.shown(held.value), held.band),
                margin_text(held.left, held.band),
                inputs_text(held.worth),
                held.verdict,
                held.note if held in said.limits else f"{held.note}: shown, not judged",
            )
            for held in (*said.limits, *said.without)
        ],
        "meshes": [f"{n:,}" for n in said.result.unknowns] if said.result is not None else [],
        "notes": said.result.notes if said.result is not None else (),
    }


def terminal_rows(answer: Answer) -> list[tuple[str, ...]]:
    """One row a support and condition: name, condition, chi, heat sink, dip, left of it, allowance enough, verdict."""
    rows = []
    for said in answer.supports:
        found = said.result.quantities if said.result is not None else {}
        cells = [_text(path, found.get(path), decimals) for path, decimals in IN_TERMINAL]
        rows.append((said.name, said.condition, *cells, said.verdict))
    return rows
