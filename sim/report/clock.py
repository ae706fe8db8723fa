"""A clock study as text: the terminal's table, CSV, and results.json."""

import sys
from pathlib import Path
from typing import Any

from rich.text import Text

from sim.report.clock_words import remarks
from sim.report.method import CAUTIONS
from sim.report.results import as_json
from sim.report.terminal import console_for, plain_table, put
from sim.report.tree import NO_CERTIFICATE, finite, head, limit_row, shown_value
from sim.report.words import celsius
from sim.solve.at_rest import ESTIMATES
from sim.solve.paths import quantity
from sim.study.cells import csv_text
from sim.study.positions import ClockRow, ClockStudy, Placed


def show_clock(study: ClockStudy) -> None:
    """Print the study: one row a position and state, temperatures in degC with their bands in K."""
    console = console_for(sys.stdout)
    table = plain_table(gap=2)
    table.add_column("tracer\nat", justify="right")
    table.add_column("contents")
    for path in study.paths:
        table.add_column(f"{quantity(path).words}\ndegC", justify="right", overflow="fold")
    table.add_column("limits, all\nconditions", overflow="fold")
    for at in study.placed:
        place, verdict = f"{at.clock or 12:g}", verdict_words(at)
        if not at.rows:
            table.add_row(place, "", *("" for _ in study.paths), verdict)
        for row in at.rows:
            table.add_row(place, _state(row), *(_cell(row, path) for path in study.paths), verdict)
            place = verdict = ""
    with console.capture() as capture:
        console.print(Text(f"{study.case.title}; {study.condition}", style="bold"), soft_wrap=True)
        console.print(table)
        for line in (*remarks(study), *CAUTIONS):
            console.print(Text(line), soft_wrap=not console.is_terminal)
    put(capture.get(), sys.stdout)


def verdict_words(at: Placed) -> str:
    """The verdict of a position, or why there is none."""
    if at.fault is not None:
        return "not computed"
    return "not possible" if at.impossible else str(at.verdict)


def _state(row: ClockRow) -> str:
    if row.bracketed:
        return f"{row.state} (bracket)"
    return f"{row.state} (estimate)" if row.basis in ESTIMATES else row.state


def _cell(row: ClockRow, path: str) -> str:
    value = row.quantities.get(path)
    return "did not converge" if value is None else celsius(value)


def clock_csv(study: ClockStudy) -> str:
    """All rows: position, state, then value and band of each watched quantity (degC, K)."""
    measures = {p: quantity(p).measure for p in study.paths}
    heads = [h for p, m in measures.items() for h in (f"{p} {m.unit}", f"{p} band {m.difference}")]
    rows = [["clock", "state", "bracket", *heads, "rayleigh", "prandtl", "limits"]]
    for at in study.placed:
        if not at.rows:
            rows.append([f"{at.clock:g}", *[""] * (2 * len(study.paths) + 4), verdict_words(at)])
        for row in at.rows:
            numbers: list[float | None] = []
            for path in study.paths:
                value = row.quantities.get(path)
                numbers += [None, None] if value is None else [measures[path].shown(value.value), value.band]
            for path in ("contents.rayleigh", "contents.prandtl"):
                numbers.append(row.quantities[path].value if path in row.quantities else None)
            cells = ["" if finite(x) is None else f"{x:.7g}" for x in numbers]
            bracket = "yes" if row.bracketed else "no"
            rows.append([f"{at.clock:g}", row.state, bracket, *cells, verdict_words(at)])
    return csv_text(rows)


def clock_results(study: ClockStudy) -> dict[str, Any]:
    """The study as plain nested dicts, temperatures in degC."""
    rows = []
    for row in study.rows:
        values = {p: shown_value(quantity(p), b.value) for p, b in row.quantities.items()}
        bands = {p: finite(b.band) for p, b in row.quantities.items()}
        rows.append(
            {
                "clock": row.clock,
                "state": row.state,
                "bracketed": row.bracketed,
                "basis": row.basis or None,
                "failure": row.failure or None,
                "values": values,
                "band": bands,
                "notes": list(row.notes),
            }
        )
    return head(study.case.title, study="clock") | {
        "condition": study.condition,
        "moved": study.tracer or [t.name for t in study.case.tracers],
        "positions": [_position(at) for at in study.placed],
        "rows": rows,
        "remarks": remarks(study),
        "caution": NO_CERTIFICATE,
    }


def _position(at: Placed) -> dict[str, Any]:
    """One position in results.json: its verdict, why it is not possible, and every limit that was held there."""
    checks = [{"condition": h.condition, "support": h.place or None, **limit_row(h.check)} for h in at.checks]
    return {
        "clock": at.clock,
        "verdict": verdict_words(at),
        "not_possible": at.impossible or None,
        "limits": checks,
    }


def write_clock(study: ClockStudy, folder: Path) -> None:
    """Write table, results and pictures into an empty folder. Raises OSError if one cannot be written."""
    from sim.report.draw_clock import draw_clock, draw_fields

    (folder / "clock.csv").write_text(clock_csv(study), encoding="utf-8", newline="\n")
    draw_clock(study, folder / "clock.png")
    if study.fields:
        draw_fields(study, folder / "clock_fields.png")
    tree = clock_results(study)
    tree["files"] = sorted([*(entry.name for entry in folder.iterdir()), "results.json"])
    (folder / "results.json").write_text(as_json(tree), encoding="utf-8", newline="\n")
