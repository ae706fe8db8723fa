"""The line along itself: a stream that hardly moves, and a piece that loses nothing. Closed forms: `line.axial`."""

import pytest

from sim.solve.axial import Piece, Sink, solve_axial

ALONG, LOSS, SINK, RISE = 0.10239, 0.37744, 0.5, 60.0
FREE = Sink()


def piece(length: float, settles: float = RISE) -> Piece:
    return Piece(length, ALONG, LOSS, settles)


def test_a_piece_that_loses_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="not fixed"):
        solve_axial([Piece(1.0, 0.1, 0.0, 10.0)], [FREE, FREE])
