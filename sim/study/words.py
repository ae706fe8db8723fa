"""Results in words: what a path of a result is called, its unit, and how a change of it is said."""

from __future__ import annotations

import math
from fnmatch import fnmatchcase
from typing import Any

from sim.case import Case, CaseError
from sim.case.errors import nearest
from sim.case.units import shown

ZERO_CELSIUS = 273.15
DEFAULT_KEEP = (
    "contents.min",
    "liquid.min",
    "wall.min",
    "wall.max",
    "tracers.sheath_max",
    "barrier.max",
    "heat_out",
)
_WHERE = {"contents": "contents", "liquid": "liquid", "gas": "gas", "wall": "wall", "barrier": "barrier"}
_WHICH = {"min": "coldest", "mean": "mean", "max": "hottest"}
_SINGLE = {
    "heat_in": "heat in",
    "heat_out": "heat loss",
    "from_contents": "heat from the contents",
    "closure": "heat balance closure",
    "tracers.sheath_max": "hottest sheath",
    "tracers.output": "tracer output",
}
LIMIT_WORDS = {
    "contents_min": "lowest contents",
    "wall_min": "lowest wall",
    "wall_max": "highest wall",
    "sheath_max": "highest sheath",
    "barrier_max": "highest barrier",
}


def spoken(path: str) -> str:
    """What a result is called: "contents.min" is "coldest contents"."""
    if path in _SINGLE:
        return _SINGLE[path]
    first, *middle, last = path.split(".")
    if first in _WHERE and last in _WHICH:
        return f"{_WHICH[last]} {_WHERE[first]}"
    if first in _WHERE and last.endswith("_clock"):
        return f"clock of the {_WHICH[last[:3]]} {_WHERE[first]}"
    name = ".".join(middle)
    ending = {"sheath_max": "sheath", "mean": "mean body", "output": "output", "reading": "reading"}.get(
        last, last
    )
    return f"{ending} of {name}" if name else path


def is_temperature(path: str) -> bool:
    """Whether a result is a temperature (stored in kelvin, shown in degC)."""
    return path.rsplit(".", 1)[-1] in ("min", "mean", "max", "sheath_max", "reading")


def unit(path: str) -> str:
    """Unit in which a result is shown."""
    if is_temperature(path):
        return "degC"
    last = path.rsplit(".", 1)[-1]
    if last.endswith("_clock"):
        return "h"
    return "" if last == "closure" else "W/m"


def displayed(path: str, value: float) -> float:
    """A stored value in the unit it is shown in."""
    return value - ZERO_CELSIUS if is_temperature(path) else value


def band_unit(path: str) -> str:
    return "K" if is_temperature(path) else unit(path)


def number(value: float, digits: int = 1) -> str:
    """A number as a person reads it, without a minus before zero."""
    text = f"{value:.{digits}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def amount(value: float, band: float) -> str:
    """ "1.30 +- 0.11": as many decimals as the band deserves."""
    if math.isnan(band):
        return f"{number(value, 2)} (band unknown)"
    digits = 1 if band >= 0.5 else 2 if band >= 0.02 else 3
    return f"{number(value, digits)} ± {number(band, digits)}"


def quoted(text: str) -> str:
    """A choice's name in quotes where it is more than one word; a quantity as it is."""
    return f'"{text}"' if " " in text and not text[:1].isdigit() and text[:1] not in "+-." else text


def verb(name: str, singular: str, plural: str) -> str:
    """The form of a verb that goes with a result: contents are, a wall is."""
    return plural if name.endswith("contents") else singular


def of_list(words: list[str], most: int = 4, separator: str = ", ") -> str:
    """ "a, b and c", cut after `most`."""
    if len(words) > most:
        words = [*words[: most - 1], f"{len(words) - most + 1} more"]
    return " and ".join([separator.join(words[:-1]), words[-1]] if len(words) > 1 else words)


def known_paths(case: Case) -> list[str]:
    """Every result that a section of this case can have."""
    paths = [f"{w}.{s}" for w in _WHERE for s in ("min", "mean", "max", "min_clock", "max_clock")]
    for tracer in [*(t.name for t in case.tracers), *(f"T{n}" for n in range(1, 13))]:
        paths += [f"tracers.{tracer}.{s}" for s in ("sheath_max", "mean", "output")]
    return paths + [f"sensors.{s.name}.reading" for s in case.sensors] + list(_SINGLE)


def check_keep(keep: list[Any] | None, case: Case, file: str) -> None:
    """Raises CaseError where an entry of `keep` is no result of the case."""
    known = known_paths(case)
    for n, entry in enumerate(keep or [], start=1):
        if not isinstance(entry, str) or not any(fnmatchcase(path, entry) for path in known):
            examples = "contents.min, wall.max, tracers.*.sheath_max, sensors.*.reading, heat_out"
            message = f"{shown(entry)} is no result{nearest(entry, known)}; accepted: such as {examples}"
            raise CaseError(message, file=file, key=f"keep[{n}]")


def kept(paths: list[str], keep: list[Any] | None) -> list[str]:
    """The results shown, of those that there are: as asked for, or the usual ones."""
    wanted = keep or DEFAULT_KEEP
    chosen = [path for pattern in wanted for path in paths if fnmatchcase(path, pattern)]
    return list(dict.fromkeys(chosen))
