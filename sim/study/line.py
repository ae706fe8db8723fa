"""A line in one condition: its stretches and stations along the axis, what it loses, and where it is coldest.

Fields are solved once for every kind of section, elbow and support, and kept; the line itself is `sim.solve.axial`. A
support is a sink chi in one place, its allowance heat in the same place; an elbow is a piece of its own. Beside a
support the wall is colder than the fin by what its field has more of a dip than a fin with the same sink.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, isfinite, nan

import numpy as np

from sim.case import Case, case_for
from sim.judge.limits import Verdict, verdict_of, worst
from sim.section.shapes import Array
from sim.solve.axial import Axial
from sim.solve.measures import LIMITS

from .line_file import Line
from .line_pieces import Laid, Lookup, facts_at, further_dip, lay, local_dips, solve_laid
from .stations import BEND, SECTION, Facts

POINTS = 81  # on a piece
TRIED = 0.1  # m of further allowance, by which its worth is asked
WATCHED = (("wall_min", "wall"), ("contents_min", "contents"))

Key = tuple[int, str]
"""Number of a stretch, and SECTION, BEND or a support's name."""


@dataclass(frozen=True)
class Coldest:
    """The coldest wall or contents along the line: K, its band, m from the start, where in words, margin (NaN without a
    limit) and verdict."""

    what: str
    temperature: float
    band: float
    place: float
    where: str
    margin: float
    verdict: Verdict


@dataclass(frozen=True)
class LineAnswer:
    """A line in one condition; heat in W.

    allowances: of the extra tracer; from_others: the sun; closure: what is left of the balance as a part of the heat;
    along: place (m), coldest wall and contents (K) there, each (n,); stations: coldest wall at each, K; gains: its
    rise, K a metre of allowance there; without: it with its allowance left out, K, NaN where it has none; stream:
    (in, out) K or NaN.
    """

    condition: str
    loss: float
    output: float
    allowances: float
    from_stream: float
    from_others: float
    closure: float
    along: tuple[Array, Array, Array]
    coldest: tuple[Coldest, ...]
    stations: tuple[float, ...]
    gains: tuple[float, ...]
    without: tuple[float, ...]
    stream: tuple[float, float]
    notes: tuple[str, ...]

    @property
    def verdict(self) -> Verdict:
        return worst([one.verdict for one in self.coldest if isfinite(one.margin)])


def kinds_of(line: Line) -> list[Key]:
    """What is to be solved, each once for all that are alike."""
    keys = [(s, SECTION) for s in range(len(line.cases))]
    keys += [(one.stretch, one.support.name if one.support is not None else BEND) for one in line.stations]
    first: dict[Key, None] = {}
    for s, what in keys:
        same = next(t for t in range(len(line.cases)) if line.cases[t] is line.cases[s])
        first[same, what] = None
    return list(first)


def answer(line: Line, condition: str, known: Mapping[Key, Facts]) -> LineAnswer:
    """The line in one condition; known: the facts of `kinds_of`. Raises ValueError where a temperature is not fixed."""
    cases = [case_for(case, condition) for case in line.cases]
    by = _looked_up(line, known)
    laid = lay(line, cases, by)
    local = [local_dips(one, by) for one in line.stations]
    allowances = [one.allowance for one in line.stations]
    solved = solve_laid(line, laid, by, allowances)
    along = _along(laid, solved, by, line, local, allowances)
    places = _coldest(line, cases, laid, along, by)
    wall = [_at_station(line, laid, solved, by, local, k, allowances) for k in range(len(line.stations))]
    gains, without = [], []
    for k, one in enumerate(line.stations):
        more = [a + TRIED * (i == k) for i, a in enumerate(allowances)]
        less = [a * (i != k) for i, a in enumerate(allowances)]
        raised = solve_laid(line, laid, by, more)
        gain = (_at_station(line, laid, raised, by, local, k, more) - wall[k]) / TRIED
        gains.append(gain if one.support is not None else nan)
        alone = solve_laid(line, laid, by, less)
        without.append(_at_station(line, laid, alone, by, local, k, less) if one.allowance > 0 else nan)
    heat = _heat(line, laid, solved, by, allowances)
    stream = (float(solved.temperature[0]), float(solved.temperature[-1])) if solved.stream else (nan, nan)
    return LineAnswer(
        condition, *heat, (along[0], along[1], along[2]), places, tuple(wall), tuple(gains), tuple(without), stream,
        _notes(line, cases, by),
    )  # fmt: skip


