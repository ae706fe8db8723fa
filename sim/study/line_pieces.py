"""A line cut into pieces and sinks, from the facts of its sections, elbows and supports."""

from __future__ import annotations

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
    """Pieces with the facts and the stretch of each, and the stations (their numbers) at each of the n + 1 ends."""

    pieces: tuple[Piece, ...]
    facts: tuple[Facts, ...]
    start: tuple[float, ...]
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
    pieces, facts, start = [], [], []
    for low, high in pairwise(edges):
        middle = 0.5 * (low + high)
        stretch = int(np.clip(np.searchsorted(line.starts, middle) - 1, 0, len(cases) - 1))
        bend = any(a < middle < b and k >= 0 for a, b, k in cuts)
        own = by(stretch, BEND if bend else SECTION)
        pieces.append(piece_of(float(high - low), own))
        facts.append(own)
        start.append(float(low))
    ends: list[list[int]] = [[] for _ in edges]
    for k, one in enumerate(line.stations):
        if one.support is not None:
            ends[int(np.argmin(np.abs(edges - one.place)))].append(k)
    return Laid(tuple(pieces), tuple(facts), tuple(start), tuple(tuple(end) for end in ends))


def solve_laid(line: Line, laid: Laid, by: Lookup, allowances: list[float]) -> Axial:
    sinks = []
    for end in laid.ends:
        total = Sink()
        for k in end:
            one = line.stations[k]
            total = _with(
                total, sink_of(by(one.stretch, facts_at(one)), by(one.stretch, SECTION), allowances[k])
            )
        sinks.append(total)
    first = laid.facts[0]
    return solve_axial(laid.pieces, sinks, first["stream"], first["level"] if first["stream"] > 0 else None)


def facts_at(one: Standing) -> str:
    return one.support.name if one.support is not None else BEND


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


def local_dips(one: Standing, by: Lookup) -> tuple[float, float, float]:
    """What a support's own field has more of a dip than the fin, K: wall and contents with the tracer alone, and the
    wall with the case's allowance. In a stream, whose temperature a support's field holds, all of its dip."""
    if one.support is None:
        return 0.0, 0.0, 0.0
    support, section = by(one.stretch, one.support.name), by(one.stretch, SECTION)
    piece = piece_of(0.0, section)
    length = FAR * float(np.sqrt(piece.along / piece.loss))
    piece = replace(piece, length=length)

    def dip(allowance: float) -> float:
        if section["stream"] > 0:
            return 0.0
        sinks = [Sink(), sink_of(support, section, allowance), Sink()]
        alone = solve_axial([piece, piece], sinks)
        settles = solve_axial([piece, piece], [Sink(), Sink(), Sink()])
        return float(settles.temperature[1] - alone.temperature[1])

    wall, contents = support["dip"] - dip(0.0), support["contents_dip"] - dip(0.0)
    installed = support["installed_dip"] - dip(one.support.allowance)
    return wall, contents if isfinite(contents) else 0.0, installed


def further_dip(one: Standing, local: tuple[float, float, float], allowance: float) -> float:
    """The wall's further dip at a support with an allowance, K: linear from none to the case's own."""
    own = one.support.allowance if one.support is not None else 0.0
    share = min(allowance / own, 1.0) if own > 0 else 0.0
    return local[0] + share * (local[2] - local[0])
