"""What the pages share: the template engine, and pictures inside a page."""

import base64
from functools import lru_cache
from pathlib import Path
from typing import Any

from sim.case.text import in_order
from sim.report.words import celsius, clock, number, signed

STYLE = Path(__file__).with_name("report.css")
KINDS = {".png": "png", ".svg": "svg+xml"}


@lru_cache(maxsize=8)
def template(folder: Path, name: str) -> Any:
    """A template of a folder: what is put into it is escaped, what is missing is an error."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    env = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        finalize=in_order,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.filters |= {"clock": clock, "celsius": celsius, "signed": signed, "decimals": number}
    env.filters["sentence"] = lambda text: f"{text[:1].upper()}{text[1:].rstrip('.')}."
    return env.get_template(name)


def data_uri(path: Path) -> str:
    """A picture (PNG or SVG) as an address that holds all of it."""
    return f"data:image/{KINDS[path.suffix]};base64,{base64.b64encode(path.read_bytes()).decode('ascii')}"
