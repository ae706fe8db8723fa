"""What the axes of a study say, in words: what a result does along an axis, and which limits hold where."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.case import Case, CaseError, case_for, parse_case
from sim.case.overrides import acts_under
from sim.judge.reasons import NO_ASYMMETRY, asymmetries
from sim.solve.paths import quantity

from .axes import Line
from .band import Bands
from .edit import COUNT, Path, edited, expanded
from .frame import Frame
from .supports import left_out
from .variants import Base, Study, unheld
from .verdicts import in_words, keys, tally
from .words import amount, band_unit, displayed, is_temperature, number, of_list, quoted, spoken, unit, verb

# combinations of the other axes that each get sentences of their own; of more, one sentence for all
MOST_SERIES = 4


@dataclass(frozen=True)
class Series:
    """Rows along one axis with all other axes (others) fixed: their places in the frame, in the axis' order."""

    axis: Line
    others: dict[str, str]
    rows: list[int]

    def label(self) -> str:
        return ", ".join(f"{name} {quoted(text)}" for name, text in self.others.items())


@dataclass(frozen=True)
class Statement:
    """One sentence. kind: "change", "none" (inside the band), "limit", "why" or "note"."""

    kind: str
    text: str


@dataclass(frozen=True)
class Change:
    """How far a result moves along one axis, with its band (K or W/m), and the sentence that says it ("" within it)."""

    one: Series
    name: str
    size: float
    band: float
    unit: str
    sentence: str

    @property
    def moves(self) -> bool:
        """Whether three decimals show it, or it is beyond its band."""
        return bool(self.sentence) or self.size >= 0.5e-3


def series(frame: Frame, axis: Line, lines: tuple[Line, ...]) -> list[Series]:
    """The rows of a study sorted into lines along one axis; paired axes move with it."""
    paired = {e.name for e in lines if e.pair is not None and e.pair == axis.pair}
    others = [e for e in lines if e is not axis and e.name not in paired]
    order = {point.text: n for n, point in enumerate(axis.points)}
    rows_by_texts: dict[tuple[str, ...], list[int]] = {}
    for i in range(len(frame)):
        rows_by_texts.setdefault(tuple(frame.texts[e.name][i] for e in others), []).append(i)
    return [
        Series(
            axis,
            {e.name: t for e, t in zip(others, texts, strict=True)},
            sorted(rows, key=lambda i: order[frame.texts[axis.name][i]]),
        )
        for texts, rows in rows_by_texts.items()
    ]


def statements(
    frame: Frame, bands: Bands, lines: tuple[Line, ...], paths: list[str], base: Base
) -> list[Statement]:
    """Everything the axes say, shortest first where something is to be said of the whole study."""
    written = limit_statements(frame, bands)
    for axis in lines:
        if len(axis.points) < 2 or any(axis.pair and axis.pair == e.pair for e in lines[: lines.index(axis)]):
            continue
        every = series(frame, axis, lines)
        for condition in frame.conditions:
            changes_of = [[change(frame, bands, one, condition, path) for one in every] for path in paths]
            by_path = [[c for c in changes if c is not None] for changes in changes_of]
            if len(every) <= MOST_SERIES:
                for changes in by_path:
                    written += [Statement("change", text) for text in sentences(condition, changes)]
                for one in every:
                    written += unchanged(one, condition, [c for cs in by_path for c in cs if c.one is one])
            else:
                written += [Statement(*over_all(condition, changes)) for changes in by_path if changes]
        written += why(frame, axis, base)
    return written


def sentences(condition: str, changes: list[Change]) -> list[str]:
    """What one result does along one axis: a sentence for each combination of the others, one where all are alike."""
    texts = [c.sentence for c in changes if c.sentence]
    tails = {text.partition(": ")[2] for text in texts}
    if len(texts) < 2 or len(texts) < len(changes) or len(tails) > 1:
        return texts
    others = of_list(list(changes[0].one.others))
    return [f"{condition}: {tails.pop().removesuffix('.')}, whatever the {others}."]


