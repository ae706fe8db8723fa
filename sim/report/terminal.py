"""The terminal: what decides the verdict and one row a condition on one screen, all the rest on demand."""

import sys
from collections.abc import Iterable, Sequence
from typing import IO

from rich.box import SIMPLE_HEAD
from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from sim.case.text import ordered
from sim.judge.check import Answer, ConditionAnswer
from sim.report.elbow_page import HEADS
from sim.report.elbow_page import terminal_rows as elbow_rows
from sim.report.method import CAUTIONS
from sim.report.summary import beside, condition_row, stated_for
from sim.report.support_page import terminal_rows
from sim.report.words import counted, inputs_text
from sim.report.worst import EPISODE, SECTION, all_checks, condition_verdict, decisive, headline, tally
from sim.solve.measures import EVERY_LIMIT

COLOURS = {
    "pass": "green",
    "fail": "bold red",
    "too close to call": "yellow",
    "not converged": "bold red",
    "not evaluated": "yellow",
    "nothing to hold": "default",
    "no limits": "default",
}
INPUTS = "± inputs, K"
LINES = 24
"""Lines of the first screen, for up to three conditions; one more says where the files are."""

DURATIONS = ("warm_up", "hold")
"""Limits on a time that may be longer than the episode, whose end is shown in its place."""

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


def tell(stream: IO[str], *parts: RenderableType) -> None:
    """Print to a stream, whole or not at all. Raises BrokenPipeError if the reader has gone."""
    console = console_for(stream)
    put(_printed(console, *parts), stream)


def plain_table(gap: int = 1) -> Table:
    """A table with nothing but a line below its heads; gap: blanks between its columns."""
    return Table(box=SIMPLE_HEAD, pad_edge=False, show_edge=False, padding=(0, gap, 0, 0))


def show(answer: Answer, stream: IO[str] | None = None, *, verbose: bool = False) -> None:
    """Print an answer: what decides, one row a condition, and as much more as a screen holds, or all of it.

    Raises BrokenPipeError if the reader has gone.
    """
    console = console_for(stream or sys.stdout)
    put(screen(answer, console, verbose=verbose), console.file)


def screen(answer: Answer, console: Console, *, verbose: bool = False) -> str:
    """The text of `show` as the console lays it out."""
    first = [_head(answer), _summary(answer, console), _nearest(answer, console)]
    tables = {
        "elbow": _elbows(answer, console),
        "supports": _supports(answer, console),
        "every limit": _limits(answer, console),
        "design beside field": _beside(answer, console),
    }
    further = {name: text for name, part in tables.items() if (text := _printed(console, part)).strip()}
    every = (*_changes(answer.conditions), *_remarks(answer))
    notes = [_printed(console, note) for note in every]
    seconds = answer.seconds
    times = f"meshing {seconds['mesh']:.2f}, solving {seconds['solve']:.2f}"
    cautions = _printed(console, " ".join(CAUTIONS))
    top = _joined([_printed(console, part) for part in first])
    if verbose:
        took = _printed(console, f"Computed in {seconds['total']:.2f} s ({times}).")
        return _joined([top, *further.values(), "".join(notes), took + cautions])
    room = LINES - top.count("\n") - cautions.count("\n") - 2  # one line of what is kept back, one empty
    for name, text in tuple(further.items()):
        lines = text.count("\n") + 1
        if lines <= room:
            top, room = _joined([top, text]), room - lines
            del further[name]
    shown = 0
    while shown < len(notes) and notes[shown].count("\n") <= room:
        room -= notes[shown].count("\n")
        shown += 1
    shown_notes = [*further, *([counted(len(notes) - shown, "note")] if shown < len(notes) else [])]
    more = (
        _printed(console, Text(f"With --verbose: {', '.join(shown_notes)}.", style="dim"))
        if shown_notes
        else ""
    )
    return _joined([top, "".join(notes[:shown])]) + more + cautions


def _joined(parts: Sequence[str]) -> str:
    """Blocks of text with an empty line between them."""
    return "\n".join(part for part in parts if part.strip())


