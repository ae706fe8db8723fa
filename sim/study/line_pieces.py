"""A line cut into pieces and sinks, from the facts of its sections, elbows and supports."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import isfinite

import numpy as np

from sim.case import Case
from sim.section.shapes import Array
from sim.solve.axial import Axial, Piece, Sink, solve_axial

from .line_file import Line, Standing, arc_of
from .stations import BEND, SECTION, Facts, output_at

ROUNDS, FITTED = 60, 41  # of the outputs along a line; places on half a piece at which they are taken
SAME = 1e-4  # K: temperatures nearer than this are one
FAR = 12.0  # reaches, of a line on which a sink stands alone

Lookup = Callable[[int, str], Facts]
"""Facts of a stretch's SECTION, BEND or support."""


@dataclass(frozen=True)
class Laid:
    """Pieces with the facts, start (m), stretch and elbow (its station, else -1) of each, and the supports and fittings
    (their stations) at each of the n + 1 ends."""

    pieces: tuple[Piece, ...]
    facts: tuple[Facts, ...]
    start: tuple[float, ...]
    stretch: tuple[int, ...]
    bend: tuple[int, ...]
    ends: tuple[tuple[int, ...], ...]


def piece_of(length: float, facts: Facts, slope: float | None = None) -> Piece:
    """A piece of a section; slope: of its output by the line's temperature, W/m/K, by default the section's own."""
    loss = facts["loss_slope"] - (facts["output_slope"] if slope is None else slope)
    settles = facts["level"] - facts["from_contents"] / loss if facts["stream"] > 0 else facts["level"]
    return Piece(length, facts["along"], loss, settles)


def lay(line: Line, cases: list[Case], by: Lookup) -> Laid:
    """The line cut at stretches, at supports and at the ends of elbows."""
    cuts = [(start, start, -1) for start in line.starts]
    for k, one in enumerate(line.stations):
        half = 0.5 * arc_of(one, cases[one.stretch])
        cuts.append((one.place - half, one.place + half, k))
    edges = np.array(
        sorted({round(edge, 9) for cut in cuts for edge in cut[:2] if 0 <= edge <= line.starts[-1]})
    )
    pieces, facts, start, of, bends = [], [], [], [], []
    for low, high in pairwise(edges):
        middle = 0.5 * (low + high)
        stretch = int(np.clip(np.searchsorted(line.starts, middle) - 1, 0, len(cases) - 1))
        bend = next((k for a, b, k in cuts if a < middle < b and k >= 0), -1)
        of_piece = by(stretch, SECTION if bend < 0 else BEND)
        of.append(stretch)
        bends.append(bend)
        pieces.append(piece_of(float(high - low), of_piece))
        facts.append(of_piece)
        start.append(float(low))
    ends: list[list[int]] = [[] for _ in edges]
    for k, one in enumerate(line.stations):
        if one.support is not None:
            ends[int(np.argmin(np.abs(edges - one.place)))].append(k)
    return Laid(
        tuple(pieces), tuple(facts), tuple(start), tuple(of), tuple(bends), tuple(tuple(end) for end in ends)
    )


def solve_laid(line: Line, laid: Laid, by: Lookup, allowances: list[float]) -> Axial:
    cases = [line.cases[stretch] for stretch in laid.stretch]

    def sinks(at: Array | None) -> list[Sink]:
        totals = []
        for n, end in enumerate(laid.ends):
            total = Sink()
            for k in end:
                one = line.stations[k]
                section, case = by(one.stretch, SECTION), line.cases[one.stretch]
                support = by(one.stretch, one.what)
                total = _with(
                    total, sink_of(support, section, allowances[k], case, None if at is None else at[n])
                )
            totals.append(total)
        return totals

    first = laid.facts[0]
    entry = first["level"] if first["stream"] > 0 else None
    return solve_outputs(laid.pieces, laid.facts, cases, sinks, first["stream"], entry)