def _looked_up(line: Line, known: Mapping[Key, Facts]) -> Lookup:
    def by(stretch: int, what: str) -> Facts:
        same = next(t for t in range(len(line.cases)) if line.cases[t] is line.cases[stretch])
        return known[same, what]

    return by


def _at_station(
    line: Line,
    laid: Laid,
    solved: Axial,
    by: Lookup,
    local: list[tuple[float, float, float]],
    k: int,
    allowances: list[float],
) -> float:
    """The coldest wall at a station, K."""
    one, section = line.stations[k], by(line.stations[k].stretch, facts_at(line.stations[k]))
    if one.support is None:
        starts = np.array(laid.start)
        i = int(np.searchsorted(starts, one.place, side="right") - 1)
        return float(solved.at(i, np.array(one.place - starts[i]))) - section["level"] + section["wall_min"]
    section = by(one.stretch, SECTION)
    end = next(i for i, there in enumerate(laid.ends) if k in there)
    return (
        float(solved.temperature[end])
        - (section["level"] - section["wall_min"])
        - further_dip(one, local[k], allowances[k])
    )


def _along(
    laid: Laid,
    solved: Axial,
    by: Lookup,
    line: Line,
    local: list[tuple[float, float, float]],
    allowances: list[float],
) -> tuple[Array, Array, Array, list[int]]:
    """Places, coldest wall and contents along the line, K, and the piece (from -1 downwards the station) of each."""
    place, wall, contents, piece = [], [], [], []
    for i, (one, facts) in enumerate(zip(laid.pieces, laid.facts, strict=True)):
        at = np.linspace(0.0, one.length, POINTS)
        level = solved.at(i, at)
        place.append(laid.start[i] + at)
        wall.append(level - facts["level"] + facts["wall_min"])
        contents.append(level - facts["level"] + facts["contents_min"])
        piece += [i] * POINTS
    for i, end in enumerate(laid.ends):
        for k in end:
            one_of, section = line.stations[k], by(line.stations[k].stretch, SECTION)
            shift = float(solved.temperature[i]) - section["level"]
            place.append(np.array([one_of.place]))
            wall.append(
                np.array([shift + section["wall_min"] - further_dip(one_of, local[k], allowances[k])])
            )
            contents.append(np.array([shift + section["contents_min"] - max(local[k][1], 0.0)]))
            piece.append(-1 - k)
    order = np.argsort(np.concatenate(place), kind="stable")
    return (
        np.concatenate(place)[order],
        np.concatenate(wall)[order],
        np.concatenate(contents)[order],
        np.array(piece)[order].tolist(),
    )


def _coldest(
    line: Line,
    cases: list[Case],
    laid: Laid,
    along: tuple[Array, Array, Array, list[int]],
    by: Lookup,
) -> tuple[Coldest, ...]:
    """The coldest wall and contents, against the limit of the case where they are nearest to it (or lowest)."""
    found = []
    for column, (limit, what) in enumerate(WATCHED, start=1):
        value = along[column]
        stretch = [
            line.stations[-1 - p].stretch
            if p < 0
            else int(np.clip(np.searchsorted(line.starts, laid.start[p] + 1e-9) - 1, 0, len(cases) - 1))
            for p in along[3]
        ]
        allowed = np.array([getattr(cases[s].limits, limit) or -inf for s in stretch])
        asked = np.array([cases[s].limits.margin or 0.0 for s in stretch])
        if not np.isfinite(value).any():
            found.append(Coldest(what, nan, nan, nan, "no temperature of its own", nan, "not evaluated"))
            continue
        margin = value - allowed - asked
        held = bool(np.isfinite(allowed).any())
        i = int(np.nanargmin(margin if held else value))
        band = _band(line, along[3][i], stretch[i], by, what)
        verdict: Verdict = verdict_of(float(margin[i]), band) if held else "no limits"
        if verdict == "pass" and (_doubted(line, by) or by(stretch[i], SECTION)["states"] > 1):
            verdict = "too close to call"
        p = along[3][i]
        where = line.stations[-1 - p].label if p < 0 else f"on {line.file.stretches[stretch[i]].name}"
        left = float(margin[i]) if held else nan
        found.append(Coldest(what, float(value[i]), band, float(along[0][i]), where, left, verdict))
    return tuple(found)


