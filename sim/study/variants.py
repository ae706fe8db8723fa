"""The variants of a study: what each changes, its key in the store, and the study as it is laid out on its case."""

import hashlib
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from sim.case import Case, CaseError, case_for, load_case
from sim.case.toml import read_toml
from sim.case.validation_errors import case_error
from sim.solve.measures import LIMITS

from .axes import Line, combinations, lines, size
from .edit import Change, Relative
from .episodes import chosen_episodes, place_name, refuse_unfollowed
from .program import program_version
from .sampling import Array, Input, inputs, sample, sample_size
from .schema import StudyFile
from .supports import ALL, NONE, chosen, chosen_supports, left_out, refuse_unseen
from .words import check_keep


@dataclass(frozen=True)
class Base:
    """What all variants of a study share: the raw case (only the conditions that are run), meshes, fineness.

    supports: names of those that are computed; None for all. episodes: names of those that are followed.
    """

    raw: dict[str, Any]
    source: str
    conditions: tuple[str, ...]
    meshes: int
    fineness: float
    digest: str = field(default="")
    supports: tuple[str, ...] | None = None
    episodes: tuple[str, ...] = ()

    @property
    def places(self) -> tuple[str, ...]:
        """The conditions, and after them the episodes that are followed."""
        return (*self.conditions, *(place_name(name) for name in self.episodes))


@dataclass(frozen=True)
class Variant:
    """One variant: its number in the study, its place on each axis as written and as a number, and its changes."""

    number: int
    texts: dict[str, str]
    numbers: dict[str, float | None]
    changes: tuple[Change, ...]
    key: str
    meshes: int | None = None  # None: as the base says


@dataclass(frozen=True)
class Study:
    """A study laid out on its case. sample: in the inputs' units, shape (samples, inputs)."""

    file: StudyFile
    source: str
    case: Case
    base: Base
    lines: tuple[Line, ...]
    inputs: tuple[Input, ...]
    sample: Array

    @property
    def size(self) -> int:
        return size(self.lines) * len(self.sample)


def load_study(path: str | FilePath, *, most: int | None = None) -> Study:
    """Read a study file and its case, and lay it out. Raises CaseError: one message with file and key.

    most: refuse a study of more variants than this, before anything is drawn or listed.
    """
    name = str(path)
    file = parse_study(read_toml(name, "study"), name)
    case_path = FilePath(name).parent / file.case
    try:
        there = case_path.is_file()
    except OSError:  # a name too long to be one
        there = False
    if not there:
        raise CaseError(f'there is no case file "{file.case}" beside the study', file=name, key="case")
    case = load_case(case_path)
    return lay_out(file, name, case, read_toml(case_path, "case"), most=most)


def parse_study(raw: dict[str, Any], source: str = "<dict>") -> StudyFile:
    """The study file of a nested dict. Raises CaseError."""
    try:
        return StudyFile.model_validate(raw)
    except ValidationError as error:
        raise case_error(error, StudyFile, raw, source) from None


def lay_out(
    file: StudyFile, source: str, case: Case, raw: dict[str, Any], *, most: int | None = None
) -> Study:
    """A study laid out on a raw case that `case` was read from. Raises CaseError."""
    base = base_of(file, source, case, raw)
    check_keep(file.keep, case, source, base.episodes)
    refuse_unfollowed(file, source, base.episodes)
    laid = lines(file, base.raw, source)
    total = size(laid) * sample_size(file)
    if most is not None and total > most:
        parts = [str(len(entry.points)) for entry in laid] + [str(sample_size(file))] * bool(file.uncertain)
        message = (
            f"makes {total:,} variants ({' x '.join(parts)}), more than {most:,}; give --yes to run them"
        )
        raise CaseError(message, file=source)
    uncertain = inputs(file, base.raw, source)
    refuse_unseen(file, source, case, base.supports, laid, uncertain)
    return Study(file, source, case, base, laid, uncertain, sample(file, uncertain, source))


