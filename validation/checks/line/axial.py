"""The line along itself against closed forms: sinks on a fin, a stream that cools, energy, and the mirrored order."""

import numpy as np

from sim.solve.axial import Piece, Sink, solve_axial
from validation.published.rows import Row

FIN = "@incropera, table 3.4 (from memory): a fin without end on either side of a sink"
STREAM = "@incropera, section 8.3.3 (from memory): a stream in surroundings of one temperature"
BALANCE = "heat in is heat out, from the definition"
MIRROR = "a line read from its other end, from the definition"
ALONG, LOSS, RISE = 0.10239, 0.37744, 60.0  # W m/K, W/m/K, K: DN 100 Sch 40 under 50 mm of 0.04 W/m/K
FREE = Sink()


def sinks() -> list[Row]:
    """Sinks on a fin: one alone, and many at an even distance."""
    pipe = np.sqrt(ALONG * LOSS)
    rows = []
    for sink in (0.1, 0.5, 2.0):
        line = solve_axial([Piece(20.0, ALONG, LOSS, RISE)] * 2, [FREE, Sink(sink), FREE])
        exact, ours = RISE * sink / (sink + 2 * pipe), RISE - float(line.temperature[1])
        rows.append(Row(f"sink of {sink:g} W/K", FIN, "dip", exact, ours, 1e-6, "rounding", "K"))
    for apart in (0.5, 2.0):
        half, whole = Piece(apart / 2, ALONG, LOSS, RISE), Piece(apart, ALONG, LOSS, RISE)
        line = solve_axial([half, *[whole] * 3, half], [FREE, *[Sink(0.5)] * 4, FREE])
        meets = 2 * pipe * np.tanh(0.5 * apart * np.sqrt(LOSS / ALONG))
        exact, ours = RISE * 0.5 / (0.5 + meets), RISE - float(line.temperature[2])
        rows.append(Row(f"sinks every {apart:g} m", FIN, "dip", exact, ours, 1e-6, "rounding", "K"))
    return rows


def stream() -> list[Row]:
    """A stream that cools along a line, without and with a sink on the way."""
    rows = []
    for heat, sink in ((500.0, 0.0), (500.0, 3.0), (5000.0, 3.0)):
        pieces = [Piece(50.0, ALONG, LOSS, 10.0)] * 2
        line = solve_axial(pieces, [FREE, Sink(sink, -20.0), FREE], heat, entry=50.0)
        falls = np.exp(-LOSS * 50.0 / heat)
        after = (heat * (10 + 40 * falls) - 20.0 * sink) / (heat + sink)
        exact, ours = 10 + (after - 10) * falls, float(line.temperature[2])
        reason = "conduction along the stream, left out of the closed form"
        rows.append(
            Row(f"{heat:g} W/K, sink {sink:g} W/K", STREAM, "leaves at", exact, ours, 1e-3, reason, "degC")
        )
    return rows


def balance_and_mirror() -> list[Row]:
    """Twenty random lines: the heat balance, and the same line from its other end."""
    rng = np.random.default_rng(11)
    worst = mirrored = 0.0
    for _ in range(20):
        n = int(rng.integers(2, 12))
        length, along, loss = rng.uniform(0.05, 20, n), rng.uniform(0.02, 0.5, n), rng.uniform(0.1, 2, n)
        pieces = [Piece(float(length[i]), float(along[i]), float(loss[i]), RISE) for i in range(n)]
        ends = [Sink(float(rng.uniform(0, 2)), -20.0, float(rng.uniform(0, 20))) for _ in range(n + 1)]
        line = solve_axial(pieces, ends)
        lost = sum(p.loss * p.length * e for p, e in zip(pieces, line.mean_excess(), strict=True))
        taken = sum(s.conductance * (t - s.to) for s, t in zip(ends, line.temperature, strict=True))
        given = sum(s.given for s in ends)
        worst = max(worst, abs(float(lost) + float(taken) - given) / max(abs(float(taken)), given))
        other = solve_axial(pieces[::-1], ends[::-1]).temperature[::-1]
        mirrored = max(mirrored, float(np.abs(other - line.temperature).max()))
    return [
        Row("20 lines", BALANCE, "closure", 0.0, worst, 1e-9, "rounding", "of the heat"),
        Row("20 lines", MIRROR, "largest difference", 0.0, mirrored, 1e-9, "rounding", "K"),
    ]


GROUPS = (sinks, stream, balance_and_mirror)
