"""The one list of quantities: what the number at a path is, its unit, its words, its band, and the limit on it.

Results file, report, terminal, studies and the second opinion all ask `quantity(path)`; none of them reads a unit out
of a path. A new number gets a row here, in the family of the place it belongs to; a new kind of place (an episode, a
fitting, a stretch of a line) gets a family.
"""

import re
from collections.abc import Callable, Container, Iterable
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from typing import Literal

from sim.solve.measures import (
    CLOCK,
    COEFFICIENT,
    DIFFERENCE,
    ENERGY,
    HEAT,
    HEAT_A_RADIAN,
    LENGTH,
    LENGTH_A_RADIAN,
    LIMITS,
    NUMBER,
    PER_METRE,
    PER_VOLUME,
    TEMPERATURE,
    TIME,
    TRANSMITTANCE,
    Limit,
    Measure,
)


@dataclass(frozen=True)
class Quantity:
    """The number at a path. pattern: the path with <name> for the user's name; words, with the name in them.

    band: from three meshes by the grid convergence index, the largest difference between them, or none.
    limit: name of the limit that holds it; instead_of: pattern of what it is held in place of, where both are there.
    peers: whether the second opinion compares it; place_of: pattern of the extreme whose place it is.
    keys: where it is in results.json.
    """

    pattern: str
    words: str
    measure: Measure
    band: Literal["index", "spread", "none"] = "index"
    limit: str = ""
    instead_of: str = ""
    peers: Literal["always", "flowing contents", "never"] = "never"
    place_of: str = ""
    decimals: int = 2
    path: str = ""
    name: str = ""
    keys: tuple[str, ...] = field(default=())

    @property
    def plural(self) -> bool:
        """Whether a verb after the words is a plural: the coldest contents are, the heat from the contents is."""
        return self.pattern.partition(".")[0] == "contents" and self.measure is TEMPERATURE


def _part(
    part: str, words: str, *, min_limit: str = "", max_limit: str = "", instead: str = ""
) -> list[Quantity]:
    """The temperatures of one part of the section, and where its extremes are."""
    rows = [
        Quantity(f"{part}.min", f"coldest {words}", TEMPERATURE, limit=min_limit, peers="always"),
        Quantity(f"{part}.mean", f"mean {words}", TEMPERATURE, peers="always"),
        Quantity(f"{part}.max", f"hottest {words}", TEMPERATURE, limit=max_limit, peers="always"),
    ]
    peers: Literal["always", "never"] = "always" if part == "wall" else "never"
    for row in (rows[0], rows[2]):
        place = f"place of the {row.words}"
        rows.append(
            Quantity(f"{row.pattern}_clock", place, CLOCK, "spread", peers=peers, place_of=row.pattern)
        )
    return [replace(row, instead_of=row.pattern.replace(part, instead)) if instead else row for row in rows]


def _extreme(path: str, words: str, limit: str) -> tuple[Quantity, Quantity, Quantity]:
    """An extreme around a support, and its place."""
    return (
        Quantity(path, words, TEMPERATURE, limit=limit),
        Quantity(f"{path}_clock", f"place of the {words}", CLOCK, "spread", place_of=path),
        Quantity(
            f"{path}_z",
            f"distance of the {words} from the support's middle",
            LENGTH,
            "spread",
            place_of=path,
        ),
    )


