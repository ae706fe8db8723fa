"""The terminal's tables: what a person reads in ten seconds, then what stands behind it."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from typing import TextIO

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from sim.judge.check import Answer, ConditionAnswer
from sim.report.method import CAUTIONS
from sim.report.summary import beside, condition_row
from sim.report.words import LIMIT_WORDS, ZERO, number, signed, with_band

COLOURS = {
    "pass": "green",
    "fail": "bold red",
    "too close to call": "yellow",
    "not converged": "bold red",
    "no limits": "default",
}
LEAST_WIDTH = 118
"""Width to which tables are set where the output is not a terminal."""


def console_for(stream: TextIO) -> Console:
    """A console that colours only a terminal, and honours NO_COLOR."""
    tty = stream.isatty()
    return Console(
        file=stream,
        width=None if tty else LEAST_WIDTH,
        highlight=False,
        markup=False,
        emoji=False,
        no_color=None if tty else True,
        force_terminal=None if tty else False,
    )


def show(answer: Answer, stream: TextIO | None = None) -> None:
    """Print an answer. Raises BrokenPipeError if the reader has gone."""
    console = console_for(stream or sys.stdout)
    with console.capture() as capture:
        _print(console, answer)
    text = capture.get()
    encoding = getattr(console.file, "encoding", None) or "utf-8"
    console.file.write(text.encode(encoding, "replace").decode(encoding))
    console.file.flush()


def _print(console: Console, answer: Answer) -> None:
    console.print(Text(answer.case.title, style="bold"), soft_wrap=True)
    console.print(_summary(answer, console))
    held = [c for c in answer.conditions if c.limits]
    if held:
        console.print(_limits(held))
    console.print(_beside(answer.conditions))
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


def _table(*columns: tuple[str, str]) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False, show_edge=False, padding=(0, 2, 0, 0))
    for name, side in columns:
        table.add_column(name, justify="right" if side == "right" else "left", overflow="fold")
    return table


def _summary(answer: Answer, console: Console) -> Table:
    table = _table(
        ("condition", "left"),
        ("coldest contents\ndegC", "right"),
        ("coldest wall\ndegC", "right"),
        ("hottest sheath\ndegC", "right"),
        ("heat loss\nW/m", "right"),
        ("simplified\nW/m", "right"),
        ("verdict", "left"),
    )
    for condition in answer.conditions:
        row = condition_row(condition)
        cells = [
            Text.assemble(first, *([("\n" + second, "dim")] if second else []))
            for first, second in (row.contents, row.wall, row.sheath, row.loss, row.simplified)
        ]
        table.add_row(Text(row.name), *cells, Text(row.verdict, style=COLOURS[row.verdict]))
    return table


def _limits(conditions: Iterable[ConditionAnswer]) -> Table:
    table = _table(
        ("condition", "left"),
        ("limit", "left"),
        ("degC", "right"),
        ("held against", "left"),
        ("value, degC", "right"),
        ("margin, K", "right"),
        ("", "left"),
    )
    for condition in conditions:
        for i, held in enumerate(condition.limits):
            what = held.quantity.removeprefix("tracers.").removesuffix(".sheath_max")
            table.add_row(
                Text(condition.name if i == 0 else ""),
                LIMIT_WORDS[held.limit],
                number(held.allowed - ZERO, 1),
                Text(what),
                with_band(held.value - ZERO, held.band),
                signed(held.margin),
                Text(held.verdict, style=COLOURS[held.verdict]),
            )
    return table


def _beside(conditions: Iterable[ConditionAnswer]) -> Table:
    table = _table(
        ("condition", "left"),
        ("design beside field", "left"),
        ("stated", "right"),
        ("simplified", "right"),
        ("field", "right"),
        ("field less stated", "right"),
        ("less simplified", "right"),
    )
    for condition in conditions:
        for i, row in enumerate(beside(condition)):
            name = Text(condition.name if i == 0 else "")
            table.add_row(
                name,
                row.quantity,
                row.stated,
                row.simplified,
                row.field,
                row.from_stated,
                row.from_simplified,
            )
    return table


def _remarks(conditions: Iterable[ConditionAnswer]) -> list[Text]:
    """Failures, sensors too near a tracer, and notes; what several conditions share is said once."""
    said: dict[str, list[str]] = {}
    lines = []
    for condition in conditions:
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
