"""The limit that decides: of all limits, conditions and places the one missed by most, or met by least."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

from sim.judge.check import Answer
from sim.judge.limits import Judged, LimitCheck, asked_margin, worst
from sim.judge.support import SupportAnswer
from sim.report.words import clock, inputs_text, margin_text, number, with_band
from sim.solve.convergence import Banded
from sim.solve.measures import CLOCK, EVERY_LIMIT, Measure
from sim.solve.paths import of_support, places, quantity


@dataclass(frozen=True)
class PlacedCheck:
    """One limit held at one place. place: "section", or the support's name and how it was solved; at: where in it."""

    condition: str
    place: str
    at: str
    check: LimitCheck

    @property
    def measure(self) -> Measure:
        return EVERY_LIMIT[self.check.limit].measure

    @property
    def unit(self) -> str:
        return self.measure.display[1]

    @property
    def limit(self) -> str:
        """The limit with its value: "wall not below 35.0 degC"."""
        named = self.place.startswith((SECTION, ELBOW, EPISODE)) and self.check.quantity
        name, per = quantity(self.check.quantity).name if named else "", self.measure.display[0]
        allowed = number(self.measure.shown(self.check.allowed) / per, 1)
        return f"{EVERY_LIMIT[self.check.limit].words(name)} {allowed} {self.unit}".strip()

    @property
    def value(self) -> str:
        """Value and band, without a unit."""
        per = self.measure.display[0]
        return with_band(self.measure.shown(self.check.value) / per, self.check.band / per)

    @property
    def margin(self) -> str:
        """The margin as it is judged, less what is asked for besides, with its unit."""
        per, _, unit = self.measure.display
        return f"{margin_text(self.check.left / per, self.check.band / per)} {unit}".strip()

    @property
    def outcome(self) -> str:
        """By how much it is missed or met."""
        if not isfinite(self.check.margin):
            return self.check.verdict if self.check.verdict == "not evaluated" else "no value"
        words = {"fail": "missed by", "pass": "met by"}
        besides = " beyond the margin asked for" if self.check.left != self.check.margin else ""
        if self.check.verdict == "fail" and besides:
            besides = " with the margin asked for"
        if self.check.verdict in words:
            return f"{words[self.check.verdict]} {self.margin.lstrip('+-')}{besides}"
        return f"margin {self.margin}{besides}, {self.check.verdict}"

    def in_words(self) -> str:
        """The whole of it: limit, outcome, place, condition, value."""
        where = f"{self.value} {self.unit}".strip() + (self.at and f" at {self.at}")
        if not isfinite(self.check.value):
            where = self.check.note
        return f"{self.limit}, {self.outcome}: {self.place}, {self.condition}, {where}"


SECTION, ELBOW, EPISODE = "section", "elbow", "episode"


def all_checks(answer: Answer) -> list[PlacedCheck]:
    """Every limit that had something to be held against, in the order of conditions, sections before supports."""
    checks = []
    for one in answer.judged:
        built = ""
        if isinstance(one, SupportAnswer) and one.result is not None:
            built = " with its allowance" if one.result.installed is not None else " without an allowance"
        for check in one.limits if one.result is not None else ():
            place = f"{one.place}{built}, {check.state}" if check.state else f"{one.place}{built}"
            checks.append(PlacedCheck(one.condition, place, _at(one, check), check))
    return [one for one in checks if one.check.verdict != "nothing to hold"]


def _at(one: Judged[Any], check: LimitCheck) -> str:
    """Where the extreme is: clock position, and distance along the pipe; of several steady states only the one shown
    says where, and an episode not at all."""
    quantities: Mapping[str, Banded] = getattr(one.result, "quantities", {})
    if not check.quantity or check.state or not quantities:
        return ""
    places_there = []
    for row in places(check.quantity, quantities, of_support if isinstance(one, SupportAnswer) else quantity):
        value = quantities[row.path].value
        if isfinite(value):
            places_there.append(clock(value) if row.measure is CLOCK else f"z = {1e3 * value:.0f} mm")
    return ", ".join(places_there)


def limit_cells(check: LimitCheck) -> tuple[str, str, str, str, str]:
    """A limit in a page's table: what is allowed, the value, the margin, what inputs are worth, the verdict."""
    shown = EVERY_LIMIT[check.limit].measure.shown
    return (
        number(shown(check.allowed), 1),
        with_band(shown(check.value), check.band),
        margin_text(check.left, check.band),
        inputs_text(check.worth),
        check.verdict,
    )


def decisive(checks: list[PlacedCheck]) -> PlacedCheck | None:
    """Of the worst verdict, that of the least margin (one without a value first); None where no limit was held."""
    verdict = worst([one.check.verdict for one in checks])
    margins = [
        (one.check.left / one.measure.display[0] if isfinite(one.check.left) else float("-inf"), i)
        for i, one in enumerate(checks)
        if one.check.verdict == verdict
    ]
    return checks[min(margins)[1]] if margins else None


def unsolved(answer: Answer) -> list[str]:
    """What has no numbers because its field did not converge or could not be meshed, with the reason."""
    return [f"{one.title} {one.trouble}" for one in answer.judged if one.failure]


def tally(checks: list[PlacedCheck]) -> str:
    """How many limits are missed: "2 of 14 limits missed, 1 too close to call"."""
    if not checks:
        return "no limit to check"
    count = Counter[str](one.check.verdict for one in checks)
    words = {"fail": "missed", "too close to call": "too close to call", "not evaluated": "not evaluated"}
    counts = [f"{count[verdict]} {word}" for verdict, word in words.items() if count[verdict]]
    if not counts:
        return f"all {len(checks)} limits met" if len(checks) > 1 else "the one limit met"
    first, _, word = counts[0].partition(" ")
    return ", ".join([f"{first} of {len(checks)} limits {word}", *counts[1:]])


def headline(answer: Answer) -> list[str]:
    """What decides the verdict, a line each: what has no answer, and the worst place."""
    one = decisive(all_checks(answer))
    if one is None:
        return unsolved(answer)
    lead = "nearest" if one.check.verdict == "pass" else "worst"
    margins = dict.fromkeys(asked_margin(c.case.limits) for c in answer.conditions)
    return [
        *unsolved(answer),
        f"{lead}: {one.in_words()}",
        *filter(None, margins),
        *_conditions_alone(answer),
    ]


def _conditions_alone(answer: Answer) -> list[str]:
    """What of the line its episodes do not follow, in a sentence; none where they follow all of it."""
    if not answer.not_followed:
        return []
    known = ", which know no control" if any(e.episode.control for e in answer.episodes) else ""
    words = f"limits there are held in the conditions alone{known}, and not evaluated over the episode"
    return [f"Not followed over time ({'; '.join(answer.not_followed)}): {words}"]


def condition_verdict(answer: Answer, condition: str) -> str:
    """The verdict of a condition with its supports."""
    there = (*answer.conditions, *answer.elbows, *answer.supports)
    return worst([one.verdict for one in there if one.condition == condition])
