"""Results in words: how a number and a change of it are said. What a result is called is in `sim.solve.paths`."""

import math
from fnmatch import fnmatchcase
from typing import Any

from sim.case import Case, CaseError
from sim.case.errors import nearest
from sim.case.units import shown
from sim.solve.measures import EPISODE_LIMITS, EVERY_LIMIT, LIMITS
from sim.solve.paths import BODY, NAME, OVER_TIME, OVER_TRACERS, SECTION, declared, quantity

DEFAULT_KEEP = (
    *("contents.min", "liquid.min", "wall.min", "wall.max", "tracers.sheath_max", "barrier.max", "heat_out"),
    *("supports.*.chi", "supports.*.with_allowance.wall_min"),
    *("fittings.*.chi", "fittings.*.with_allowance.wall_min"),
    *("elbow.wall.min", "hold", "warm_up", "frozen_max"),
)
SUPPORTS, FITTINGS = "supports.", "fittings."
LIMIT_WORDS = {limit.name: limit.extreme for limit in LIMITS.values()} | {
    limit.name: limit.subject for limit in EPISODE_LIMITS.values()
}
PLURAL = {row.words for row in declared() if row.plural}


def headed(path: str) -> str:
    """What a result is called at the head of a chart; names of supports and tracers keep their letters."""
    words = spoken(path)
    return words[:1].upper() + words[1:]


def spoken(path: str) -> str:
    """What a result is called: "contents.min" is "coldest contents"."""
    return quantity(path).words


def is_temperature(path: str) -> bool:
    """Whether a result is a temperature (stored in kelvin, shown in degC)."""
    return quantity(path).measure.absolute


def unit(path: str) -> str:
    """Unit in which a result is shown."""
    return quantity(path).measure.unit


def displayed(path: str, value: float) -> float:
    """A stored value in the unit it is shown in."""
    return quantity(path).measure.shown(value)


def band_unit(path: str) -> str:
    """Unit of a result's band, and of a difference of two."""
    return quantity(path).measure.difference


def number(value: float, digits: int = 1) -> str:
    """A number as a person reads it, without a minus before zero."""
    text = f"{value:.{digits}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def amount(value: float, band: float) -> str:
    """ "1.30 +- 0.11": as many decimals as the band deserves, and as it takes to show which of the two is larger."""
    if math.isnan(band):
        return f"{number(value, 2)} (band unknown)"
    digits = 1 if band >= 0.5 else 2 if band >= 0.02 else 3
    while digits < 6 and (round(abs(value), digits) > round(band, digits)) != (abs(value) > band):
        digits += 1
    return f"{number(value, digits)} ± {number(band, digits)}"


def margin_words(limit: str, margin: float, band: float) -> str:
    """A margin on a limit with its band and unit: "+3.2 ± 0.1 K"."""
    by, _, of = EVERY_LIMIT[limit].measure.display
    return f"{amount(margin / by, band / by)} {of}".strip()


def quoted(text: str) -> str:
    """A choice's name in quotes where it is more than one word; a quantity as it is."""
    return f'"{text}"' if " " in text and not text[:1].isdigit() and text[:1] not in "+-." else text


def verb(name: str, singular: str, plural: str) -> str:
    """The form of a verb that goes with a result: contents are, a wall is."""
    return plural if name in PLURAL else singular


def of_list(words: list[str], most: int = 4, separator: str = ", ") -> str:
    """ "a, b and c", cut after `most`."""
    if len(words) > most:
        words = [*words[: most - 1], f"{len(words) - most + 1} more"]
    return " and ".join([separator.join(words[:-1]), words[-1]] if len(words) > 1 else words)


def known_paths(case: Case) -> list[str]:
    """Every result that this case can have, in its section, in its bend and at its supports."""
    names = {"tracers": [*(t.name for t in case.tracers), *(f"T{n}" for n in range(1, 13))]}
    names["sensors"] = [s.name for s in case.sensors]
    paths = [
        row.pattern.replace(NAME, name)
        for row in SECTION + OVER_TRACERS
        for name in (names[row.pattern.partition(".")[0]] if NAME in row.pattern else [""])
    ]
    around = [row.pattern for row in declared() if row.pattern.startswith(SUPPORTS)]
    paths += [pattern.replace(NAME, s.name) for s in case.supports for pattern in around]
    bodies = [row.pattern for row in declared() if row.pattern.startswith(FITTINGS)]
    paths += [
        pattern.replace(NAME, f.name).replace(BODY, str(n))
        for f in case.fittings
        for pattern in bodies
        for n in range(1, len(f.body) + 1 if BODY in pattern else 2)
    ]
    if case.elbow is not None:
        sides = ("elbow.tracers_outside.", "elbow.tracers_inside.")  # not solved in studies
        bend = [row.pattern for row in declared() if row.pattern.startswith("elbow.")]
        paths += [
            pattern.replace(NAME, name)
            for pattern in bend
            if not pattern.startswith(sides)
            for name in (
                names.get("sensors" if "sensors" in pattern else "tracers", []) if NAME in pattern else [""]
            )
        ]
    return paths


def _of_episodes(case: Case) -> list[str]:
    """Every result that an episode adds to those of the case's conditions."""
    tracers = [*(t.name for t in case.tracers), *(f"T{n}" for n in range(1, 13))]
    paths = ["hold", "warm_up", "frozen_max", "passage", *(f"first_broken.{limit}" for limit in LIMITS)]
    bodies = max((len(fitting.body) for fitting in case.fittings), default=0)
    over_time = [row.pattern for row in OVER_TIME if BODY in row.pattern]
    paths += [pattern.replace(BODY, str(n)) for pattern in over_time for n in range(1, bodies + 1)]
    return paths + [f"{what}.{tracer}" for what in ("energy", "duty") for tracer in tracers]


def check_keep(keep: list[Any] | None, case: Case, file: str, episodes: tuple[str, ...] = ()) -> None:
    """Raises CaseError where an entry of `keep` is no result of the case, nor of the episodes that are followed."""
    known = known_paths(case) + (_of_episodes(case) if episodes else [])
    for n, entry in enumerate(keep or [], start=1):
        if not isinstance(entry, str) or not any(fnmatchcase(path, entry) for path in known):
            examples = "contents.min, wall.max, tracers.*.sheath_max, sensors.*.reading, heat_out"
            message = f"{shown(entry)} is no result{nearest(entry, known)}; accepted: such as {examples}"
            raise CaseError(message, file=file, key=f"keep[{n}]")


def shown_paths(paths: list[str], keep: list[Any] | None) -> list[str]:
    """The results shown, of those that there are: as asked for, or the usual ones."""
    patterns = keep or DEFAULT_KEEP
    chosen = [path for pattern in patterns for path in paths if fnmatchcase(path, pattern)]
    return list(dict.fromkeys(chosen))
