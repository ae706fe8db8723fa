"""A line in one condition: its stretches and stations along the axis, what it loses, and where it is coldest.

Fields are solved once for every kind of section, elbow and support, and kept; the line itself is `sim.solve.axial`. A
support is a sink chi in one place, its allowance heat in the same place; an elbow is a piece of its own. The field
around a support dips deeper than a fin with the same sink: the wall there is taken colder by that difference.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import nan

import numpy as np

from sim.case import Case, Fitting, Support
from sim.judge.limits import Verdict, worst
from sim.section.shapes import Array
from sim.solve.axial import Axial
from sim.solve.lift import Lift
from sim.solve.paths import coldest_contents

from .line_file import Line, line_in
from .line_limits import POINTS, Place, coldest, moved, places
from .line_pieces import Laid, Local, Lookup, further_dip, lay, local_of, solve_laid
from .stations import SECTION, Facts, output_at

TRIED = 0.1  # m of further allowance, by which its worth is asked
FAR_FROM = 10.0  # K, of a stream from the temperature its section was solved at, from which that is said
PARTS = ("wall", "contents")
ALONE = (
    "in episodes each place stands alone on an endless line: a stretch as its section, a station as the field around"
    " it; its neighbours are not counted, and a place that no episode follows is not evaluated over time"
)

Key = tuple[int, str]
"""Number of a stretch, and SECTION, BEND or a support as `Standing.what` has it."""


@dataclass(frozen=True)
class LineAnswer:
    """A line in one condition; heat in W.

    allowances: of the extra tracer; from_others: the sun; closure: what is left of the balance as a part of the heat;
    along: place (m), coldest wall and contents (K) there, each (n,); places: what is evaluated, with every limit held
    there; installed: allowance at each station in this condition, m; gains: rise of the coldest wall at each station, K
    a metre of allowance there, NaN at an elbow; without: that wall with the allowance left out, K, NaN where there is
    none; stream: (in, out) K or NaN.
    """

    condition: str
    loss: float
    output: float
    allowances: float
    from_stream: float
    from_others: float
    closure: float
    along: tuple[Array, Array, Array]
    places: tuple[Place, ...]
    installed: tuple[float, ...]
    gains: tuple[float, ...]
    without: tuple[float, ...]
    stream: tuple[float, float]
    notes: tuple[str, ...]

    @property
    def verdict(self) -> Verdict:
        return worst([check.verdict for place in self.places for check in place.checks])

    @property
    def stations(self) -> tuple[float, ...]:
        """Coldest wall at each station, K."""
        walls = {place.station: place.values["wall.min"].value for place in self.places}
        return tuple(walls[k] for k in range(len(self.gains)))

    def coldest(self, part: str) -> tuple[Place, str] | None:
        """The place where the wall or the contents are coldest, and the path there."""
        return coldest(self.places, part)


def first_like(line: Line, stretch: int) -> int:
    """The first stretch with the same case."""
    return next(t for t in range(len(line.cases)) if line.cases[t] is line.cases[stretch])


def kinds_of(line: Line) -> list[Key]:
    """What is to be solved, each once for all that are alike."""
    keys = [(s, SECTION) for s in range(len(line.cases))]
    keys += [(one.stretch, one.what) for one in line.stations]
    return list(dict.fromkeys((first_like(line, s), what) for s, what in keys))


def answer(line: Line, condition: str, known: Mapping[Key, Facts], episodes: bool = False) -> LineAnswer:
    """The line in one condition; known: the facts of `kinds_of`; episodes: whether they are followed at its places.
    Raises ValueError where a temperature is not fixed."""
    billed, line = line, line_in(line, condition)
    cases = list(line.cases)

    def by(stretch: int, what: str) -> Facts:
        return known[first_like(line, stretch), what]

    laid = lay(line, cases, by)
    local = [local_of(one, by, cases[one.stretch]) for one in line.stations]
    allowances = [one.allowance for one in line.stations]
    solved = solve_laid(line, laid, by, allowances)
    listed = places(line, cases, laid, solved, by, allowances)
    walls = {place.station: place.values["wall.min"].value for place in listed}
    gains, without = [nan] * len(local), [nan] * len(local)
    for k, one in enumerate(line.stations):
        if isinstance(one.support, Support | Fitting):
            more = [a + TRIED * (i == k) for i, a in enumerate(allowances)]
            gains[k] = (_wall_at(line, laid, by, local, k, more) - walls[k]) / TRIED
        if one.allowance > 0:
            less = [a * (i != k) for i, a in enumerate(allowances)]
            without[k] = _wall_at(line, laid, by, local, k, less)
    heat = _heat(line, laid, solved, by, allowances)
    stream = (float(solved.temperature[0]), float(solved.temperature[-1])) if solved.stream else (nan, nan)
    return LineAnswer(
        condition, *heat, _along(laid, solved, listed), listed, tuple(allowances), tuple(gains), tuple(without), stream,
        _changed(billed, line) + _notes(line, cases, laid, solved, episodes),
    )  # fmt: skip


def _wall_at(
    line: Line, laid: Laid, by: Lookup, local: list[Local], k: int, allowances: list[float]
) -> float:
    """The coldest wall at a support with other allowances along the line, K."""
    one, section = line.stations[k], by(line.stations[k].stretch, SECTION)
    end = next(i for i, there in enumerate(laid.ends) if k in there)
    level = float(solve_laid(line, laid, by, allowances).temperature[end])
    return level - section["level"] + section["wall_min"] - further_dip(one, local[k].wall, allowances[k])


def _along(laid: Laid, solved: Axial, listed: tuple[Place, ...]) -> tuple[Array, Array, Array]:
    """Places, coldest wall and contents along the line, K: points of every piece, and each support's own."""
    rows = []
    for i, (one, facts) in enumerate(zip(laid.pieces, laid.facts, strict=True)):
        at = np.linspace(0.0, one.length, POINTS)
        shift = solved.at(i, at) - facts["level"]
        rows.append(
            (laid.start[i] + at, *(moved(path, facts, shift) for path in ("wall.min", "contents.min")))
        )
    supports = {k for end in laid.ends for k in end}
    for place in listed:
        if place.station in supports:
            values = place.values
            contents = values[coldest_contents(values)].value
            rows.append(
                tuple(np.array([v]) for v in (place.at["wall.min"], values["wall.min"].value, contents))
            )
    x, wall, contents_ = (np.concatenate(column) for column in zip(*rows, strict=True))
    order = np.argsort(x, kind="stable")
    return x[order], wall[order], contents_[order]


