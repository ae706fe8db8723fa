"""What a clock study comes to: which hours are worth anything, whether a limit decides, what was left out."""

from math import isfinite

from sim.report.words import number
from sim.solve.at_rest import ESTIMATES
from sim.solve.convergence import Banded
from sim.solve.measures import LIMITS
from sim.solve.paths import quantity
from sim.study.positions import CheckAt, ClockStudy

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
    """Which hours are worth anything in the first watched quantity, and at most how much, by state of the contents."""
    path = study.paths[0]
    parts: dict[str, list[str]] = {}
    for state in study.states:
        curve = [(c, b) for c, b in study.curve(state, path) if isfinite(b.value)]
        if len(curve) > 1:
            parts.setdefault(_best(curve), []).append(_moves(study, state))
    if not parts:
        return "Two positions are needed to set the one beside the other."
    listed = "; ".join(f"{words} ({', '.join(states)})" for words, states in parts.items())
    return f"{quantity(path).words.capitalize()} by the tracer's hour: {listed}.{_whatever(study)}"


def _best(curve: list[tuple[float, Banded]]) -> str:
    """What the hours of one curve, two at least, are worth over its coldest."""
    coldest, least = min(curve, key=lambda at: at[1].value)
    warmest, most = max(curve, key=lambda at: at[1].value)
    if most.value - least.value <= most.band + least.band:
        return f"none is worth anything beyond the band of {number(most.band + least.band)} K"
    better = [c for c, b in curve if b.value - b.band > least.value + least.band]
    gain = f"{number(most.value - least.value)} ± {number(most.band + least.band)} K"
    verb = "is" if len(better) == 1 else "are"
    return (
        f"{hours(better)} {verb} worth something over {hours([coldest])}, at most {gain} at {warmest or 12:g}"
    )


def _moves(study: ClockStudy, state: str) -> str:
    bracket = any(r.bracketed and r.state == state for r in study.rows)
    return MOVES.get(state, f"contents {state}") + (", a bracket" if bracket else "")


def _whatever(study: ClockStudy) -> str:
    """The most that any hour is worth if all that is known of the contents is that rest and mixing bound them."""
    path = study.paths[0]
    mixed, still = ([b for _, b in study.curve(s, path) if isfinite(b.value)] for s in ("mixed", "still"))
    if not mixed or not still:
        return ""
    most = max(b.value for b in mixed) - min(b.value for b in still)
    return (
        f" At most {number(most)} K whatever the contents do, as long as rest and mixing bound them"
        " (mixed at the best hour less at rest at the worst)."
    )


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
    bracketed, estimated = sum(r.bracketed for r in moving), sum(r.basis in ESTIMATES for r in moving)
    resolved = [
        r.quantities
        for r in moving
        if "contents.rayleigh" in r.quantities and not r.bracketed and r.basis not in ESTIMATES
    ]
    words = []
    if resolved:
        ra, pr = ([q[f"contents.{of}"].value for q in resolved] for of in ("rayleigh", "prandtl"))
        words.append(f"Rayleigh number {_reach(ra, 2)}, Prandtl number {_reach(pr, 3)} in the")
        words.append(f"{len(resolved)} of {len(moving)} buoyant fields that were resolved.")
    for count, what in (
        (bracketed, "brackets: their flow was not resolved."),
        (estimated, "estimates: no steady flow lasts there."),
    ):
        words += [f"{count} of {len(moving)} buoyant fields are {what}"] * bool(count)
    return [" ".join(words)] if words else []


def _reach(values: list[float], digits: int) -> str:
    """The least to the greatest, once where they read the same."""
    return " to ".join(dict.fromkeys(f"{v:.{digits}g}" for v in (min(values), max(values))))


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