def over_all(condition: str, changes: list[Change]) -> tuple[str, str]:
    """(kind, sentence) for one result along one axis, over all combinations of the other axes."""
    least, most = min(changes, key=lambda c: c.size), max(changes, key=lambda c: c.size)
    beyond = sum(bool(c.sentence) for c in changes)
    name, axis, of = most.name, most.one.axis.name, most.unit
    if not any(c.moves for c in changes):
        text = (
            f"{condition}: along {axis} the {name} {verb(name, 'does', 'do')} not move, to three decimals, in any of "
            f"{len(changes)} combinations."
        )
        return "none", text
    if not beyond:
        text = (
            f"{condition}: along {axis} the {name} {verb(name, 'does', 'do')} not change beyond the numerical "
            f"band in any of {len(changes)} combinations "
            f"({number(most.size, 3)} {of} at most, band ± {number(most.band, 3)} {of})."
        )
        return "none", text
    inside = "" if beyond == len(changes) else f" In {len(changes) - beyond} of them it is inside the band."
    text = (
        f"{condition}: along {axis} the {name} {verb(name, 'moves', 'move')} by {amount(least.size, least.band)} {of} "
        f"({least.one.label()}) to {amount(most.size, most.band)} {of} ({most.one.label()}), over {len(changes)} "
        f"combinations.{inside}"
    )
    return "change", text


def unchanged(one: Series, condition: str, changes: list[Change]) -> list[Statement]:
    """All results that do not change beyond their bands, in one sentence."""
    within = [c for c in changes if not c.sentence]
    if not within:
        return []
    where = ", ".join(part for part in (condition, one.label()) if part)
    sizes = [f"{w.name} {number(w.size, 3)} (± {number(w.band, 3)}) {w.unit}" for w in within if w.moves]
    at_rest = [w.name for w in within if not w.moves]
    text = f"{where}: along {one.axis.name} no change beyond the numerical band"
    text += f" (in brackets). Largest change of: {of_list(sizes, 20)}." if sizes else "."
    text += f" Not moved, to three decimals: {of_list(at_rest, 20)}." if at_rest else ""
    return [Statement("none", text)]


def change(frame: Frame, bands: Bands, one: Series, condition: str, path: str) -> Change | None:
    """What a result does along one axis; None where it is not there."""
    column = frame.values[condition].get(path)
    rows = [i for i in one.rows if column is not None and np.isfinite(column[i])]
    if column is None or len(rows) < 2:
        return None
    values = column[rows]
    low, high = rows[int(np.argmin(values))], rows[int(np.argmax(values))]
    first, last = rows[0], rows[-1]
    steps = np.diff(values)
    monotone = bool((steps >= 0).all() or (steps <= 0).all())
    where = ", ".join(part for part in (condition, one.label()) if part)
    name, of = spoken(path), band_unit(path)
    at = frame.texts[one.axis.name]

    def place(i: int) -> str:
        return f"{at[i]} o'clock" if one.axis.is_clock else quoted(at[i])

    def value(i: int) -> str:
        marked = frame.bracketed.get(condition)
        return shown(path, float(column[i]), bool(marked is not None and marked[i]))

    band = bands.difference(condition, path, low, high)
    size = abs(quantity(path).measure.apart(float(column[high]), float(column[low])))
    if size <= band:
        return Change(one, name, size, band, of, "")
    if monotone or len(rows) == 2:
        falls = column[last] < column[first]
        word = verb(name, "falls", "fall") if falls else verb(name, "rises", "rise")
        if one.axis.numeric:
            step = f"{one.axis.name} from {place(first)} to {place(last)}"
        else:
            step = f"{one.axis.name} {place(last)} instead of {place(first)}"
        text = (
            f"{where}: {step}: the {name} {word} by {amount(size, band)} {of}, from {value(first)} to "
            f"{value(last)}."
        )
    else:
        extremes = [f"{place(i)} ({value(i)})" for i in (low, high)]
        text = (
            f"{where}: along {one.axis.name} the {name} {verb(name, 'is', 'are')} lowest at {extremes[0]} and highest "
            f"at {extremes[1]}, {amount(size, band)} {of} apart."
        )
    return Change(one, name, size, band, of, text)


