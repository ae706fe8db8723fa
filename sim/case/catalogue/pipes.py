"""Pipe sizes of ASME B36.10M and B36.19M, from the tables of the `fluids` library."""

import re
from fractions import Fraction
from functools import lru_cache

from ..units import rounded

# DN to NPS: ISO 6708 designations as printed beside the NPS in ASME B36.10M.
_SMALL = {
    6: 0.125,
    8: 0.25,
    10: 0.375,
    15: 0.5,
    20: 0.75,
    25: 1.0,
    32: 1.25,
    40: 1.5,
    50: 2.0,
    65: 2.5,
    80: 3.0,
}
_MEDIUM = {90: 3.5, 100: 4.0, 125: 5.0, 150: 6.0}
NPS_OF_DN: dict[int, float] = _SMALL | _MEDIUM | {25 * n: float(n) for n in range(8, 49, 2)}
SCHEDULES = (
    *("5", "10", "20", "30", "40", "60", "80", "100", "120", "140", "160", "STD", "XS", "XXS"),
    *("5S", "10S", "40S", "80S"),
)


def nominal_size(text: str) -> float | None:
    """NPS as a number from "DN 100", "NPS 4", "NPS 1-1/2", "NPS 1 1/2", "NPS 0.5"; None for any other."""
    match = re.fullmatch(
        r"\s*(DN|NPS)\s*(?:([0-9]+)[ -])?([0-9]+(?:\.[0-9]+)?|[0-9]+/[0-9]+)\s*\"?\s*", text, re.IGNORECASE
    )
    if match is None:
        return None
    kind, whole, rest = match.groups()
    try:
        value = float(Fraction(rest) + int(whole or 0))
    except ZeroDivisionError:
        return None
    if kind.upper() == "DN":
        return None if whole else NPS_OF_DN.get(int(value)) if value == int(value) else None
    return value


@lru_cache(maxsize=1)
def _tables() -> dict[float, dict[str, tuple[float, float]]]:
    """{NPS: {schedule: (outer diameter, wall)}} in metres."""
    from fluids.piping import schedule_lookup

    sizes: dict[float, dict[str, tuple[float, float]]] = {}
    for schedule in SCHEDULES:
        nominal, _, outer, wall = schedule_lookup[schedule]
        for nps, diameter, thickness in zip(nominal, outer, wall, strict=True):
            dimensions = (rounded(diameter / 1000.0), rounded(thickness / 1000.0))
            sizes.setdefault(float(nps), {})[schedule] = dimensions
    return sizes


def plain_schedule(text: str) -> str:
    """A schedule as the tables name it: "Sch 40", "sch40" and "40" are "40"."""
    return re.sub(r"^\s*(?:schedule|sch)\.?\s*", "", text, flags=re.IGNORECASE).strip().upper()


def sizes_in_words() -> str:
    """The sizes that exist, for messages."""
    known = [dn for dn, nps in sorted(NPS_OF_DN.items()) if nps in _tables()]
    return f"DN {', '.join(map(str, known))} (or NPS 1/8 to {max(_tables()):g})"


def schedules_of(nps: float) -> list[str]:
    """Schedules that exist for a nominal size; empty for an unknown size."""
    return list(_tables().get(nps, {}))


def dimensions(nps: float, schedule: str) -> tuple[float, float] | None:
    """(outer diameter, wall) in metres, or None where the size or the schedule does not exist."""
    return _tables().get(nps, {}).get(plain_schedule(schedule))