SECTION = (
    *_part("contents", "contents", min_limit="contents_min"),
    *_part("liquid", "liquid", min_limit="contents_min", instead="contents"),
    *_part("gas", "gas"),
    *_part("wall", "wall", min_limit="wall_min", max_limit="wall_max"),
    *_part("barrier", "outside surface", max_limit="barrier_max"),
    Quantity(
        "tracers.<name>.sheath_max",
        "hottest sheath of <name>",
        TEMPERATURE,
        limit="sheath_max",
        peers="always",
    ),
    Quantity("tracers.<name>.mean", "mean body of <name>", TEMPERATURE, peers="always"),
    Quantity("tracers.<name>.output", "output of <name>", PER_METRE, peers="always"),
    Quantity("sensors.<name>.reading", "reading of <name>", TEMPERATURE, peers="always"),
    Quantity("heat_in", "heat in", PER_METRE),
    Quantity("heat_out", "heat loss", PER_METRE, peers="always"),
    Quantity("from_contents", "heat from the contents", PER_METRE, peers="flowing contents"),
    Quantity("from_sun", "heat absorbed from the sun", PER_METRE),
    Quantity("closure", "heat balance closure, as a part of the heat that flows", NUMBER, "none"),
    *(
        Quantity(
            f"{path}_{end}",
            f"{words}, {percent} percentile in time",
            TEMPERATURE,
            limit=limit,
            instead_of=path,
        )
        for path, end, words, percent, limit in (
            ("contents.min", "low", "coldest contents", "5th", "contents_min"),
            ("wall.min", "low", "coldest wall", "5th", "wall_min"),
            ("wall.max", "high", "hottest wall", "95th", "wall_max"),
            ("tracers.<name>.sheath_max", "high", "hottest sheath of <name>", "95th", "sheath_max"),
        )
    ),
    Quantity("contents.rayleigh", "Rayleigh number of the moving contents", NUMBER),
    Quantity("contents.prandtl", "Prandtl number of the moving contents", NUMBER),
)
NAME, BODY = "<name>", "<number>"  # in a pattern: the user's name of a place, the number of a body


def _bodies() -> list[Quantity]:
    """The temperatures of a fitting's bodies, by their number in the case."""
    words = {"min": "coldest place", "mean": "mean", "max": "hottest place"}
    return [
        Quantity(f"bodies.{BODY}.{path}", f"{what} of body {BODY}", TEMPERATURE)
        for path, what in words.items()
    ]


# What an episode adds to a section's numbers.
OVER_TIME = (
    *_bodies(),
    Quantity(
        f"hollows.{BODY}.min",
        f"coldest contents in the hollow of body {BODY}",
        TEMPERATURE,
        limit="contents_min",
    ),
    Quantity(
        f"hollows.{BODY}.frozen",
        f"frozen share of the contents in the hollow of body {BODY}",
        NUMBER,
        decimals=3,
    ),
    Quantity("ambient", "ambient", TEMPERATURE, "none"),
    Quantity("frozen", "frozen share of the liquid", NUMBER, decimals=3),
    Quantity("contents.stored", "heat stored in the liquid beyond that of its freezing", PER_VOLUME),
    Quantity("passage", "free passage", LENGTH, decimals=4),
    Quantity("hold", "time held after the power is lost", TIME, limit="hold", decimals=0),
    Quantity("warm_up", "time to warm up", TIME, limit="warm_up", decimals=0),
    Quantity("first_broken.<name>", "moment at which <name> is first broken", TIME, decimals=0),
    Quantity("frozen_max", "largest frozen share", NUMBER, limit="frozen_share", decimals=3),
    Quantity("energy.<name>", "energy of <name>", ENERGY),
    Quantity("duty.<name>", "duty of <name>", NUMBER, decimals=3),
)
# What a study adds to a section's numbers.
OVER_TRACERS = (
    Quantity(
        "tracers.sheath_max",
        "hottest sheath",
        TEMPERATURE,
        limit="sheath_max",
        instead_of="tracers.<name>.sheath_max",
    ),
    Quantity("tracers.output", "output of all tracers", PER_METRE),
)
LOW, HIGH = "_low", "_high"  # ends of the paths of the coldest and hottest moments of an average
AROUND_SUPPORT = (
    *_extreme("wall_min", "coldest wall", "wall_min"),
    *_extreme("wall_max", "hottest wall", "wall_max"),
    Quantity("wall_rise", "rise of the hottest wall above the section's", DIFFERENCE),
    *_extreme("barrier_max", "hottest outside surface, metal of a leg included", "barrier_max"),
    Quantity("barrier_rise", "rise of the hottest outside surface above the section's", DIFFERENCE),
    Quantity("contents_min", "coldest contents", TEMPERATURE, limit="contents_min"),
    Quantity("contents_dip", "dip of the coldest contents below the section's", DIFFERENCE),
    Quantity("liquid_min", "coldest liquid", TEMPERATURE, limit="contents_min", instead_of="contents_min"),
    Quantity("liquid_dip", "dip of the coldest liquid below the section's", DIFFERENCE),
    Quantity("dip", "dip of the coldest wall below the section's", DIFFERENCE),
    Quantity("fall_max", "largest fall of the wall at one place", DIFFERENCE),
    Quantity("fall_mean", "fall of the wall's mean at z = 0", DIFFERENCE),
    Quantity("reach", "distance from z = 0 at which a tenth of the dip is left", LENGTH),
    Quantity("sheath_max", "hottest sheath", TEMPERATURE, limit="sheath_max", decimals=1),
    Quantity("sheath_rise", "rise of the hottest sheath above the section's", DIFFERENCE),
    Quantity("leg_heat", "heat through the leg", HEAT),
    Quantity(
        "leg_film",
        "film on the exposed part of the leg, radiation included",
        COEFFICIENT,
        decimals=1,
    ),
    Quantity("leg_heat_held", "heat through the leg, contents at the maintain temperature", HEAT),
    Quantity("heat_sink", "heat sink dQ, contents at the maintain temperature", HEAT),
    Quantity("chi", "point thermal transmittance chi", TRANSMITTANCE, decimals=4),
    Quantity("equivalent_tracer_length", "equivalent tracer length", LENGTH, decimals=3),
    Quantity("equivalent_line_length", "equivalent line length", LENGTH, decimals=3),
    Quantity(
        "allowance_enough", "allowance that just restores the section's coldest wall", LENGTH, decimals=3
    ),
    Quantity("allowance_for_wall_min", "allowance that just keeps the wall's limit", LENGTH, decimals=3),
    Quantity(
        "allowance_for_contents_min", "allowance that just keeps the contents' limit", LENGTH, decimals=3
    ),
    Quantity("allowance", "allowance that is installed", LENGTH, "none", decimals=3),
    Quantity("far_end", "far end of the stretch less the section", DIFFERENCE, "spread"),
    Quantity("closure", "heat balance closure, as a part of the heat that flows", NUMBER, "none"),
)

