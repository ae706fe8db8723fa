"""A line cut into pieces and sinks, from the facts of its sections, elbows and supports."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from math import isfinite

import numpy as np

from sim.case import Case
from sim.solve.axial import Axial, Piece, Sink, solve_axial

from .line_file import Line, Standing, arc_of
from .stations import BEND, SECTION, Facts

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


def piece_of(length: float, facts: Facts) -> Piece:
    loss = facts["loss_slope"] - facts["output_slope"]
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
        own = by(stretch, SECTION if bend < 0 else BEND)
        of.append(stretch)
        bends.append(bend)
        pieces.append(piece_of(float(high - low), own))
        facts.append(own)
        start.append(float(low))
    ends: list[list[int]] = [[] for _ in edges]
    for k, one in enumerate(line.stations):
        if one.support is not None:
            ends[int(np.argmin(np.abs(edges - one.place)))].append(k)
    return Laid(
        tuple(pieces), tuple(facts), tuple(start), tuple(of), tuple(bends), tuple(tuple(end) for end in ends)
    )


def solve_laid(line: Line, laid: Laid, by: Lookup, allowances: list[float]) -> Axial:
    sinks = []
    for end in laid.ends:
        total = Sink()
        for k in end:
            one = line.stations[k]
            total = _with(total, sink_of(by(one.stretch, one.what), by(one.stretch, SECTION), allowances[k]))
        sinks.append(total)
    first = laid.facts[0]
    return solve_axial(laid.pieces, sinks, first["stream"], first["level"] if first["stream"] > 0 else None)


def sink_of(support: Facts, section: Facts, allowance: float) -> Sink:
    """A support's conductance to the ambient, and its allowance's heat as it goes with the temperature."""
    slope = allowance * section["output_slope"]
    given = allowance * section["output"] - slope * section["level"]
    return _with(Sink(support["chi"], section["ambient"]), Sink(-slope, 0.0, given))


def _with(one: Sink, other: Sink) -> Sink:
    """Two sinks in one place."""
    conductance = one.conductance + other.conductance
    pull = one.conductance * one.to + other.conductance * other.to
    return Sink(conductance, pull / conductance if conductance else 0.0, one.given + other.given)


@dataclass(frozen=True)
class Local:
    """What a support's own field has more of than the fin, K, each with the tracer alone and with its allowance: dips
    of wall and contents, hollow: of the metal about a fitting's hollows; rise: what the fin itself rises by."""

    wall: tuple[float, float] = (0.0, 0.0)
    contents: tuple[float, float] = (0.0, 0.0)
    rise: tuple[float, float] = (0.0, 0.0)
    hollow: tuple[float, float] = (0.0, 0.0)


def local_of(one: Standing, by: Lookup) -> Local:
    """Of a station; nothing of an elbow. In a stream, whose temperature a support's field holds, all of its dip."""
    if one.support is None:
        return Local()
    support, section = by(one.stretch, one.what), by(one.stretch, SECTION)
    piece = piece_of(0.0, section)
    length = FAR * float(np.sqrt(piece.along / piece.loss))
    piece = replace(piece, length=length)
    settles = solve_axial([piece, piece], [Sink(), Sink(), Sink()])

    def dip(allowance: float) -> float:
        if section["stream"] > 0:
            return 0.0
        alone = solve_axial([piece, piece], [Sink(), sink_of(support, section, allowance), Sink()])
        return float(settles.temperature[1] - alone.temperature[1])

    fin = dip(0.0), dip(one.support.allowance)

    def more(what: str) -> tuple[float, float]:
        both = support[what] - fin[0], support[f"installed_{what}"] - fin[1]
        return both if isfinite(both[0]) and isfinite(both[1]) else (0.0, 0.0)

    hollow = more("hollow_dip") if "hollow_dip" in support else (0.0, 0.0)
    return Local(more("dip"), more("contents_dip"), (max(-fin[0], 0.0), max(-fin[1], 0.0)), hollow)


def further_dip(one: Standing, local: tuple[float, float], allowance: float) -> float:
    """The further dip at a support with an allowance, K: linear from none to the one its field was solved with."""
    own = one.support.allowance if one.support is not None else 0.0
    share = min(allowance / own, 1.0) if own > 0 else 0.0
    return local[0] + share * (local[1] - local[0])
