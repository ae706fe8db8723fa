"""Files that other programs read: text that a spreadsheet may open, and a file that is whole or not there."""

import csv
import io
import os
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

_QUANTITY = re.compile(r"[+-]?\d[\d.,]*(?:[eE][+-]?\d+)?(?: ?[^\W\d_][^()!|=]*)?")


def cell(value: Any) -> Any:
    """A cell of a CSV file: text that a spreadsheet would take for a formula is led by an apostrophe.

    Numbers, and numbers with a unit such as "-10 degC", stay as they are.
    """
    if (
        isinstance(value, str)
        and value[:1] in ("=", "+", "-", "@", "\t", "\r")
        and not _QUANTITY.fullmatch(value)
    ):
        return f"'{value}"
    return value


def csv_text(rows: Iterable[Sequence[Any]]) -> str:
    """Rows as the text of a CSV file, heads first."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([cell(value) for value in row] for row in rows)
    return out.getvalue()


def replace(path: Path, write: Any) -> None:
    """Write beside, then rename: a file is whole or not there."""
    beside = path.with_name(f".{path.name}.part")
    try:
        write(beside)
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)
