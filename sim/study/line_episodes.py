"""Episodes at the places of a line: the section's own on a stretch, those around a support or a fitting at a station.

Each place stands alone on an endless line: its neighbours are not counted, and nothing is put together along the line
over time. Wall and contents between stations need hours to settle, so that a fin that settles at once would be no
answer. A place that no episode of its case follows is not evaluated, and is told.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from math import isnan, nan
from typing import Any

from sim.case import Case, case_for
from sim.case.episode import Episode
from sim.judge.limits import LimitCheck, Verdict, worst
from sim.judge.support import judge_support
from sim.solve.at_rest import FINENESS, MeshStore
from sim.solve.measures import LIMITS
from sim.solve.paths import of_episode
from sim.solve.section import solve_section

from .line_file import Line, Standing
from .row import Part, plain

COLDEST = (
    "wall.min",
    "contents.min",
    "liquid.min",
    "hollows.",
)  # paths of what is coldest over time, or how they begin
OTHERWISE = "no episode of its case follows it"
NOT_THE_CASES = "its allowance is not the case's, which the episodes around it have"


@dataclass(frozen=True)
class OverTime:
    """A place of a line in one episode, or in none. station: its number, -1 of a stretch; place: m from its start.

    coldest: by path the least value (K), its band and its moment (s); checks: limits held; why: it is not evaluated.
    """

    label: str
    stretch: int
    station: int
    place: float
    condition: str
    episode: str
    coldest: Mapping[str, tuple[float, float, float]]
    checks: tuple[LimitCheck, ...]
    why: str = ""

    @property
    def verdict(self) -> Verdict:
        return "not evaluated" if self.why else worst([check.verdict for check in self.checks])


def followed(case: Case, name: str, fineness: float) -> Part:
    """An episode of a case as plain numbers: its limits, and what is coldest when; or why it has none. Raises
    ValueError if the section cannot be meshed."""
    from sim.judge.episode_answers import judge_episodes, wanted

    chosen = wanted(case, [name])
    around = dict.fromkeys((e.condition, e.support) for e in chosen if e.support is not None)
    store, supports = MeshStore(), []
    for condition, support in around:
        narrowed = case_for(case, condition)
        what = next(one for one in narrowed.interruptions if one.name == support)
        section = solve_section(narrowed, store, fineness)
        supports.append(judge_support(narrowed, what, section, fineness / FINENESS))
    answer = judge_episodes(case, chosen, store, fineness, supports=supports)[-1]
    checks = [asdict(check) | {"inputs": []} for check in answer.limits]
    coldest = {
        path: [one.min.value, one.min.band, one.min_at.value]
        for path, one in answer.extremes.items()
        if path.startswith(COLDEST) and of_episode(path).measure.absolute and path.endswith(".min")
    }
    return {
        "why": answer.trouble,
        "coldest": {path: list(plain(dict(enumerate(row))).values()) for path, row in coldest.items()},
        "checks": [
            check | plain({k: v for k, v in check.items() if isinstance(v, float)}) for check in checks
        ],
    }


def _number(value: Any) -> float:
    return nan if value is None else float(value)


def _check(row: Mapping[str, Any]) -> LimitCheck:
    numbers = ("value", "band", "allowed", "margin", "spare")
    return LimitCheck(**{**row, "inputs": (), **{k: _number(row[k]) for k in numbers}})


def over_time(line: Line, parts: Mapping[tuple[int, str], Part]) -> tuple[OverTime, ...]:
    """Every place of a line in every episode that follows it; parts: of `followed`, by the first stretch alike and
    name."""
    places: list[OverTime] = []
    for s, stretch in enumerate(line.file.stretches):
        case = line.cases[s]
        if not case.episodes:
            continue
        straight = [e for e in case.episodes if e.support is None]
        places += _at(f"on {stretch.name}", s, -1, line.starts[s], straight, line, parts, OTHERWISE)
        for k, one in enumerate(line.stations):
            if one.stretch == s:
                around = [e for e in case.episodes if e.support is not None and e.support == _name(one)]
                usual = {x.name: x.allowance for x in case.interruptions}.get(_name(one))
                as_case = one.given is None or one.given == usual
                why = OTHERWISE if as_case or not around else NOT_THE_CASES
                places += _at(one.label, s, k, one.place, around if as_case else [], line, parts, why)
    return tuple(places)


def _name(one: Standing) -> str:
    return getattr(one.support, "name", "")


def _at(
    label: str, stretch: int, station: int, place: float, episodes: list[Episode], line: Line,
    parts: Mapping[tuple[int, str], Part], otherwise: str,
) -> list[OverTime]:  # fmt: skip
    """A place in the episodes that follow it, or in none."""
    case = line.cases[stretch]
    first = next(t for t in range(len(line.cases)) if line.cases[t] is case)
    places = []
    for episode in episodes:
        part = parts[first, episode.name]
        rows = {path: [_number(x) for x in row] for path, row in part["coldest"].items()}
        coldest = {path: (row[0], row[1], row[2]) for path, row in rows.items()}
        checks = tuple(_check(row) for row in part["checks"])
        where = (label, stretch, station, place, episode.condition, episode.name)
        places.append(OverTime(*where, coldest, checks, part["why"]))
    given = any(getattr(case.limits, name) is not None for name in LIMITS)
    given = given or any(e.limits is not None for e in case.episodes)
    if not places and given:
        places.append(OverTime(label, stretch, station, place, "", "", {}, (), otherwise))
    return places


def coldest_over_time(places: tuple[OverTime, ...], part: str) -> tuple[OverTime, str] | None:
    """The coldest place of the wall, or of the contents, over all episodes, and the path there; None where none is."""
    there = [
        (one, path)
        for one in places
        for path, (value, _, _) in one.coldest.items()
        if (path == "wall.min") == (part == "wall") and not isnan(value)
    ]
    return min(there, key=lambda one: one[0].coldest[one[1]][0], default=None)
