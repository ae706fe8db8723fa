"""Pages in Markdown from templates, and tables beside them: numbers by Python's own format, text shown as it stands."""

import csv
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined


def rendered(template: Path, **values: Any) -> str:
    """The page of a template; what is missing is an error. Filters: `as` (a format), `plain`, `span`."""
    made = Environment(
        loader=FileSystemLoader(template.parent),
        autoescape=False,
        keep_trailing_newline=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {"as": format, "plain": plain, "span": span}
    return made.get_template(template.name).render(values)


def plain(text: str) -> str:
    """Text that Markdown and HTML show as it stands, on one line."""
    safe = " ".join(text.split()).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return re.sub(r"([\\`*_\[\]|~])", r"\\\1", safe)


def write_rows(rows: Sequence[Mapping[str, Any]], path: Path) -> None:
    """Rows with the keys of the first as CSV, numbers to five digits. Raises OSError."""
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        table.writeheader()
        table.writerows(
            {k: f"{v:.5g}" if isinstance(v, float) else v for k, v in row.items()} for row in rows
        )


def span(values: Iterable[Any]) -> str:
    """The least to the greatest of the numbers among some; a dash where there is none."""
    numbers = [v for v in values if v != ""]
    return f"{min(numbers):.2f} to {max(numbers):.2f}" if numbers else "–"