def shown(path: str, value: float, bracket: bool = False) -> str:
    """A stored value with its unit: "19.5 degC"."""
    decimals = 1 if is_temperature(path) else quantity(path).decimals
    text = f"{number(displayed(path, value), decimals)} {unit(path)}".strip()
    return f"{text} (bracket)" if bracket else text


def limit_statements(frame: Frame, bands: Bands) -> list[Statement]:
    """Which limits hold, are missed, too close to call or not evaluated, over all variants and conditions."""
    tallies = (tally(frame, bands, key, frame.conditions) for key in keys(frame))
    return [Statement("limit", in_words(one)) for one in tallies if one.total]


def why(frame: Frame, axis: Line, base: Base) -> list[Statement]:
    """For an axis of clock positions: why it matters, or why it cannot."""
    if not axis.is_clock:
        return []
    try:
        case = parse_case(edited(base.raw, axis.points[0].changes), varied=True)
    except CaseError:
        return []
    by_text: dict[str, list[str]] = {}
    for name in base.conditions:
        reasons = asymmetries(case_for(case, name))
        text = f"the clock position matters because {of_list(list(reasons), 9)}." if reasons else NO_ASYMMETRY
        by_text.setdefault(text, []).append(name)
    return [Statement("why", f"{of_list(names, 9)}: {text}") for text, names in by_text.items()]


def overruled(study: Study) -> list[Statement]:
    """Conditions that set a varied key themselves, so that what is varied does not act in them."""
    changes = [change for e in study.lines for point in e.points for change in point.changes]
    paths = dict.fromkeys([path for path, _ in changes] + [entry.path for entry in study.inputs])
    return [
        Statement(
            "note",
            f"{condition.name} sets {'.'.join(path)} itself: what the study varies does not act in it.",
        )
        for condition in study.case.conditions
        if condition.name in study.base.conditions
        for path in paths
        if not _acts(study.base, condition.overrides, path)
    ]


def _acts(base: Base, overrides: dict[str, Any], path: Path) -> bool:
    if path[0] == "condition":
        return True
    if path == COUNT:
        return not isinstance(overrides.get("tracer"), list)
    try:
        return all(acts_under(base.raw, overrides, single) for single in expanded(base.raw, path))
    except CaseError:  # an entry that another change of the variant makes
        return True


def unseen(case: Case, base: Base) -> list[Statement]:
    """Supports, fittings, conditions and episodes that the study leaves out."""
    there = {
        "support": [support.name for support in case.supports],
        "fitting": [fitting.name for fitting in case.fittings],
    }
    hidden = left_out(case, base.supports)
    skipped = {kind: [name for name in names if name in hidden] for kind, names in there.items()}
    skipped["condition"] = [c.name for c in case.conditions if c.name not in base.conditions]
    skipped["episode"] = [episode.name for episode in case.episodes if episode.name not in base.episodes]
    notes = []
    for kind, names in skipped.items():
        if names:
            what = f"{kind}s {of_list(names, 9)} were" if len(names) > 1 else f"{kind} {names[0]} was"
            how = "not followed" if kind == "episode" else "left out as the study asks"
            notes.append(Statement("note", f"The {what} {how}: no limit is said to hold there."))
    if unheld(case, base):
        text = (
            "Limits of the case stand where something was left out: the study does not end with exit code 0."
        )
        notes.append(Statement("note", text))
    if base.episodes:
        text = (
            "An episode's temperatures are its least and largest, of what a limit holds over the part of it where it "
            "counts; the usual uncertainty of the inputs, and an output margin, are not evaluated there."
        )
        notes.append(Statement("note", text))
    return notes