def base_of(file: StudyFile, source: str, case: Case, raw: dict[str, Any]) -> Base:
    """What the variants share. Raises CaseError for a condition that the case does not have."""
    known = [condition.name for condition in case.conditions]
    run = chosen(ALL if file.conditions is None else file.conditions, known, "condition", source)
    if not run:
        raise CaseError("is empty; accepted: names of conditions", file=source, key="conditions")
    conditions = [entry for entry in raw["condition"] if entry.get("name") in run]
    # The design's maintain temperature is what a support's heat sink is told at; nothing else depends on the design.
    episodes = chosen_episodes(file, case, source, list(run))
    needed = "support" in raw or "fitting" in raw or episodes
    unused = ("title",) if needed else ("title", "design")
    if not episodes:
        unused = (*unused, "episode", "control")
    shared = {k: v for k, v in raw.items() if k not in unused} | {"condition": conditions}
    if episodes:  # those of a condition that is left out would name none
        shared["episode"] = [entry for entry in raw["episode"] if entry.get("condition") in run]
    names = tuple(entry["name"] for entry in conditions)
    fineness = file.fineness or (1.5 if file.meshes == 1 else 3.0)
    supports = chosen_supports(file, case, source)
    digest = _digest(
        {
            "case": shared,
            "conditions": names,
            "fineness": fineness,
            "supports": supports,
            "episodes": episodes,
            "program": program_version(),
        }
    )
    return Base(shared, str(case._source), names, file.meshes, fineness, digest, supports, episodes)


def variants(study: Study) -> Iterator[Variant]:
    """Every variant of the axes and samples, one at a time, in an order that keeps meshes together."""
    number = 0
    for picked in combinations(study.lines):
        texts = {name: point.text for name, point in picked.items()}
        numbers = {name: point.number for name, point in picked.items()}
        fixed = tuple(change for point in picked.values() for change in point.changes)
        for values in study.sample:
            drawn = {entry.name: float(v) for entry, v in zip(study.inputs, values, strict=True)}
            changes = fixed + tuple(e.change(drawn[e.name]) for e in study.inputs)
            spoken = {e.name: f"{drawn[e.name]:.5g} {e.unit}".strip() for e in study.inputs}
            yield variant(study.base, number, texts | spoken, {**numbers, **drawn}, changes)
            number += 1


def variant(
    base: Base,
    number: int,
    texts: dict[str, str],
    numbers: dict[str, float | None],
    changes: tuple[Change, ...],
    meshes: int | None = None,
) -> Variant:
    """A variant with its key: a hash of the case, what is changed, the meshes and the program."""
    written = [
        [list(path), [value.factor, value.shift, "relative"] if isinstance(value, Relative) else value]
        for path, value in changes
    ]
    key = _digest({"base": base.digest, "changes": written, "meshes": meshes or base.meshes})
    return Variant(number, texts, numbers, changes, key, meshes)


def refined(study: Study, of: Variant) -> Variant:
    """The same variant on three meshes."""
    return variant(study.base, of.number, of.texts, of.numbers, of.changes, meshes=3)


def unheld(case: Case, base: Base) -> list[str]:
    """Whatever of the case the study leaves out although a limit is given there: supports, conditions, episodes."""
    limits = {c.name: case_for(case, c.name).limits for c in case.conditions}
    given = {
        name
        for name, of_condition in limits.items()
        if any(getattr(of_condition, limit) is not None for limit in LIMITS)
    }
    names = left_out(case, base.supports) if given & set(base.conditions) else []
    names += [f"condition {c.name}" for c in case.conditions if c.name in given - set(base.conditions)]
    idle = [episode for episode in case.episodes if episode.name not in base.episodes]
    return names + [f"episode {e.name}" for e in idle if e.condition in given or e.limits is not None]


def _digest(content: dict[str, Any]) -> str:
    text = json.dumps(content, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:32]


UNASKED = 60  # fields around supports that are computed without being asked for


def fields(study: Study) -> int:
    """Fields around supports that the study computes, of a search the most it can try."""
    count = len(study.case.interruptions) - len(left_out(study.case, study.base.supports))
    search = study.file.search
    tries = study.size
    if search is not None and search.low is not None:
        tries *= 12
    elif search is not None:
        tries *= 2 + math.ceil(math.log2(max(len(search.values or search.clocks or ()), 2)))
    return tries * len(study.base.conditions) * count


def must_ask(study: Study) -> bool:
    """Whether the study has more fields around supports than are computed unasked."""
    return study.file.supports is None and fields(study) > UNASKED


def priced(study: Study, seconds: float, processes: int) -> CaseError:
    """The refusal of a study whose supports nobody asked for. seconds: that its first variant took."""
    total = seconds * study.size / max(processes, 1)
    names = ", ".join(support.name for support in study.case.interruptions)
    message = (
        f"is missing: {fields(study):,} fields around supports ({names}) are to be computed, more than {UNASKED}; "
        f"the first of {study.size:,} variants took {seconds:.1f} s, all of them about {duration(total)} on "
        f'{processes} processes. Accepted: "{ALL}", a list of names, or "{NONE}" (then no limit is said to hold at '
        "them)"
    )
    return CaseError(message, file=study.source, key="supports")


def duration(seconds: float) -> str:
    """ "40 s", "5 min", "2.5 h"."""
    if seconds < 90:
        return f"{max(1, round(seconds))} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"
