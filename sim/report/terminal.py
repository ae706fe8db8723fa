"""The terminal's tables: what a person reads in ten seconds, then what stands behind it."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from typing import IO

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from sim.case.words import ordered
from sim.judge.check import Answer, ConditionAnswer
from sim.report.method import CAUTIONS
from sim.report.summary import beside, condition_row
from sim.report.support import terminal_rows
from sim.report.words import margin_text, number, with_band
from sim.solve.paths import LIMITS

COLOURS = {
    "pass": "green",
    "fail": "bold red",
    "too close to call": "yellow",
    "not converged": "bold red",
    "not evaluated": "yellow",
    "nothing to hold": "default",
    "no limits": "default",
}
WIDE = 100
"""From this width on the ten-second table has all its columns."""

CHANGES = 3
"""Changes of a condition that are named on the terminal."""

PIPED = 120
"""Width where the output is not a terminal."""


def console_for(stream: IO[str]) -> Console:
    """A console that colours only a terminal, and honours NO_COLOR."""
    tty = stream.isatty()
    return Console(
        file=stream,
        width=None if tty else PIPED,
        highlight=False,
        markup=False,
        emoji=False,
        no_color=None if tty else True,
        force_terminal=None if tty else False,
    )


def put(text: str, stream: IO[str]) -> None:
    """Write text in what the stream can encode; words in other letters become question marks there."""
    encoding = getattr(stream, "encoding", None) or "utf-8"
    if not encoding.lower().startswith("utf"):
        text = text.replace("±", "+/-").replace("–", "-")
    text = ordered(text)
    stream.write(text.encode(encoding, "replace").decode(encoding))
    stream.flush()


def show(answer: Answer, stream: IO[str] | None = None) -> None:
    """Print an answer. Raises BrokenPipeError if the reader has gone."""
    console = console_for(stream or sys.stdout)
    with console.capture() as capture:
        _print(console, answer)
    put(capture.get(), console.file)


def _print(console: Console, answer: Answer) -> None:
    title = "".join(c if c.isprintable() else " " for c in answer.case.title)
    console.print(Text(title, style="bold"), soft_wrap=True)
    console.print()
    console.print(_summary(answer, wide=console.width >= WIDE))
    console.print()
    held = [c for c in answer.conditions if c.limits]
    if held:
        console.print(_limits(held))
        console.print()
    console.print(_beside(answer.conditions))
    if answer.supports:
        console.print()
        console.print(_supports(answer))
    console.print()
    for remark in _remarks(answer.conditions):
        console.print(remark)
    seconds = answer.seconds
    console.print(
        f"Computed in {seconds['total']:.2f} s (meshing {seconds['mesh']:.2f}, solving {seconds['solve']:.2f})."
    )
    console.print()
    for line in CAUTIONS:
        console.print(line)
    console.print(Text.assemble("Verdict: ", (answer.verdict, COLOURS[answer.verdict])))


def _table(first: str, *numbers: str) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False, show_edge=False, padding=(0, 1, 0, 0))
    table.add_column(first, overflow="fold")
    for name in numbers:
        table.add_column(name, justify="right", no_wrap=True)
    return table


def _summary(answer: Answer, *, wide: bool) -> Table:
    simplified = ("simplified\nW/m",) if wide else ()
    heads = (
        "coldest contents" if wide else "contents",
        "coldest wall",
        "hottest sheath" if wide else "sheath",
    )
    table = _table("condition", *(f"{head}\ndegC" for head in heads), "heat loss\nW/m", *simplified)
    table.add_column("verdict", overflow="fold")
    for condition in answer.conditions:
        row = condition_row(condition)
        cells = [
            Text.assemble(first, *([("\n" + second, "dim")] if second else []))
            for first, second in (row.contents, row.wall, row.sheath, row.loss, row.simplified)
        ]
        shown = cells if wide else cells[:-1]
        table.add_row(Text(row.name), *shown, Text(row.verdict, style=COLOURS[row.verdict]))
    return table


def _limits(conditions: Iterable[ConditionAnswer]) -> Table:
    table = _table("limit", "degC", "value, degC", "margin, K")
    table.add_column("")
    for condition in conditions:
        table.add_row(Text(condition.name, style="bold"))
        state = ""
        for held in condition.limits:
            if held.state != state:
                state = held.state
                table.add_row(Text(f" {state}"))
            measure = LIMITS[held.limit].measure
            table.add_row(
                Text(f"  {held.words}"),
                number(measure.shown(held.allowed), 1),
                with_band(measure.shown(held.value), held.band),
                margin_text(held.margin, held.band),
                Text(held.verdict, style=COLOURS[held.verdict]),
            )
    return table


def _beside(conditions: Iterable[ConditionAnswer]) -> Table:
    table = _table(
        "design beside field", "stated", "simplified", "field", "field less\nstated", "field less\nsimplified"
    )
    for condition in conditions:
        table.add_row(Text(condition.name, style="bold"))
        for row in beside(condition):
            numbers = (row.stated, row.simplified, row.field, row.from_stated, row.from_simplified)
            table.add_row(Text(f"  {row.quantity}"), *numbers)
    return table


def _supports(answer: Answer) -> Table:
    table = _table(
        "support",
        "chi\nW/K",
        "heat sink\nW",
        "dip\nK",
        "dip with its\nallowance, K",
        "just enough\nallowance, m",
    )
    table.add_column("verdict")
    for name, condition, *numbers, verdict in terminal_rows(answer):
        what = Text.assemble(name, ("\n" + condition, "dim"))
        table.add_row(what, *numbers, Text(verdict, style=COLOURS[verdict]))
    return table


def _remarks(conditions: Iterable[ConditionAnswer]) -> list[Text]:
    """What conditions change, failures, sensors too near a tracer, notes; what several share is said once."""
    said: dict[str, list[str]] = {}
    lines = []
    for condition in conditions:
        if condition.changes:
            more = len(condition.changes) - CHANGES
            tail = f" and {more} more (all in the report)" if more > 0 else ""
            lines.append(
                Text(f"{condition.name} changes {', '.join(condition.changes[:CHANGES])}{tail}", style="dim")
            )
        if condition.failure:
            lines.append(Text(f"{condition.name} did not converge: {condition.failure}", style="red"))
        for sensor in condition.sensors:
            if not sensor.keeps_distance:
                text = f"sensor {sensor.name} is nearer than 90 degrees to tracer {sensor.nearest_tracer}"
                said.setdefault(f"{text} (common practice, no source)", []).append(condition.name)
        for note in condition.notes:
            said.setdefault(note, []).append(condition.name)
    lines += [Text(f"{', '.join(names)}: {note}") for note, names in said.items()]
    return lines
