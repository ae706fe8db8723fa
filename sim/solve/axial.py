"""A line along itself: contents and wall as a fin between stations, and as a stream where the contents flow.

On each piece the temperature obeys

    kA T'' - C T' - U (T - T0) = 0,

T0 what the piece settles at by itself, U what it loses more a metre for a kelvin (less what the tracers give more),
C the stream's heat capacity a second, 0 at rest. At a station T has a kink: a sink takes G (T - Ta), and an allowance
gives its heat. The pieces' closed forms between the unknown temperatures of their ends leave a matrix of as many
unknowns as there are ends. Both ends of the line are adiabatic, but for a stream, which enters at a given temperature.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.section.shapes import Array

MOST = 500.0  # of an exponent, beyond which what decays is gone


@dataclass(frozen=True)
class Piece:
    """length, m; along: kA, W m/K; loss: U, W/m/K; settles: T0, K."""

    length: float
    along: float
    loss: float
    settles: float


@dataclass(frozen=True)
class Sink:
    """What a station between two pieces takes: conductance, W/K, to a temperature, K, and heat given there, W."""

    conductance: float = 0.0
    to: float = 0.0
    given: float = 0.0


@dataclass(frozen=True)
class Axial:
    """Temperatures (n + 1,) K at the ends of n pieces; coefficient (n, 2) of the two exponentials of each."""

    pieces: tuple[Piece, ...]
    stream: float
    temperature: Array
    exponent: Array
    coefficient: Array

    def at(self, piece: int, distance: Array) -> Array:
        """Temperature on a piece at distances from its start, K."""
        one = self.pieces[piece]
        down, up = _decays(self.exponent[piece], distance, one.length)
        temperature: Array = one.settles + self.coefficient[piece, 0] * down + self.coefficient[piece, 1] * up
        return temperature

    def mean_excess(self) -> Array:
        """Mean of T - T0 on each piece, (n,) K."""
        low, high = self.exponent.T
        length = np.array([piece.length for piece in self.pieces])
        falls = (1 - np.exp(-np.minimum(-low * length, MOST))) / (-low * length)
        rises = (1 - np.exp(-np.minimum(high * length, MOST))) / (high * length)
        mean: Array = self.coefficient[:, 0] * falls + self.coefficient[:, 1] * rises
        return mean


def _decays(exponent: Array, distance: Array, length: float) -> tuple[Array, Array]:
    """The two exponentials, one from the start and one from the end of a piece, each 1 there."""
    down = np.exp(np.maximum(exponent[0] * distance, -MOST))
    up = np.exp(np.maximum(exponent[1] * (distance - length), -MOST))
    return down, up


def solve_axial(
    pieces: Sequence[Piece], sinks: Sequence[Sink], stream: float = 0.0, entry: float | None = None
) -> Axial:
    """Solve a line of n pieces; sinks (n + 1,): at the start, between pieces, at the end.

    stream: C, W/K, towards the end; entry: K, at which it enters. Raises ValueError where nothing fixes a temperature.
    """
    along = np.array([piece.along for piece in pieces])
    loss = np.array([piece.loss for piece in pieces])
    if (loss <= 0).any():
        raise ValueError("a piece of the line loses no more when it is warmer; its temperature is not fixed")
    root = np.sqrt(stream**2 + 4 * along * loss)
    # the product of the two is -loss / along: no difference of near numbers
    high = (stream + root) / (2 * along)
    exponent = np.stack([-loss / (along * high), high], axis=1)
    n = len(pieces)
    matrix, right = np.zeros((n + 1, n + 1)), np.zeros(n + 1)
    length = np.array([piece.length for piece in pieces])
    settles = np.array([piece.settles for piece in pieces])
    ends = np.ones((n, 2, 2))  # of each piece, the two exponentials at its start and at its end
    ends[:, 1, 0] = np.exp(np.maximum(exponent[:, 0] * length, -MOST))
    ends[:, 0, 1] = np.exp(np.maximum(-exponent[:, 1] * length, -MOST))
    inverse = np.linalg.inv(ends)
    # heat carried towards the end at either end of each piece, by the temperatures of both: -kA T' + C (T - T0)
    by_ends = (ends * (stream - along[:, None] * exponent)[:, None, :]) @ inverse
    every = np.arange(n)
    for end, sign in ((0, 1.0), (1, -1.0)):
        for column in (0, 1):
            np.add.at(matrix, (every + end, every + column), sign * by_ends[:, end, column])
        np.add.at(right, every + end, sign * (by_ends[:, end].sum(axis=1) - stream) * settles)
    for i, sink in enumerate(sinks):
        matrix[i, i] += sink.conductance
        right[i] += sink.conductance * sink.to + sink.given
    if stream > 0.0:
        assert entry is not None
        matrix[0], right[0] = 0.0, entry
        matrix[0, 0] = 1.0
        matrix[n, n] += stream  # what the stream carries out of the last end is no loss of the line
    temperature = np.linalg.solve(matrix, right).astype(float)
    ends_of = np.stack([temperature[:-1], temperature[1:]], axis=1)
    excess = ends_of - settles[:, None]
    coefficient: Array = np.einsum("nij,nj->ni", inverse, excess)
    return Axial(tuple(pieces), stream, temperature, exponent, coefficient)
