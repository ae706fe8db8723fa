"""A design search: the least value of one key that meets every limit in every condition, by bisection.

Bisection rests on one assumption, which the answer states: above the least value that was found, up to the nearest
value that was tried and met, the limits stay met. The whole path is kept, so that it can be seen.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.case import CaseError
from sim.solve.measures import EVERY_LIMIT

from .axes import Line as AxisLine
from .axes import Point, checked_key, count_points, relative_scale, try_points, value_line, written
from .band import judged_path
from .chance import chances
from .edit import COUNT, Path
from .frame import Frame, in_kelvin
from .quantity import need_number, number_in, text_in
from .row import place_of
from .variants import Study, Variant, variant
from .verdicts import limit_in_words, verdicts
from .words import margin_words, of_list

SCAN = 4  # points tried inside the bracket where its far end does not meet the limits
MOST_STEPS = 60


@dataclass(frozen=True)
class Step:
    """One value tried. met: all limits met as wanted; merit: by how much (K of margin, or probability); in words."""

    point: Point
    met: bool
    merit: float
    words: str


@dataclass(frozen=True)
class SearchResult:
    """The answer. least: the least value that meets everything, None where none was found; below: the largest tried
    below it that does not (None where even the least value allowed does)."""

    name: str
    unit: str
    goal: str
    least: Point | None
    below: Point | None
    path: tuple[Step, ...]
    left_out: tuple[str, ...] = ()

    def in_words(self) -> str:
        """The answer as a sentence, with what it rests on."""
        if self.least is None:
            best = max(self.path, key=lambda step: step.merit, default=None)
            close = f" The nearest was {best.point.text}: {best.words}." if best is not None else ""
            return f"No value of {self.name} that was tried meets {self.goal}.{close}"
        text = f"The least {self.name} that meets {self.goal} is {self.least.text}"
        text += (
            f"; {self.below.text} does not." if self.below is not None else ", the least that was allowed."
        )
        text += f" {len(self.path)} values were tried; between them the limits are taken to stay met once they are."
        if self.left_out:
            text += (
                f" The limits were not held at {of_list(list(self.left_out), 9)}, which the study leaves out."
            )
        return text


@dataclass(frozen=True)
class Space:
    """What is searched: listed points, or a bracket of numbers to within `within`."""

    name: str
    unit: str
    points: tuple[Point, ...]
    low: float = 0.0
    high: float = 0.0
    within: float = 0.0
    at: Callable[[float], Point] | None = None

    @property
    def first(self) -> Point:
        return self.points[-1] if self.at is None else self.at(self.low)


def space(study: Study) -> Space:
    """Lay out the search of a study. Raises CaseError."""
    search, file, raw = study.file.search, study.source, study.base.raw
    assert search is not None
    path = checked_key(search.key, "search.key", file)
    name = search.name or search.key
    if path == COUNT:
        listed = tuple(count_points(search.clocks, search.values, "search", file))
        laid = AxisLine(name, "", path, listed)
    elif search.values is not None:
        laid = value_line(name, path, search.values, search.mode, "search", file, raw)
    else:
        return _bracket(study, path, name)
    try_points(laid, "search", raw, file)
    return Space(name, laid.unit, laid.points)


def _bracket(study: Study, path: Path, name: str) -> Space:
    search, file, raw = study.file.search, study.source, study.base.raw
    assert search is not None
    low, unit = need_number(search.low, "search.low", file)
    high = number_in(search.high, unit, "search.high", file)
    within = number_in(search.within, unit, "search.within", file, difference=True)
    if not low < high or not 0 < within <= high - low:
        raise CaseError(
            "needs low below high, and within between 0 and their difference", file=file, key="search"
        )
    scale = relative_scale(unit, path, search.mode, "search", file, raw)

    def at(value: float) -> Point:
        value = float(f"{value:.12g}")
        return Point(text_in(unit, value), value, ((path, written(value, unit, search.mode, scale)),))

    try_points(AxisLine(name, unit, path, (at(low), at(high))), "search", raw, file)
    return Space(name, unit, (), low, high, within, at)


def variants_at(study: Study, point: Point, number_from: int) -> list[Variant]:
    """The variants that one value needs: one on three meshes, or the whole sample of the uncertain inputs."""
    assert study.file.search is not None
    name = study.file.search.name or study.file.search.key
    if not study.inputs:
        return [variant(study.base, number_from, {name: point.text}, {name: point.number}, point.changes, 3)]
    drawn_variants = []
    for k, values in enumerate(study.sample):
        drawn: dict[str, float | None] = {e.name: float(v) for e, v in zip(study.inputs, values, strict=True)}
        texts = {name: point.text} | {e.name: f"{drawn[e.name]:.5g} {e.unit}".strip() for e in study.inputs}
        changes = point.changes + tuple(e.change(float(v)) for e, v in zip(study.inputs, values, strict=True))
        drawn_variants.append(
            variant(study.base, number_from + k, texts, {name: point.number, **drawn}, changes)
        )
    return drawn_variants


def bisect(place: Space, judge: Callable[[Point], Step], goal: str) -> SearchResult:
    """Find the least value that is met. judge: try one value (computed before, it costs nothing)."""
    path: list[Step] = []

    def met(point: Point) -> bool:
        path.append(judge(point))
        return path[-1].met

    if place.points:
        least, below = _listed(place.points, met)
    else:
        least, below = _numbers(place, met)
    return SearchResult(place.name, place.unit, goal, least, below, tuple(path))


def _listed(points: tuple[Point, ...], met: Callable[[Point], bool]) -> tuple[Point | None, Point | None]:
    # the last first, then the others from the end: a limit may be met only in the middle
    top = next((i for i in reversed(range(len(points))) if met(points[i])), None)
    if top is None:
        return None, None
    bottom = -1
    while top - bottom > 1:
        middle = (top + bottom) // 2
        if met(points[middle]):
            top = middle
        else:
            bottom = middle
    return points[top], points[bottom] if bottom >= 0 else None


def _numbers(place: Space, met: Callable[[Point], bool]) -> tuple[Point | None, Point | None]:
    assert place.at is not None
    if met(place.at(place.low)):
        return place.at(place.low), None
    inside = np.linspace(place.low, place.high, SCAN + 2)[1:-1]
    top = next((float(v) for v in (place.high, *inside) if met(place.at(float(v)))), None)
    if top is None:
        return None, place.at(place.high)
    bottom = place.low
    for _ in range(MOST_STEPS):
        if top - bottom <= place.within:
            break
        middle = 0.5 * (top + bottom)
        if met(place.at(middle)):
            top = middle
        else:
            bottom = middle
    return place.at(top), place.at(bottom)


def judged(study: Study, point: Point, frame: Frame, bands: Any) -> Step:
    """Whether one value meets what is wanted, from its finished rows."""
    search = study.file.search
    assert search is not None
    failed = [reason for reason, ok in zip(frame.reasons, frame.ok, strict=True) if not ok]
    if search.probability is not None:
        estimates = chances(frame, bands, np.arange(len(frame)), study.file.sampling.confidence)
        if not estimates:
            return Step(point, False, -1.0, failed[0] if failed else "the case has no limits")
        last = estimates[-1]
        return Step(
            point, last.low >= search.probability, last.low, f"all limits hold with {last.in_words()}"
        )
    if failed:
        return Step(point, False, -math.inf, failed[0])
    besides = number_in(search.margin, "K", "search.margin", study.source)
    least, words, sure = math.inf, "the case has no limits", True
    for condition, by_key in frame.margins.items():
        for key, column in by_key.items():
            margin = float(column[0])
            band = bands.of(condition, judged_path(key, frame.values[condition]), 0)
            verdict = verdicts(frame, bands, condition, key)[0]
            limit, of_temperature = place_of(key)[0], in_kelvin(key)
            clear = (margin - band) / EVERY_LIMIT[limit].measure.display[0]
            clear = -math.inf if math.isnan(clear) else clear
            # the margin wanted besides is in K; other limits are met where they pass
            sure &= verdict == "pass" and (clear > besides or not of_temperature)
            if clear < least:
                least = clear
                words = (
                    f"{limit_in_words(key)} in {condition} clears its limit by "
                    f"{margin_words(limit, margin, band)}"
                    if math.isfinite(margin)
                    else f"{limit_in_words(key)} in {condition} was {verdict}"
                )
            if frame.bracketed.get(condition, [False])[0]:
                words += ", a bracket" if verdict == "pass" else ", a bracket on which no pass is built"
    return Step(point, sure and math.isfinite(least), least, words)
