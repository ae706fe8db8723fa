"""A clock study as text: the terminal's table, CSV, and results.json."""

from __future__ import annotations

import csv
import io
import sys
from pathlib import Path
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.table import Table
from rich.text import Text

from sim import __version__
from sim.report.method import CAUTIONS
from sim.report.results import as_json, finite, shown_value
from sim.report.terminal import console_for, put
from sim.report.words import with_band
from sim.solve.paths import quantity
from sim.study.clock import ClockRow, ClockStudy


def show_clock(study: ClockStudy) -> None:
    """Print the study: one row a position and state, temperatures in degC with their bands in K."""
    console = console_for(sys.stdout)
    table = Table(box=SIMPLE_HEAD, pad_edge=False, show_edge=False, padding=(0, 2, 0, 0))
    table.add_column("tracer at", justify="right")
    table.add_column("contents")
    for path in study.paths:
        table.add_column(f"{quantity(path).words}\ndegC", justify="right", overflow="fold")
    last: float | None = None
    for row in study.rows:
        at = "" if row.clock == last else f"{row.clock % 12 or 12:g} h"
        last = row.clock
        table.add_row(at, _state(row), *(_cell(row, path) for path in study.paths))
    with console.capture() as capture:
        console.print(Text(f"{study.case.title}; {study.condition}", style="bold"), soft_wrap=True)
        console.print(table)
        for line in (*remarks(study), *CAUTIONS):
            console.print(line)
    put(capture.get(), sys.stdout)


def _state(row: ClockRow) -> str:
    return f"{row.state} (bracket)" if row.bracketed else row.state


def _cell(row: ClockRow, path: str) -> str:
    found = row.quantities.get(path)
    return (
        "did not converge"
        if found is None
        else with_band(quantity(path).measure.shown(found.value), found.band)
    )


def remarks(study: ClockStudy) -> list[str]:
    """What must be read with the table: the range of Rayleigh numbers, brackets and failures, the best position."""
    found = []
    moving = [r for r in study.rows if r.state == "buoyant"]
    resolved = [r for r in moving if "contents.rayleigh" in r.quantities]
    if resolved:
        numbers = [r.quantities["contents.rayleigh"].value for r in resolved]
        prandtl = [r.quantities["contents.prandtl"].value for r in resolved]
        found.append(
            f"Rayleigh number {min(numbers):.2g} to {max(numbers):.2g}, Prandtl number {min(prandtl):.3g} to"
            f" {max(prandtl):.3g} in the {len(resolved)} of {len(moving)} buoyant fields that were resolved."
        )
    if not resolved:
        return found + _said(study)
    path = study.paths[0]
    warmest = max(resolved, key=lambda r: r.quantities[path].value)
    coldest = min(resolved, key=lambda r: r.quantities[path].value)
    gain = warmest.quantities[path].value - coldest.quantities[path].value
    unsure = warmest.quantities[path].band + coldest.quantities[path].band
    words = "more than" if gain > unsure else "not more than"
    found.append(
        f"Buoyant: {quantity(path).words} is warmest with the tracer at {warmest.clock % 12 or 12:g} and coldest with"
        f" it at {coldest.clock % 12 or 12:g}; the difference of {gain:.2f} K is {words} the two bands together."
    )
    return found + _said(study)


def _said(study: ClockStudy) -> list[str]:
    """Each note of buoyant fields once, with the positions it belongs to."""
    said: dict[str, list[str]] = {}
    for row in study.rows:
        for note in (*row.notes, *([row.failure] if row.failure else [])):
            if row.bracketed or row.failure or not note.startswith("contents in steady"):
                said.setdefault(note, []).append(f"{row.clock % 12 or 12:g} {row.state}")
    return [f"{', '.join(places)}: {note}" for note, places in said.items()]


def clock_csv(study: ClockStudy) -> str:
    """All rows: position, state, then value and band of each watched quantity (degC, K)."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    measures = {p: quantity(p).measure for p in study.paths}
    heads = [h for p, m in measures.items() for h in (f"{p} {m.unit}", f"{p} band {m.difference}")]
    table.writerow(["clock", "state", "bracket", *heads, "rayleigh", "prandtl"])
    for row in study.rows:
        numbers: list[float | None] = []
        for path in study.paths:
            found = row.quantities.get(path)
            numbers += [None, None] if found is None else [measures[path].shown(found.value), found.band]
        for path in ("contents.rayleigh", "contents.prandtl"):
            numbers.append(row.quantities[path].value if path in row.quantities else None)
        cells = ["" if finite(x) is None else f"{x:.7g}" for x in numbers]
        table.writerow([f"{row.clock:g}", row.state, "yes" if row.bracketed else "no", *cells])
    return out.getvalue()


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
                "failure": row.failure or None,
                "values": values,
                "band": bands,
                "notes": list(row.notes),
            }
        )
    return {
        "program": "coldspot",
        "version": __version__,
        "title": study.case.title,
        "study": "clock",
        "condition": study.condition,
        "moved": study.tracer or [t.name for t in study.case.tracers],
        "rows": rows,
        "remarks": remarks(study),
        "caution": "Evidence for an engineer, not a certificate.",
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
