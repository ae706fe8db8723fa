"""The checks on the terminal: one table, failures first."""

import sys
from typing import IO

from rich.console import Group as Stacked
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from sim.report.method import CAUTIONS
from sim.report.terminal import console_for, plain_table, tell
from validation.published import words
from validation.published.rows import Row
from validation.published.run import Group, Outcome

COLOURS = {"pass": "green", "FAIL": "bold red", "not run": "yellow"}
ORDER = ("FAIL", "not run", "pass")
WIDE = 90
"""From this width on the table has all its columns."""
MOST = 3
"""Rows of a check that are all shown; of more, those that failed and the one nearest to its tolerance."""


def show(outcome: Outcome, stream: IO[str] | None = None) -> None:
    """Print a run of the checks. Raises BrokenPipeError if the reader has gone."""
    stream = stream or sys.stdout
    verdict = next(v for v in ORDER if outcome.of(v) or v == "pass")
    total = Text(words.summary(outcome), style=COLOURS[verdict])
    table = _table(outcome, wide=console_for(stream).width >= WIDE)
    failed = [
        Text(f"FAIL  {group.name}: {group.title}", style=COLOURS["FAIL"]) for group in outcome.of("FAIL")
    ]
    head = (total, "", table, "", words.READ, words.scope(outcome))
    tell(stream, *head, "", *CAUTIONS, "", *failed, total)


def _table(outcome: Outcome, *, wide: bool) -> Table:
    table = plain_table()
    table.add_column("check, source; quantity, why the tolerance", overflow="fold", ratio=1)
    for head in ("published", "computed", "difference", *(("band",) if wide else ()), "tolerance"):
        table.add_column(head if wide else _short(head), justify="right", no_wrap=True)
    table.add_column("")
    if wide:
        table.add_column("time", justify="right", no_wrap=True)
    for verdict in ORDER:
        for group in outcome.of(verdict):
            _add(table, group, wide=wide)
    return table


def _short(head: str) -> str:
    return {"published": "publ.", "computed": "comp.", "difference": "diff.", "tolerance": "tol."}[head]


def _add(table: Table, group: Group, *, wide: bool) -> None:
    took = words.seconds(group.seconds)
    title = Text.assemble((group.title, "bold"), *([] if wide else [f" ({took})"]))
    below = [Text(source, style="dim") for source in words.sources(group)]
    if trouble := words.trouble(group):
        below.append(Text(f"{group.name}: {trouble}", style=COLOURS[group.verdict]))
    blank = [""] * (5 if wide else 4)
    verdict = Text(group.verdict, style=COLOURS[group.verdict])
    table.add_row(_stacked(title, *below), *blank, verdict, *([took] if wide else []))
    shown = shown_rows(group)
    reason = ""
    for row in shown:
        note = [Text(row.reason, style="dim")] if row.reason != reason else []
        reason = row.reason
        numbers = [words.value(row.published), words.value(row.computed), words.difference(row)]
        numbers += [words.band(row)] if wide else []
        style = "" if row.passed else COLOURS["FAIL"]
        cells = [Text(n, style=style) for n in (*numbers, words.tolerance(row))]
        verdict = Text("pass" if row.passed else "FAIL", style=style or COLOURS["pass"])
        what = Padding(_stacked(Text(words.label(group, row) + words.unit(row)), *note), (0, 0, 0, 2))
        table.add_row(what, *cells, verdict, *([""] if wide else []))
    if len(shown) < len(group.rows):
        left = len(group.rows) - len(shown)
        table.add_row(
            Padding(Text(f"and {left} more, all nearer to the published numbers", style="dim"), (0, 0, 0, 2))
        )
    table.add_row()


def _stacked(first: Text, *below: Text) -> Stacked:
    """A line with others beneath it, indented."""
    return Stacked(first, *(Padding(text, (0, 0, 0, 2)) for text in below))


def shown_rows(group: Group) -> list[Row]:
    """Rows of a check for the terminal: all of a few; of many, the failed and the nearest to its tolerance."""
    if len(group.rows) <= MOST:
        return list(group.rows)
    failed = group.failed
    rest = sorted((row for row in group.rows if row.passed), key=lambda row: -row.used)
    return failed + rest[:1]
