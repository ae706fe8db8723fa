"""Verdicts of a study: every limit at every place of every variant, as `coldspot check` judges it.

Where a variant has bands of its own, the verdict is the judge's; with one mesh it is the judge's rule with the band
seen at the references. What was not evaluated, or could not be computed, never holds.
"""

from dataclasses import dataclass, field

import numpy as np

from sim.judge.limits import Verdict, verdict_of, worst

from .band import Bands, judged_path
from .frame import Frame
from .row import NOT_COMPUTED, NOT_EVALUATED, NOTHING, place_of
from .words import LIMIT_WORDS, margin_words, of_list, quoted

LOST: Verdict = "not converged"
EXIT = {NOT_COMPUTED: 3, "fail": 1, "too close to call": 1, NOT_EVALUATED: 1}


def keys(frame: Frame) -> list[str]:
    """Every limit at every place that any variant is held against."""
    return list(dict.fromkeys(key for by_key in frame.margins.values() for key in by_key))


def verdicts(frame: Frame, bands: Bands, condition: str, key: str) -> list[Verdict]:
    """The verdict of every variant on one limit at one place in one condition; "no limits" where it has none."""
    margins, judged_before = frame.margins[condition].get(key), frame.verdicts.get(condition, {}).get(key)
    if margins is None:
        return ["no limits"] * len(frame)
    path, limits = judged_path(key, frame.values[condition]), frame.limits.get(condition, {}).get(key)
    judged: list[Verdict] = []
    for i in range(len(frame)):
        if limits is None or not np.isfinite(limits[i]):
            judged.append("no limits")
        elif judged_before is not None and judged_before[i]:
            judged.append(judged_before[i])
        else:
            judged.append(verdict_of(float(margins[i]), bands.of(condition, path, i)))
    return judged


def overall(frame: Frame, bands: Bands, conditions: list[str]) -> list[Verdict]:
    """The verdict of every variant over all limits and places in some conditions."""
    every = [verdicts(frame, bands, c, key) for c in conditions for key in frame.margins[c]]
    return [worst([column[i] for column in every]) if ok else LOST for i, ok in enumerate(frame.ok)]


def exit_code(frame: Frame, bands: Bands) -> int:
    """3 where a variant could not be computed; 1 where no variant meets every limit; else 0."""
    outcomes = set(overall(frame, bands, frame.conditions))
    if NOT_COMPUTED in outcomes:
        return EXIT[NOT_COMPUTED]
    return 0 if not outcomes or outcomes & {"pass", *NOTHING} else 1


def limit_in_words(key: str) -> str:
    """ "lowest wall at shoe"."""
    limit, support = place_of(key)
    return (
        f"{LIMIT_WORDS.get(limit, limit)} at {quoted(support)}" if support else LIMIT_WORDS.get(limit, limit)
    )


@dataclass
class Tally:
    """How one limit at one place fares over variants and conditions: how many hold, labels of the others, least margin.

    bracketed: how many of them are brackets.
    """

    key: str
    total: int = 0
    passed: int = 0
    others: dict[str, list[str]] = field(default_factory=dict)
    margin: float = float("inf")
    band: float = float("nan")
    where: str = ""
    bracketed: int = 0

    def count(self, verdict: str) -> int:
        return self.passed if verdict == "pass" else len(self.others.get(verdict, ()))

    @property
    def closest(self) -> str:
        """The least margin and where: "+3.2 ± 0.1 K at clock 5"."""
        if not np.isfinite(self.margin):
            return ""
        return f"{self.where} (margin {margin_words(place_of(self.key)[0], self.margin, self.band)})"


def tally(frame: Frame, bands: Bands, key: str, conditions: list[str]) -> Tally:
    """Count one limit at one place over all variants, in some conditions."""
    count = Tally(key)
    for condition in conditions:
        column = frame.margins[condition].get(key)
        if column is None:
            continue
        path = judged_path(key, frame.values[condition])
        judged = verdicts(frame, bands, condition, key)
        marked = frame.bracketed.get(condition, np.zeros(len(frame), dtype=bool))
        for i in range(len(frame)):
            if judged[i] in NOTHING:
                continue
            count.total += 1
            count.bracketed += bool(marked[i])
            verdict = judged[i]
            points = (f"{name} {quoted(texts[i])}" for name, texts in frame.texts.items())
            label = ", ".join([condition, *points])
            if verdict == "pass":
                count.passed += 1
            else:
                count.others.setdefault(verdict, []).append(label)
            if column[i] < count.margin:
                count.margin, count.band = float(column[i]), bands.of(condition, path, i)
                count.where = label
    return count


def in_words(of: Tally) -> str:
    """A tally as one sentence."""
    name = f"The limit on the {limit_in_words(of.key)}"
    missed, close = of.others.get("fail", []), of.others.get("too close to call", [])
    unseen, lost = of.others.get(NOT_EVALUATED, []), of.others.get(NOT_COMPUTED, [])
    whole = f"all {of.total} results (one a variant and condition)"
    if of.passed == of.total:
        text = f"{name} holds in {whole}; closest at {of.closest}."
    elif len(missed) == of.total:
        text = f"{name} is missed in {whole}; worst at {of.closest}."
    elif len(unseen) == of.total:
        text = f"{name} was not evaluated in any of {of.total} results: whether it holds is not known."
    else:
        parts = [f"holds in {of.passed} of {of.total}"]
        for words, labels in (
            ("is missed in", missed),
            ("is too close to call in", close),
            ("was not evaluated in", unseen),
            ("could not be computed in", lost),
        ):
            parts += [f"{words} {len(labels)} ({of_list(labels, separator='; ')})"] if labels else []
        text = f"{name} {', '.join(parts)}{'; worst at ' + of.closest if of.closest else ''}."
    if of.bracketed:
        text += (
            f" In {of.bracketed} of them the contents' flow was not resolved: the result is a bracket, which passes "
            "only where no flow of the contents could break the limit."
        )
    return text
