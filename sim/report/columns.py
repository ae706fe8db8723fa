"""A table that fits the terminal: columns where there is room for them, else one line a number, and nothing cut."""

from __future__ import annotations

from collections.abc import Sequence

from rich.box import SIMPLE_HEAD
from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

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
    wide = [max(_width(row[k]) for row in cells if k < len(row)) for k in range(1 + len(heads))]
    if min(wide[0], LEAST_FIRST) + sum(wide[1:]) + GAP * len(heads) <= console.width:
        table = Table(box=SIMPLE_HEAD, pad_edge=False, show_edge=False, padding=(0, 1, 0, 0))
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


def _width(text: Text) -> int:
    return max(line.cell_len for line in text.split("\n"))


def _one_line(cell: Text | str, between: str) -> Text:
    return Text(between).join(part for part in _text(cell).split("\n") if part.plain.strip())
