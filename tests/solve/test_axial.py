"""The line along itself: sinks on a fin and a stream in closed form, energy, and the mirrored order."""

from __future__ import annotations

import numpy as np
import pytest

from sim.solve.axial import Axial, Piece, Sink, solve_axial

ALONG, LOSS, SINK, RISE = 0.10239, 0.37744, 0.5, 60.0
FREE = Sink()


def piece(length: float, settles: float = RISE) -> Piece:
    return Piece(length, ALONG, LOSS, settles)


def test_a_sink_on_a_long_fin_dips_by_the_closed_form() -> None:
    line = solve_axial([piece(20.0), piece(20.0)], [FREE, Sink(SINK), FREE])
    dip = RISE * SINK / (SINK + 2 * np.sqrt(ALONG * LOSS))
    assert dip == pytest.approx(33.588, abs=5e-4)
    assert RISE - line.temperature[1] == pytest.approx(dip, rel=1e-9)
    reach = np.sqrt(ALONG / LOSS)
    assert RISE - line.at(1, np.array(reach)) == pytest.approx(dip / np.e, rel=1e-9)


def test_sinks_at_even_distance_share_what_lies_between() -> None:
    pieces = [piece(0.5), *[piece(1.0)] * 4, piece(0.5)]
    line = solve_axial(pieces, [FREE, *[Sink(SINK)] * 5, FREE])
    meets = 2 * np.sqrt(ALONG * LOSS) * np.tanh(0.5 / np.sqrt(ALONG / LOSS))
    assert line.temperature[1:-1] == pytest.approx(RISE - RISE * SINK / (SINK + meets), rel=1e-9)


def uneven() -> tuple[list[Piece], list[Sink]]:
    pieces = [Piece(3.0, 0.1, 0.4, 50.0), Piece(0.2, 0.08, 0.9, 70.0), Piece(7.0, 0.2, 0.3, 20.0)]
    return pieces, [Sink(0.1, -10.0), Sink(0.4, -20.0, 3.0), Sink(0.7, 5.0), Sink(0.0, 0.0, 2.0)]


def left(line: Axial, sinks: list[Sink]) -> float:
    """Heat that leaves less heat that is given, W, without the stream's."""
    pieces = sum(p.loss * p.length * e for p, e in zip(line.pieces, line.mean_excess(), strict=True))
    taken = sum(s.conductance * (t - s.to) - s.given for s, t in zip(sinks, line.temperature, strict=True))
    return float(pieces + taken)


def test_energy_closes() -> None:
    pieces, sinks = uneven()
    assert left(solve_axial(pieces, sinks), sinks) == pytest.approx(0.0, abs=1e-10)


def test_the_order_reversed_gives_the_mirrored_answer() -> None:
    pieces, sinks = uneven()
    one, other = solve_axial(pieces, sinks), solve_axial(pieces[::-1], sinks[::-1])
    assert other.temperature[::-1] == pytest.approx(one.temperature, rel=1e-12)
    assert other.at(0, np.array(7.0 - 1.3)) == pytest.approx(one.at(2, np.array(1.3)), rel=1e-10)


def test_a_stream_falls_as_it_loses() -> None:
    stream = 500.0
    pieces, sinks = [piece(50.0, 10.0)] * 2, [FREE, Sink(3.0, -20.0), FREE]
    line = solve_axial(pieces, sinks, stream, entry=50.0)
    # conduction along it aside, which is small beside the stream
    first = 10 + 40 * np.exp(-LOSS * 50 / stream)
    after = (stream * first - 3.0 * 20.0) / (stream + 3.0)
    assert line.temperature[1] == pytest.approx(after, abs=1e-4)
    assert line.temperature[2] == pytest.approx(10 + (after - 10) * np.exp(-LOSS * 50 / stream), abs=1e-4)
    given = stream * (line.temperature[0] - line.temperature[-1])
    assert left(line, sinks) == pytest.approx(given, rel=1e-4)


def test_a_slow_stream_is_a_fin_that_leans() -> None:
    still = solve_axial([piece(20.0), piece(20.0)], [FREE, Sink(SINK), FREE])
    slow = solve_axial([piece(20.0), piece(20.0)], [FREE, Sink(SINK), FREE], 1e-6, entry=RISE)
    assert slow.temperature[1] == pytest.approx(still.temperature[1], abs=1e-4)


def test_a_piece_that_loses_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="not fixed"):
        solve_axial([Piece(1.0, 0.1, 0.0, 10.0)], [FREE, FREE])