def _heat(
    line: Line, laid: Laid, solved: Axial, by: Lookup, allowances: list[float]
) -> tuple[float, float, float, float, float, float]:
    """Loss, output, allowances' output, from the stream, from others, W, and the closure."""
    excess = solved.mean_excess()
    loss = output = others = extra = 0.0
    for one, facts, e in zip(solved.pieces, laid.facts, excess, strict=True):
        shift = one.settles + float(e) - facts["level"]
        lost = facts["loss"] + facts["loss_slope"] * shift
        given = facts["output"] + (facts["loss_slope"] - one.loss) * shift
        loss, output = loss + one.length * lost, output + one.length * given
        others += one.length * (facts["loss"] - facts["output"] - facts["from_contents"])
    for i, end in enumerate(laid.ends):
        for k in end:
            one_of = line.stations[k]
            section, support = by(one_of.stretch, SECTION), by(one_of.stretch, one_of.what)
            level = float(solved.temperature[i])
            loss += support["chi"] * (level - support["drains_to"])
            warmer = np.array(level - section["level"])
            extra += allowances[k] * float(output_at(line.cases[one_of.stretch], section, warmer))
    stream = 0.0
    if solved.stream:
        first = laid.pieces[0]
        ends = solved.exponent[0] * np.array([1.0, np.exp(-min(solved.exponent[0, 1] * first.length, 500.0))])
        stream = solved.stream * float(solved.temperature[0] - solved.temperature[-1])
        stream -= first.along * float(ends @ solved.coefficient[0])
    given = output + extra + stream + others
    return loss, output, extra, stream, others, abs(loss - given) / max(abs(loss), abs(given), 1e-9)


def _changed(billed: Line, line: Line) -> tuple[str, ...]:
    """Allowances that a condition of the case changes, so that they are not the bill's."""
    changed = [
        f"{now.label} {now.allowance:g} m instead of {bill.allowance:g} m"
        for bill, now in zip(billed.stations, line.stations, strict=True)
        if bill.allowance != now.allowance
    ]
    return (
        f"The case changes allowances in this condition, the bill does not: {', '.join(changed)}",
    ) * bool(changed)


def _notes(line: Line, cases: list[Case], laid: Laid, solved: Axial, followed: bool) -> tuple[str, ...]:
    notes = [
        "along the line wall and contents are a fin between stations, and a support is a sink in one place; its own"
        " field dips deeper than that fin, and the wall at the support is taken colder by the difference",
        "the hottest place at a support is taken at least as hot as the section's, though a neighbour may cool it",
        "no heat leaves along the axis at the line's two ends; an elbow's coldest place is that of an endless bend at"
        " the line's temperature there",
    ]
    if any(isinstance(one.support, Lift) for one in line.stations):
        notes.append(
            "where a tracer lifts it stands off by the whole height from band to band, one span of an endless row: no"
            " lift of that height is hotter"
        )
    episodes = dict.fromkeys(episode.name for case in line.cases for episode in case.episodes)
    if episodes and followed:
        notes.append(ALONE)
    elif episodes:
        names = ", ".join(episodes)
        notes.append(
            f"not evaluated along the line, which is steady: the episodes {names}, and their limits (--episodes follows"
            " them at the places that have one)"
        )
    else:
        notes.append("steady conditions only")
    if any(sun is not None and sun.date is not None for sun in (case.conditions[0].sun for case in cases)):
        notes.append(
            "the sun has the bearing that each stretch's case gives, whatever way elbows turn the line"
        )
    if solved.stream:
        notes.append("the stream enters the first stretch at its contents' temperature")
        levels = np.array([facts["level"] for facts in laid.facts])
        off = float(np.abs(np.stack([solved.temperature[:-1], solved.temperature[1:]]) - levels).max())
        if off > FAR_FROM:
            notes.append(
                f"the stream gets {off:.0f} K from the temperature at which a section was solved: its loss, its"
                " films and its tracers' output there are straight lines drawn from that one"
            )
    return tuple(notes)