AROUND_FITTING = (
    *(row for row in AROUND_SUPPORT if not row.pattern.startswith("leg_")),
    *_bodies(),
    Quantity("bare_loss", "heat that leaves bare metal, contents at the maintain temperature", HEAT),
    Quantity("covering_saves", "heat saved by covering what is bare as the line is", HEAT),
)
# In a bend: a section's numbers, of a metre of the pipe's axis, and of a radian of the bend.
IN_ELBOW = (
    *(
        replace(row, peers="never")
        for row in SECTION
        if row.pattern not in ("contents.rayleigh", "contents.prandtl")
    ),
    Quantity("per_radian.heat_in", "heat in a radian", HEAT_A_RADIAN),
    Quantity("per_radian.heat_out", "heat loss a radian", HEAT_A_RADIAN),
    Quantity("per_radian.from_contents", "heat from the contents a radian", HEAT_A_RADIAN),
    Quantity("per_radian.output.<name>", "heat of <name> a radian", HEAT_A_RADIAN),
    Quantity(
        "per_radian.tracer.<name>",
        "length of <name> a radian",
        LENGTH_A_RADIAN,
        "none",
        decimals=4,
    ),
)
# Families of places: what stands before the row's own path, what is said after its words, its rows.
FAMILIES: tuple[tuple[str, str, tuple[Quantity, ...]], ...] = (
    ("", "", SECTION + OVER_TRACERS + OVER_TIME),
    ("elbow.tracers_outside.", " in the elbow, tracers on its outside", IN_ELBOW),
    ("elbow.tracers_inside.", " in the elbow, tracers on its inside", IN_ELBOW),
    ("elbow.", " in the elbow", IN_ELBOW),
    ("supports.<name>.with_allowance.", " at <name>, with its allowance", AROUND_SUPPORT),
    ("supports.<name>.", " at <name>", AROUND_SUPPORT),
    ("fittings.<name>.with_allowance.", " at <name>, with its allowance", AROUND_FITTING),
    ("fittings.<name>.", " at <name>", AROUND_FITTING),
)


