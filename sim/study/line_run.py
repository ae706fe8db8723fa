"""A line's fields, each computed once and kept in the study's store, and the line in every condition from them."""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

from sim.case import CaseError, to_toml
from sim.judge.limits import Verdict, worst
from sim.solve.at_rest import FINENESS
from sim.solve.steady import NotConverged

from .line import Key, LineAnswer, answer, first_like, kinds_of
from .line_episodes import OverTime, followed, over_time
from .line_file import Line, line_in
from .program import program_version
from .run import Row
from .stations import APART, Facts, Kind, facts
from .store import Store
from .variants import Variant

ROLE = "line"
EPISODE = ":episode:"  # before the name of an episode, in what is solved of a whole case


@dataclass(frozen=True)
class LineStudy:
    """A line, its answers by condition, the facts behind them by condition and kind, and how many of these were
    computed now and in how many seconds; episodes: its places in them, where they were asked for."""

    line: Line
    answers: tuple[LineAnswer, ...]
    facts: dict[str, dict[Key, Facts]]
    computed: int
    kept: int
    seconds: float
    episodes: tuple[OverTime, ...] = ()

    @property
    def verdict(self) -> Verdict:
        return worst([*(one.verdict for one in self.answers), *(one.verdict for one in self.episodes)])


def key_of_kind(kind: Kind, program: str) -> str:
    """Of the case in its condition, what is solved of it, the meshes and the program."""
    weather = [repr((e.file.time, e.file.values)) for e in kind.case.episodes if e.file is not None]
    text = "\0".join([to_toml(kind.case), kind.what, f"{kind.fineness!r}", program, *weather])
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:32]


def row_of_kind(job: tuple[str, Kind]) -> Row:
    """One kind as a row of the store; never raises for a field that cannot be computed: the row says why."""
    key, kind = job
    begin, cpu = perf_counter(), process_time()
    results: dict[str, dict[str, dict[str, Any]]] = {}
    status, reason = "done", ""
    try:
        if kind.what.startswith(EPISODE):
            part = followed(kind.case, kind.what.removeprefix(EPISODE), kind.fineness)
        else:
            numbers = facts(kind)
            part = {name: float(x) if abs(x) < float("inf") else None for name, x in numbers.items()}
        results = {kind.case.conditions[0].name: {kind.what: part}}
    except NotConverged as error:
        status, reason = "failed", f"did not converge: {error}"
    except CaseError as error:
        status, reason = "failed", f"{error.key}: {error.message}"
    except ValueError as error:
        status, reason = "failed", str(error)
    return Row(key, status, reason, results, perf_counter() - begin, process_time() - cpu)


def run_line(
    line: Line,
    folder: Path,
    *,
    fineness: float = FINENESS,
    processes: int = 1,
    progress: Callable[[str, str], None] | None = None,
    episodes: bool = False,
) -> LineStudy:
    """Solve what is not in the store yet, and put the line together; episodes: follow those of its cases at the places
    that have one. Raises CaseError, NotConverged, ValueError."""
    program, begin = program_version(), perf_counter()
    fields = _fields(line, fineness, program)
    courses = _courses(line, fineness, program) if episodes else {}
    wanted = dict([*fields.values(), *courses.values()])
    with Store(folder / "line.sqlite", program) as store:
        store.begin_run(f"{processes} processes", Path(line.source).read_text(encoding="utf-8-sig"), "")
        computed = _compute(store, wanted, processes, progress)
        rows = {stored.row.key: stored.row for stored in store.stored(ROLE)}
    by_condition: dict[str, dict[Key, Facts]] = {}
    for (condition, at), (key, kind) in fields.items():
        row = rows[key]
        if row.status != "done":
            raise NotConverged(
                f"{kind.what} of {line.file.stretches[at[0]].name} in {condition}: {row.reason}"
            )
        numbers = row.results[condition][kind.what]
        by_condition.setdefault(condition, {})[at] = {
            name: float("nan") if value is None else float(value) for name, value in numbers.items()
        }
    parts = {}
    for course, (key, kind) in courses.items():
        row = rows[key]
        failed = {"why": row.reason, "coldest": {}, "checks": []}
        parts[course] = (
            row.results[kind.case.conditions[0].name][kind.what] if row.status == "done" else failed
        )
    answers = tuple(answer(line, c, by_condition[c], episodes) for c in line.conditions)
    places = over_time(line, parts) if episodes else ()
    kept = len(wanted) - computed
    return LineStudy(line, answers, by_condition, computed, kept, perf_counter() - begin, places)


Job = tuple[str, Kind]  # key in the store, and what is solved


def _fields(line: Line, fineness: float, program: str) -> dict[tuple[str, Key], Job]:
    """What the line needs solved, by condition, stretch and kind."""
    fields = {}
    for condition in line.conditions:
        here = line_in(line, condition)
        for stretch, what in kinds_of(here):
            kind = Kind(here.cases[stretch], what, fineness)
            fields[condition, (stretch, what)] = key_of_kind(kind, program), kind
    return fields


def _courses(line: Line, fineness: float, program: str) -> dict[tuple[int, str], Job]:
    """What the line needs followed, by stretch and episode."""
    courses = {}
    for s in dict.fromkeys(first_like(line, s) for s in range(len(line.cases))):
        for episode in line.cases[s].episodes:
            kind = Kind(line.cases[s], EPISODE + episode.name, fineness)
            courses[s, episode.name] = key_of_kind(kind, program), kind
    return courses


def _compute(
    store: Store, wanted: dict[str, Kind], processes: int, progress: Callable[[str, str], None] | None
) -> int:
    """Compute what the store does not have, by key; returns how many. Raises NotConverged if a process is lost."""
    from .pool import local

    plan = [
        Variant(n, {"what": kind.what, "condition": kind.case.conditions[0].name}, {}, (), key)
        for n, (key, kind) in enumerate(wanted.items())
    ]
    store.plan(ROLE, plan)
    store.forget_failures(ROLE)
    done = store.keys()
    missing = [(key, kind) for key, kind in wanted.items() if key not in done]
    computing = local(min(processes, max(len(missing), 1)))(row_of_kind, missing)
    for n, ((_, kind), row, lost) in enumerate(computing, start=1):
        if row is None:
            raise NotConverged(f"{kind.what}: {lost}")
        store.put(row)
        if progress is not None:
            what = kind.what.strip(APART).replace(APART, " ")
            progress(f"{kind.case.conditions[0].name}, {what}", f"{n} of {len(missing)} fields")
    return len(missing)
