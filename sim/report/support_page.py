"""Supports on the report's page and on the terminal."""

from collections.abc import Mapping
from math import ceil, isfinite, isinf, isnan
from typing import Any

from sim.judge.check import Answer
from sim.judge.support import SupportAnswer
from sim.report.words import NONE, clock, number
from sim.report.worst import limit_cells
from sim.solve.convergence import Banded
from sim.solve.measures import LIMITS
from sim.solve.paths import of_support

SINGLE = ("heat_sink", "chi", "equivalent_tracer_length", "equivalent_line_length")
ALLOWANCES = ("allowance_enough", "allowance_for_wall_min", "allowance_for_contents_min")
BOTH = (
    *("wall_min", "wall_max", "contents_min", "dip", "fall_max", "fall_mean", "reach"),
    *("sheath_max", "barrier_max", "leg_heat"),
)
IN_TERMINAL = (("chi", 3), ("heat_sink", 2), ("dip", 2), ("with_allowance.dip", 2), ("allowance_enough", 2))


def picture_name(support: SupportAnswer, names: Mapping[str, str], position: int) -> str:
    """File name part of a support or fitting in a condition; position: among both, from 1."""
    return f"{support.kind}_{position}_{names[support.condition]}"


def _text(path: str, banded: Banded | None, decimals: int | None = None) -> str:
    row = of_support(path)
    digits = row.decimals if decimals is None else decimals
    if banded is None or isnan(banded.value):
        return NONE
    if isinf(banded.value):
        return "not reachable"
    value = number(row.measure.shown(banded.value), digits)
    if not isfinite(banded.band):
        return f"{value} (no band)"
    return f"{value} ± {number(max(ceil(banded.band * 10**digits - 1e-9), 1) / 10**digits, digits)}"


def _metres(text: str, reason: str | None) -> str:
    """A length with its unit, or why it cannot be reached."""
    if reason is not None:
        return f"{text}: {reason}"
    return text if text == NONE else f"{text} m"


def support_section(support: SupportAnswer) -> dict[str, Any]:
    """What the page shows of one support in one condition."""
    values = support.result.quantities if support.result is not None else {}

    def row(*paths: str) -> tuple[str, ...]:
        first = of_support(paths[0])
        return (first.words, first.measure.unit, *(_text(path, values.get(path)) for path in paths))

    unreachable = support.result.unreachable if support.result is not None else {}
    place = NONE
    if values:
        z = values["wall_min_z"].value
        place = f"{clock(values['wall_min_clock'].value)}, z = {1e3 * z:.0f} mm"
    return {
        "name": support.name,
        "family": support.support.family.replace("_", " "),
        "condition": support.condition,
        "verdict": support.verdict,
        "failure": support.trouble,
        "place": place,
        "single": [row(path) for path in SINGLE],
        "both": [row(path, f"with_allowance.{path}") for path in BOTH] if values else [],
        "allowance": [
            ("design's allowance", f"{support.support.allowance:.3g} m"),
            (
                "common practice, no source: twice the length plus 0.4 m where metal passes, none where insulated",
                NONE if support.rule is None else f"{support.rule:.3g} m",
            ),
            *(
                (
                    f"{of_support(path).words}, from the field",
                    _metres(_text(path, values[path]), unreachable.get(path)),
                )
                for path in ALLOWANCES
                if path in values
            ),
            ("design's allowance against what restores the wall", support.allowance_verdict),
        ],
        "limits": [
            (
                LIMITS[check.limit].words(),
                *limit_cells(check),
                check.note if check in support.limits else f"{check.note}: shown, not judged",
            )
            for check in (*support.limits, *support.without)
        ],
        "meshes": [f"{n:,}" for n in support.result.unknowns] if support.result is not None else [],
        "notes": support.result.notes if support.result is not None else (),
    }


def terminal_rows(answer: Answer) -> list[tuple[str, ...]]:
    """One row a support and condition: name, condition, chi, heat sink, dip, left of it, allowance enough, verdict."""
    rows = []
    for support in answer.supports:
        values = support.result.quantities if support.result is not None else {}
        cells = [_text(path, values.get(path), decimals) for path, decimals in IN_TERMINAL]
        rows.append((support.name, support.condition, *cells, support.verdict))
    return rows