def _doubted(line: Line, by: Lookup) -> bool:
    return any(by(s, SECTION)["bracketed"] > 0 for s in range(len(line.cases)))


def _band(line: Line, piece: int, stretch: int, by: Lookup, what: str) -> float:
    """Band of the section's coldest, and at a support that of its dip as well."""
    band = by(stretch, SECTION)[f"{what}_min_band"]
    if piece < 0:
        support = by(stretch, facts_at(line.stations[-1 - piece]))
        band += support["dip_band" if what == "wall" else "contents_dip_band"]
    return float(band)


def _heat(
    line: Line, laid: Laid, solved: Axial, by: Lookup, allowances: list[float]
) -> tuple[float, float, float, float, float, float]:
    """Loss, output, allowances' output, from the stream, from others, W, and the closure."""
    excess = solved.mean_excess()
    loss = output = others = extra = 0.0
    for one, facts, e in zip(laid.pieces, laid.facts, excess, strict=True):
        shift = one.settles + float(e) - facts["level"]
        lost = facts["loss"] + facts["loss_slope"] * shift
        given = facts["output"] + facts["output_slope"] * shift
        loss, output = loss + one.length * lost, output + one.length * given
        others += one.length * (facts["loss"] - facts["output"] - facts["from_contents"])
    for i, end in enumerate(laid.ends):
        for k in end:
            one_of = line.stations[k]
            section, support = by(one_of.stretch, SECTION), by(one_of.stretch, facts_at(one_of))
            level = float(solved.temperature[i])
            loss += support["chi"] * (level - section["ambient"])
            extra += allowances[k] * (
                section["output"] + section["output_slope"] * (level - section["level"])
            )
    stream = 0.0
    if solved.stream:
        first = laid.pieces[0]
        ends = solved.exponent[0] * np.array([1.0, np.exp(-min(solved.exponent[0, 1] * first.length, 500.0))])
        stream = solved.stream * float(solved.temperature[0] - solved.temperature[-1])
        stream -= first.along * float(ends @ solved.coefficient[0])
    given = output + extra + stream + others
    return loss, output, extra, stream, others, abs(loss - given) / max(abs(loss), abs(given), 1e-9)


def _notes(line: Line, cases: list[Case], by: Lookup) -> tuple[str, ...]:
    notes = [
        "along the line wall and contents are a fin between stations; a support is a sink in one place, and beside it"
        " the wall is colder by what its field has more of a dip than the fin",
        "steady conditions only: no episode is followed along the line",
    ]
    others = [name for name in LIMITS if any(getattr(c.limits, name) is not None for c in cases)]
    others = [name for name in others if name not in dict(WATCHED)]
    if others:
        notes.append(f"not evaluated along the line: {', '.join(others)}; `coldspot check` holds them")
    if _doubted(line, by):
        notes.append(
            "contents that move were not resolved in a section: a bracket, on which no pass is built"
        )
    if any(by(s, SECTION)["states"] > 1 for s in range(len(cases))):
        notes.append("a section has several steady states: the coldest is taken, and no pass is built on it")
    if any(case.contents.state == "flowing" for case in cases):
        notes.append("the stream enters the first stretch at its contents' temperature")
    return tuple(notes)
