"""Text that goes into a table file which a spreadsheet may open."""

import csv
import io
import re
from collections.abc import Iterable, Sequence
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
