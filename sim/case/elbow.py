"""The table of the case for a bend of the line."""

from __future__ import annotations

import re
from typing import Annotated

from .catalogue import pipes
from .errors import refuse
from .fields import Clock, Table, Written, declared, quantity
from .line import Pipe
from .units import rounded, shown

INCH = 0.0254
_MULTIPLE = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s*D")
_LENGTH = quantity("length", 1e-3, 1000.0)
_SCHEMA = {"type": "string", "examples": ["1.5 D", "152.4 mm"], "description": "a length, or a multiple of D"}


def _radius(value: object) -> float | str:
    """A length in m, or the text of a multiple of the nominal size."""
    match = _MULTIPLE.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        try:
            return float(_LENGTH.parse(value))
        except ValueError as error:
            refuse(f'{error}; or a multiple of the nominal size, such as "1.5 D"')
    if not 0.5 <= float(match[1]) <= 100.0:
        refuse(f"{shown(value)} is outside what is accepted: 0.5 D to 100 D")
    return f"{float(match[1]):g} D"


Radius = Annotated[
    float | str, Written(_radius, _SCHEMA, lambda v: v if isinstance(v, str) else _LENGTH.write(v))
]


class Elbow(Table):
    """A bend: the section swept around it."""

    radius: Radius = declared(
        "1.5 D",
        'radius of the bend to the pipe\'s axis: a length, or a multiple of the nominal size in inches ("1.5 D")',
        "m",
        assumed="long radius, ASME B16.9, from memory",
    )
    outside: Clock = declared(3.0, "clock position that faces away from the bend's centre", "o'clock")


def bend_radius(pipe: Pipe, elbow: Elbow) -> float | None:
    """Radius of a bend to the pipe's axis, m; None where it is a multiple of a size that the pipe does not have."""
    if isinstance(elbow.radius, float):
        return elbow.radius
    size = pipes.nominal_size(pipe.size) if pipe.size is not None else None
    return None if size is None else rounded(float(elbow.radius.removesuffix(" D")) * size * INCH)
