"""A written value split in number and unit, so that an axis has numbers to draw and to tabulate."""

import math
import re
from typing import Any

from sim.case.errors import CaseError
from sim.case.units import shown

_WRITTEN = re.compile(r"\s*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)\s*([^0-9\s.,+-].*?)?\s*")
_DIFFERENCE = {"degC": ("K", "delta_degC"), "degF": ("delta_degF",)}


def written_in(unit: str, value: float) -> Any:
    """A number in a unit ("" for plain numbers) as a case file writes it."""
    return f"{value!r} {unit}" if unit else value


def text_in(unit: str, value: float) -> str:
    """A number in a unit as a person reads it."""
    return f"{value:.6g} {unit}".strip()


def split(value: object) -> tuple[float, str] | None:
    """(number, unit) of a plain number or of text with a unit; None where it is neither."""
    if isinstance(value, bool):
        return None
    if isinstance(value, int | float):
        return (float(value), "") if math.isfinite(value) else None
    match = _WRITTEN.fullmatch(value) if isinstance(value, str) else None
    if match is None or not math.isfinite(float(match[1])):
        return None
    return float(match[1]), match[2] or ""


def number_in(value: object, unit: str, key: str, file: str, *, difference: bool = False) -> float:
    """The number of a value that must be written in `unit`. Raises CaseError.

    difference: a step or a spread of a temperature in degC may be written in K.
    """
    parts = split(value)
    allowed = (unit, *(_DIFFERENCE.get(unit, ()) if difference else ()))
    if parts is None or parts[1] not in allowed:
        expected = f'"{unit}"' if unit else "a plain number"
        raise CaseError(
            f"{shown(value)} does not go with the other values; accepted: {expected}", file=file, key=key
        )
    return parts[0]


def need_number(value: object, key: str, file: str) -> tuple[float, str]:
    """(number, unit) of a value that must be a number. Raises CaseError."""
    parts = split(value)
    if parts is None:
        raise CaseError(
            f'{shown(value)} is no number; accepted: a plain number, or a quantity such as "60 mm"',
            file=file,
            key=key,
        )
    return parts