def _printed(console: Console, *parts: RenderableType) -> str:
    with console.capture() as capture:
        for part in parts:
            console.print(part)
    return capture.get()


def _head(answer: Answer) -> Group:
    title = "".join(c if c.isprintable() else " " for c in answer.case.title)
    how_many = f" ({tally(all_checks(answer))})"
    lines = [Text.assemble("Verdict: ", (answer.verdict, COLOURS[answer.verdict]), how_many)]
    lines += [Text(line) for line in headline(answer)]
    if answer.not_run:
        lines.append(Text(f"Episodes not run, and their limits not evaluated: {', '.join(answer.not_run)}"))
    return Group(Text(title, style="bold"), *lines)


def _summary(answer: Answer, console: Console) -> RenderableType:
    rows: list[Row] = []
    for condition in answer.conditions:
        verdict = condition_verdict(answer, condition.name)
        row = condition_row(condition, verdict)
        name = Text.assemble(row.name, "\n", (verdict, COLOURS[verdict]))
        cells = (row.contents, row.wall, row.sheath, row.loss)
        rows.append([name, *(Text.assemble(one, "\n", (two, "dim")) for one, two in cells)])
    heads = ("coldest contents", "coldest wall", "hottest sheath", "heat loss")
    return columns(console, "degC, W/m", heads, rows)


def _nearest(answer: Answer, console: Console) -> RenderableType:
    """A row a condition and an episode: the limit that decides it; nothing of a single one, which the headline has."""
    rows: list[Row] = []
    if len(answer.conditions) + len(answer.episodes) < 2:
        return Group()
    checks = all_checks(answer)
    for condition in answer.conditions:
        one = decisive(
            [h for h in checks if h.condition == condition.name and not h.place.startswith(EPISODE)]
        )
        if one is not None:
            name = condition.name if one.place == SECTION else f"{condition.name}, {one.place}"
            rows.append([name, one.limit, one.value, one.margin, inputs_text(one.check.worth)])
    for episode in answer.episodes:
        one = decisive([h for h in checks if h.place == f"{EPISODE} {episode.name}"])
        if one is not None:
            cells = (one.limit, one.value, one.margin, inputs_text(one.check.worth))
            rows.append([f"{EPISODE} {episode.name}", *cells])
    return columns(console, "nearest limit", ("limit", "value", "margin", INPUTS), rows)


def _limits(answer: Answer, console: Console) -> RenderableType:
    """Every limit at every place, under a heading for each place."""
    rows: list[Row] = []
    heading = ""
    for one in all_checks(answer):
        if heading != f"{one.condition}, {one.place}":
            heading = f"{one.condition}, {one.place}"
            rows.append([Text(heading, style="bold")])
        value = f"{one.value} {one.unit}"
        verdict = Text(one.check.verdict, style=COLOURS[one.check.verdict])
        rows.append([f"  {one.limit}", value, one.margin, inputs_text(one.check.worth), verdict])
    return columns(console, "limit", ("value", "margin", INPUTS, "verdict"), rows)


def _beside(answer: Answer, console: Console) -> RenderableType:
    rows: list[Row] = []
    stated = stated_for(answer)
    for condition in answer.conditions:
        numbers = beside(condition, stated[condition.name])
        if numbers:
            rows.append([Text(condition.name, style="bold")])
        for row in numbers:
            cells = (row.stated, row.simplified, row.field, row.from_stated, row.from_simplified)
            rows.append([Text(f"  {row.quantity}"), *cells])
    heads = ("stated", "simplified", "field", "field minus\nstated", "field minus\nsimplified")
    return columns(console, "design beside field", heads, rows)


def _elbows(answer: Answer, console: Console) -> RenderableType:
    rows = [[Text(row[0], style="bold")] if len(row) == 1 else row for row in elbow_rows(answer)]
    return columns(console, "elbow", HEADS, rows)


