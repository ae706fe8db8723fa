"""What a clock study comes to, in sentences: what a position is worth, whether a limit decides, what was left out."""

from __future__ import annotations

from math import isfinite

from sim.report.words import number, signed
from sim.solve.at_rest import ESTIMATES
from sim.solve.convergence import Banded
from sim.solve.measures import LIMITS
from sim.solve.paths import quantity
from sim.study.clock import CheckAt, ClockStudy

BELOW, ABOVE = (4.0, 5.0), (10.0, 12.0)
"""The two places that practice argues about: low on the pipe, and on its top."""

MOVES = {"still": "contents at rest", "buoyant": "natural convection", "mixed": "contents well mixed"}


def hours(clocks: list[float]) -> str:
    """Positions as a reader says them, in order from 12: "12, 4 and 5 o'clock"."""
    texts = [f"{c % 12 or 12:g}" for c in sorted(clocks)]
    listed = " and ".join([", ".join(texts[:-1]), texts[-1]] if len(texts) > 1 else texts)
    return f"{listed} o'clock"


def remarks(study: ClockStudy) -> list[str]:
    """Everything that must be read with the table, the answer first."""
    lines = [f"{worth(study)} {decided(study)}", *study.left_out]
    lines += [f"{hours([at.clock])}: not possible: {at.impossible}" for at in study.placed if at.impossible]
    lines += [
        f"{hours([at.clock])}: not computed: internal fault ({type(at.fault).__name__})"
        for at in study.placed
        if at.fault is not None
    ]
    if len(study.states) == 1:
        lines.append(f"The contents are {study.states[0]} in {study.condition}; they were left so.")
    return lines + _range(study) + _notes(study)


def worth(study: ClockStudy) -> str:
    """What 4 to 5 o'clock is worth over 10 to 12, in the first watched quantity, by state and at most."""
    path = study.paths[0]
    what = quantity(path).words
    gains = {state: gain for state in study.states if (gain := _gain(study, state, state)) is not None}
    if not gains:
        return "Positions from 4 to 5 and from 10 to 12 o'clock are needed to set the one beside the other."
    parts = []
    for state, (low, high, band) in gains.items():
        size = signed(low) if high - low < 0.005 else f"{signed(low)} to {signed(high)}"
        words = f" ({MOVES.get(state, f'contents {state}')})"
        bracket = any(r.bracketed and r.state == state for r in study.rows)
        within = max(abs(low), abs(high)) <= band
        parts.append(
            f"no difference beyond its band of {number(band)} K{words}"
            if within
            else f"{size} K ± {number(band)}{words[:-1]}{', a bracket' if bracket else ''})"
        )
    text = f"Tracer at 4 to 5 o'clock instead of 10 to 12: {what} {'; '.join(parts)}."
    most = _gain(study, "mixed", "still")
    if most is not None:
        text += (
            f" At most {signed(most[1])} K whatever the contents do, as long as rest and mixing bound them"
            " (mixed at 4 to 5 less at rest at 10 to 12)."
        )
    return text


def _gain(study: ClockStudy, below: str, above: str) -> tuple[float, float, float] | None:
    """Least and greatest gain of the one place over the other, and their bands together, K; None without both."""
    path = study.paths[0]
    low = _within(study.curve(below, path), BELOW)
    high = _within(study.curve(above, path), ABOVE)
    if not low or not high:
        return None
    band = max(b.band for b in low) + max(b.band for b in high)
    cold, warm = min(b.value for b in low), max(b.value for b in low)
    return cold - max(b.value for b in high), warm - min(b.value for b in high), band


def _within(curve: list[tuple[float, Banded]], span: tuple[float, float]) -> list[Banded]:
    return [b for c, b in curve if span[0] <= (c or 12.0) <= span[1] and isfinite(b.value)]


def decided(study: ClockStudy) -> str:
    """Whether a limit tells the positions apart, over all conditions."""
    done = [at for at in study.placed if at.verdict is not None]
    if not any(at.checks for at in done):
        return "No limit is given that could decide."
    everywhere = len({at.verdict for at in done}) == 1
    if everywhere and done[0].verdict == "pass":
        return "No limit decides: all pass at every position that was computed."
    missed: dict[str, list[float]] = {}
    for at in done:
        if at.verdict == "not converged":
            missed.setdefault("not all fields converged", []).append(at.clock)
        for check in at.checks:
            if check.check.verdict not in ("pass", "nothing to hold"):
                missed.setdefault(_words(check), []).append(at.clock)
    passing = [at.clock for at in done if at.verdict == "pass"]
    listed = "; ".join(
        f"{words} at {'every position' if len(clocks) == len(done) else hours(clocks)}"
        for words, clocks in missed.items()
    )
    if everywhere:
        return f"No limit decides, the verdict is the same at every position that was computed: {listed}."
    return f"A limit decides: {listed}; all pass at {hours(passing) if passing else 'no position'}."


def _words(one: CheckAt) -> str:
    check, measure = one.check, LIMITS[one.check.limit].measure
    place = f" at {one.place}" if one.place else ""
    verdict = "missed" if check.verdict == "fail" else check.verdict
    allowed = f"{number(measure.shown(check.allowed), 1)} {measure.unit}"
    return f"{check.words} {allowed} in {one.condition}{place} is {verdict}"


def _range(study: ClockStudy) -> list[str]:
    moving = [r for r in study.rows if r.state == "buoyant"]
    brackets = sum(r.bracketed for r in moving)
    estimates = sum(r.basis in ESTIMATES for r in moving)
    resolved = [
        r
        for r in moving
        if "contents.rayleigh" in r.quantities and not r.bracketed and r.basis not in ESTIMATES
    ]
    what = [f"{brackets} of {len(moving)} buoyant fields are brackets: their flow was not resolved."] * bool(
        brackets
    )
    what += [
        f"{estimates} of {len(moving)} buoyant fields are estimates: no steady flow lasts there."
    ] * bool(estimates)
    others = " ".join(what)
    if not resolved:
        return [others] if others else []
    ra, pr = ([r.quantities[f"contents.{what}"].value for r in resolved] for what in ("rayleigh", "prandtl"))
    return [
        f"Rayleigh number {min(ra):.2g} to {max(ra):.2g}, Prandtl number {min(pr):.3g} to {max(pr):.3g} in the"
        f" {len(resolved)} of {len(moving)} buoyant fields that were resolved."
        + (f" {others}" if others else "")
    ]


def _notes(study: ClockStudy) -> list[str]:
    """Each note of the fields once, with the positions it belongs to."""
    by_note: dict[str, dict[str, list[float]]] = {}
    for row in study.rows:
        for note in (*row.notes, *([row.failure] if row.failure else [])):
            if (
                row.bracketed
                or row.basis in ESTIMATES
                or row.failure
                or not note.startswith("contents in steady")
            ):
                by_note.setdefault(note, {}).setdefault(row.state, []).append(row.clock)
    return [
        f"{'; '.join(f'{hours(clocks)}, {state}' for state, clocks in places.items())}: {note}"
        for note, places in by_note.items()
    ]
