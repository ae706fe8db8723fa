"""Tables of the case for a fluid that freezes: where, with how much heat, and what the solid is like."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Any

from .curve import GIVEN, Curve
from .errors import refuse
from .fields import Conductivity, SpecificHeat, Table, Written, declared, quantity
from .units import parse_fraction, parse_quantity, rounded, shown, write_quantity

LatentHeat = Annotated[float, quantity("latent heat", 1.0, 1e7)]


class Frozen(Table):
    """The solid that a fluid freezes to; its density is the liquid's, so nothing moves as it freezes."""

    conductivity: Conductivity = declared(..., "conductivity of the frozen fluid", "W/m/K")
    specific_heat: SpecificHeat = declared(..., "specific heat of the frozen fluid", "J/kg/K")


def _parse_share(value: object) -> Curve:
    if isinstance(value, Curve):
        return value
    example = '{at = [["-5 degC", 0.3], ["-2 degC", 0]]}'
    if not isinstance(value, dict) or set(value) != {"at"} or not isinstance(value["at"], list | tuple):
        refuse(f"is not a frozen share over temperature; accepted: {example}")
    rows: list[tuple[float, float]] = []
    for row, pair in enumerate(value["at"], start=1):
        if not isinstance(pair, list | tuple) or len(pair) != 2:
            refuse(f"row {row} is not a pair; accepted: {example}")
        try:
            rows.append((parse_quantity(pair[0], "temperature"), parse_fraction(pair[1])))
        except ValueError as error:
            refuse(f"row {row}: {error}")
        if not 0.0 <= rows[-1][1] <= 1.0 or not 0.0 < rows[-1][0] <= 2000.0:
            refuse(
                f"row {row}: {shown(pair[1])} at {shown(pair[0])} is not a share (0 to 1) at a temperature"
            )
    if len(rows) < 2:
        refuse(f"needs at least two rows; accepted: {example}")
    rows.sort()
    for (colder, more), (warmer, less) in pairwise(rows):
        if warmer <= colder:
            refuse("gives two shares at one temperature; accepted: one row a temperature")
        if less > more:
            refuse(
                "rises with the temperature, so that the heat stored would fall as the fluid warms;"
                f" accepted: less frozen where it is warmer, such as {example}"
            )
    kelvin, shares = zip(*rows, strict=True)
    return Curve("table", shares, kelvin, rounded(kelvin[0]), rounded(kelvin[-1]), source=GIVEN)


def _write_share(curve: Curve) -> dict[str, Any]:
    rows = zip(curve.temperatures, curve.values, strict=True)
    return {"at": [[write_quantity(t, "temperature"), share] for t, share in rows]}


_PAIR = {
    "type": "array",
    "items": {"anyOf": [{"type": "string"}, {"type": "number"}]},
    "minItems": 2,
    "maxItems": 2,
}
FrozenShare = Annotated[
    Curve,
    Written(
        _parse_share,
        {
            "type": "object",
            "properties": {"at": {"type": "array", "items": _PAIR, "minItems": 2}},
            "required": ["at"],
            "additionalProperties": False,
        },
        _write_share,
    ),
]