def _supports(answer: Answer, console: Console) -> RenderableType:
    heads = (
        "chi\nW/K",
        "heat sink\nW",
        "dip\nK",
        "dip with its\nallowance, K",
        "just enough\nallowance, m",
        "verdict",
    )
    rows: list[Row] = []
    for name, condition, *numbers, verdict in terminal_rows(answer):
        what = Text.assemble(name, ("\n" + condition, "dim"))
        rows.append([what, *numbers, Text(verdict, style=COLOURS[verdict])])
    return columns(console, "support or fitting" if answer.case.fittings else "support", heads, rows)


def _changes(conditions: Iterable[ConditionAnswer]) -> list[Text]:
    lines = []
    for condition in conditions:
        if condition.changes:
            more = len(condition.changes) - CHANGES
            tail = f" and {more} more (all in the report)" if more > 0 else ""
            words = ", ".join(condition.changes[:CHANGES])
            lines.append(Text(f"{condition.name} changes {words}{tail}", style="dim"))
    return lines


def _remarks(answer: Answer) -> list[Text]:
    """Sensors too near a tracer, and notes, of episodes too; what several share is said once."""
    by_note: dict[str, list[str]] = {}
    for one in answer.judged:
        section = one.place == SECTION
        for check in one.limits:
            unheld = check.verdict == "not evaluated" or (section and check.verdict == "nothing to hold")
            if unheld or (check.limit in DURATIONS and check.note):
                where = "" if section else f" at {one.place}"
                words = (
                    f"limit on the {EVERY_LIMIT[check.limit].subject}{where}, {check.verdict}: {check.note}"
                )
                by_note.setdefault(words, []).append(one.condition)
    for condition in answer.conditions:
        notes = [
            f"sensor {sensor.name} is nearer than 90 degrees to tracer {sensor.nearest_tracer}"
            " (common practice, no source)"
            for sensor in condition.sensors
            if not sensor.keeps_distance
        ]
        for note in (*notes, *condition.notes):
            by_note.setdefault(note, []).append(condition.name)
    lines = [Text(f"{', '.join(names)}: {note}") for note, names in by_note.items()]
    of_episodes: dict[str, list[str]] = {}
    for episode in answer.episodes:
        for note in episode.notes:
            of_episodes.setdefault(note, []).append(episode.name)
    return lines + [Text(f"{EPISODE} {', '.join(names)}: {note}") for note, names in of_episodes.items()]


Row = Sequence[Text | str]
GAP = 2  # between columns: the padding and the box's divider
LEAST_FIRST = 12
"""The first column is not folded to fewer characters than this for the sake of the others."""


def columns(console: Console, first: str, heads: Sequence[str], rows: Sequence[Row]) -> RenderableType:
    """A table with a first column of words and columns of numbers; a row of one cell is a heading.

    Where the numbers do not fit beside each other in the console's width, each gets a line of its own.
    """
    if not rows:
        return Group()
    cells = [[Text(first), *(Text(head) for head in heads)], *([_text(cell) for cell in row] for row in rows)]
    wide = [
        max(line.cell_len for row in cells if k < len(row) for line in row[k].split("\n"))
        for k in range(1 + len(heads))
    ]
    if min(wide[0], LEAST_FIRST) + sum(wide[1:]) + GAP * len(heads) <= console.width:
        table = plain_table()
        table.add_column(first, overflow="fold", min_width=min(wide[0], LEAST_FIRST))
        for name, width in zip(heads, wide[1:], strict=True):
            table.add_column(name, justify="right", no_wrap=True, min_width=width)
        for row in rows:
            table.add_row(*row)
        return table
    lines: list[Text] = [Text(first, style="bold")]
    for row in rows:
        lines.append(_one_line(row[0], " "))
        for head, cell in zip(heads, row[1:], strict=False):
            lines.append(Text.assemble("    ", " ".join(head.split()), ": ", _one_line(cell, ", ")))
    return Group(*lines)


def _text(cell: Text | str) -> Text:
    return cell if isinstance(cell, Text) else Text(cell)


def _one_line(cell: Text | str, between: str) -> Text:
    return Text(between).join(part for part in _text(cell).split("\n") if part.plain.strip())