def solve_outputs(
    pieces: Sequence[Piece],
    facts: Sequence[Facts],
    cases: Sequence[Case],
    sinks: Callable[[Array | None], list[Sink]],
    stream: float = 0.0,
    entry: float | None = None,
) -> Axial:
    """A line whose outputs follow its temperature by their tables: on each piece by a straight line through what its
    section gives, fitted to the temperatures that the piece has.

    sinks: at given temperatures of the ends, K; None: at those of the sections.
    """
    slope, at = np.array([one["output_slope"] for one in facts]), None
    part = np.linspace(0.0, 1.0, FITTED)
    for _ in range(ROUNDS):
        there = [piece_of(p.length, f, float(s)) for p, f, s in zip(pieces, facts, slope, strict=True)]
        solved = solve_axial(there, sinks(at), stream, entry)
        fitted = slope.copy()
        for i, (piece, one, case) in enumerate(zip(there, facts, cases, strict=True)):
            if any(tracer.output.kind == "table" and tracer.on for tracer in case.tracers):
                shift = solved.at(i, _graded(piece, part)) - one["level"]
                weight = float(shift @ shift)
                more = output_at(case, one, shift) - one["output"]
                fitted[i] = float(shift @ more) / weight if weight > SAME**2 else slope[i]
                fitted[i] = min(fitted[i], max(one["output_slope"], 0.0))
        moved = 1.0 if at is None else float(np.abs(solved.temperature - at).max())
        slope, at = fitted, solved.temperature
        if moved < SAME:
            break
    return solved


def _graded(piece: Piece, part: Array) -> Array:
    """Places on a piece, m, most of them within a few reaches of its ends."""
    half, reach = 0.5 * piece.length, float(np.sqrt(piece.along / piece.loss))
    near = half * np.expm1(part * min(half / reach, 3.0)) / np.expm1(min(half / reach, 3.0))
    return np.concatenate([near, piece.length - near[::-1]])


def sink_of(support: Facts, section: Facts, allowance: float, case: Case, at: float | None = None) -> Sink:
    """A support's conductance to the temperature it drains to, and its allowance's heat as it goes with the
    temperature: through that of the section and that at a temperature `at`, K."""
    slope, shift = section["output_slope"], 0.0 if at is None else at - section["level"]
    if abs(shift) > SAME:
        slope = (float(output_at(case, section, np.array(shift))) - section["output"]) / shift
    given = allowance * (section["output"] - slope * section["level"])
    return _with(Sink(support["chi"], support["drains_to"]), Sink(-allowance * slope, 0.0, given))


def _with(one: Sink, other: Sink) -> Sink:
    """Two sinks in one place."""
    conductance = one.conductance + other.conductance
    pull = one.conductance * one.to + other.conductance * other.to
    return Sink(conductance, pull / conductance if conductance else 0.0, one.given + other.given)


@dataclass(frozen=True)
class Local:
    """What a support's own field has more of than the fin, K, each with the tracer alone and with its allowance: dips
    of wall and contents, hollow: of the metal about a fitting's hollows. rise, fin: what the fin itself rises, falls by
    with this support alone on it."""

    wall: tuple[float, float] = (0.0, 0.0)
    contents: tuple[float, float] = (0.0, 0.0)
    rise: tuple[float, float] = (0.0, 0.0)
    hollow: tuple[float, float] = (0.0, 0.0)
    fin: tuple[float, float] = (0.0, 0.0)


def local_of(one: Standing, by: Lookup, case: Case) -> Local:
    """Of a station, in its case narrowed to a condition; nothing of an elbow.

    In a stream, whose temperature a support's field holds, all of its dip.
    """
    if one.support is None:
        return Local()
    support, section = by(one.stretch, one.what), by(one.stretch, SECTION)
    piece = piece_of(0.0, section)
    length = FAR * float(np.sqrt(piece.along / piece.loss))
    piece = replace(piece, length=length)

    def dip(allowance: float) -> float:
        if section["stream"] > 0:
            return 0.0

        def sinks(at: Array | None) -> list[Sink]:
            here = sink_of(support, section, allowance, case, None if at is None else at[1])
            return [Sink(), here, Sink()]

        alone = solve_outputs([piece, piece], [section] * 2, [case] * 2, sinks)
        return float(piece.settles - alone.temperature[1])

    fin = dip(0.0), dip(one.support.allowance)

    def more(what: str) -> tuple[float, float]:
        both = support[what] - fin[0], support[f"installed_{what}"] - fin[1]
        return both if isfinite(both[0]) and isfinite(both[1]) else (0.0, 0.0)

    hollow = more("hollow_dip") if "hollow_dip" in support else (0.0, 0.0)
    return Local(more("dip"), more("contents_dip"), (max(-fin[0], 0.0), max(-fin[1], 0.0)), hollow, fin)


def further_dip(one: Standing, local: tuple[float, float], allowance: float) -> float:
    """The further dip at a support with an allowance, K: linear from none to the one its field was solved with."""
    installed = one.support.allowance if one.support is not None else 0.0
    share = min(allowance / installed, 1.0) if installed > 0 else 0.0
    return local[0] + share * (local[1] - local[0])