@cache
def declared() -> tuple[Quantity, ...]:
    """Every quantity there is, with its whole pattern and words."""
    return tuple(
        replace(
            row,
            pattern=before + row.pattern,
            words=row.words + after,
            place_of=row.place_of and before + row.place_of,
            instead_of=row.instead_of and before + row.instead_of,
        )
        for before, after, rows in FAMILIES
        for row in rows
    )


@cache
def _by_pattern() -> tuple[dict[str, Quantity], tuple[tuple[re.Pattern[str], Quantity], ...]]:
    named = [row for row in declared() if NAME in row.pattern or BODY in row.pattern]
    plain = {row.pattern: row for row in declared() if row not in named}
    return plain, tuple((re.compile(_expression(row.pattern), re.DOTALL), row) for row in named)


def _expression(pattern: str) -> str:
    return re.escape(pattern).replace(re.escape(NAME), "(.+)").replace(re.escape(BODY), "([0-9]+)")


@lru_cache(maxsize=4096)
def quantity(path: str) -> Quantity:
    """What is declared of a path, with the name in its words. A name may itself hold full stops.

    Raises KeyError for a path that is not declared.
    """
    plain, named = _by_pattern()
    if path in plain:
        return replace(plain[path], path=path, keys=tuple(path.split(".")))
    for pattern, row in named:
        if match := pattern.fullmatch(path):
            number = match[match.lastindex or 1]
            given = {NAME: match[1], BODY: number}
            keys = tuple(given.get(key, key) for key in row.pattern.split("."))
            words = row.words.replace(BODY, number).replace(NAME, match[1])
            name = match[1] if NAME in row.pattern else f"body {number}"
            return replace(row, path=path, name=name, words=words, keys=keys)
    raise KeyError(f"{path} is not declared in {__name__}")


def coldest_contents(known: Container[str]) -> str:
    """Of the paths of a section the one that says how cold its contents are: the liquid where there is gas above it."""
    return "liquid.min" if "liquid.min" in known else "contents.min"


def of_moments(path: str) -> str:
    """The path of which another is the coldest or hottest moments; any other path as it is."""
    return path.removesuffix(LOW).removesuffix(HIGH)


@cache
def of_support(path: str) -> Quantity:
    """What is declared of a path as a support's or a fitting's result has it, such as "with_allowance.dip", without a
    name in words.

    Raises KeyError for a path that is not declared.
    """
    try:
        row = quantity(f"supports.{NAME}.{path}")
    except KeyError:
        row = quantity(f"fittings.{NAME}.{path}")
    after = next(after for before, after, _ in FAMILIES if before and row.pattern.startswith(before))
    return replace(row, words=row.words.removesuffix(after), path=path, keys=tuple(path.split(".")))


@cache
def of_elbow(path: str) -> Quantity:
    """What is declared of a path as an elbow's result has it, such as "wall.min" or "per_radian.heat_out".

    Raises KeyError for a path that is not declared.
    """
    row = quantity(f"elbow.{path}")
    words = row.words.removesuffix(" in the elbow")
    return replace(row, words=words, path=path, keys=row.keys[1:])


@cache
def of_episode(path: str) -> Quantity:
    """What is declared of a path as an episode's series have it: a sensor's reading is at "sensors.<name>" itself.

    Raises KeyError for a path that is not declared.
    """
    if not path.startswith("sensors."):
        return quantity(path)
    row = quantity(f"{path}.reading")
    return replace(row, path=path, keys=row.keys[:-1])


def limited(
    paths: Iterable[str], declared_of: Callable[[str], Quantity] = quantity
) -> list[tuple[Limit, Quantity]]:
    """The quantities among some paths that a limit holds, in the order of `LIMITS`; of a support with `of_support`.

    What another of them is held in place of (the contents, where there is liquid) is left out.
    """
    there = [declared_of(path) for path in paths]
    replaced = {row.instead_of for row in there}
    return [
        (limit, row)
        for limit in LIMITS.values()
        for row in there
        if row.limit == limit.name and row.pattern not in replaced
    ]


def places(
    path: str, paths: Iterable[str], declared_of: Callable[[str], Quantity] = quantity
) -> list[Quantity]:
    """Of some paths, those that say where the extreme at a path is, on the clock or along the pipe."""
    pattern = declared_of(path).pattern
    return [row for other in paths if (row := declared_of(other)).place_of == pattern]
