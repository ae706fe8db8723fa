"""Tables as a notebook shows them: pandas where it is installed, and plain HTML."""

from html import escape
from typing import Any

CAUTION = "Evidence for an engineer, never a certificate."


def frame(rows: list[tuple[Any, ...]], names: str) -> Any:
    """A pandas DataFrame. Raises ImportError, which says how to install it, where there is no pandas."""
    return pandas().DataFrame(rows, columns=names.split())


def pandas() -> Any:
    """The module pandas, which tables need and nothing else does."""
    try:
        import pandas
    except ImportError:
        raise ImportError("tables need pandas: pip install 'coldspot[notebook]'") from None
    return pandas


def html_table(heads: list[str], rows: list[list[str]]) -> str:
    head = "".join(f"<th>{escape(text)}</th>" for text in heads)
    body = "".join("<tr>" + "".join(f"<td>{escape(text)}</td>" for text in row) + "</tr>" for row in rows)
    return f"<table><tr>{head}</tr>{body}</table>"
