"""Error over time: one measured point, a solver's curve, and the time at which an error is reached to stay."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from time import perf_counter, process_time
from typing import Any

import numpy as np

LONG = 0.5  # s; what takes longer is run only twice


@dataclass(frozen=True)
class Point:
    """One solution: whose, of which series, at which setting, unknowns, processor s, wall s, error in % of the span."""

    who: str
    series: str
    setting: float
    unknowns: float
    seconds: float
    wall: float
    error: float


@dataclass(frozen=True)
class Reached:
    """Seconds at which a solver's error falls below a wanted one for good. bound: its coarsest point already did, so
    a coarser one might be quicker still; nan seconds: never reached. series: which of its ways."""

    seconds: float
    bound: bool
    series: str


def timed(run: Callable[[], Any], most: int = 4) -> tuple[float, float, Any]:
    """Least processor seconds and least wall seconds of a few runs, and what the last one gave."""
    best, best_wall, result = np.inf, np.inf, None
    for count in range(most):
        begin, begin_wall = process_time(), perf_counter()
        result = run()
        best = min(best, process_time() - begin)
        best_wall = min(best_wall, perf_counter() - begin_wall)
        if best > LONG and count:
            break
    return best, best_wall, result


def reached(points: Sequence[Point], error: float) -> Reached:
    """When a solver is below an error for good, the quickest of its series counts.

    Along a series from the dearest point back, the last still below; between it and the next coarser one the time is
    interpolated in logarithms, an error that happens to pass near zero counted as half the wanted one. So a coarse
    mesh that is right by luck does not count unless all finer ones are too.
    """
    best = Reached(float("nan"), False, "")
    for series in dict.fromkeys(p.series for p in points):
        mine = sorted((p for p in points if p.series == series), key=lambda p: -p.unknowns)
        below = 0
        while below < len(mine) and abs(mine[below].error) <= error:
            below += 1
        if below == 0:
            continue
        last = mine[below - 1]
        if below == len(mine):
            quickest = Reached(last.seconds, True, series)
        else:
            over = mine[below]
            part = np.log(abs(over.error) / error) / np.log(
                abs(over.error) / max(abs(last.error), 0.5 * error)
            )
            seconds = over.seconds * (last.seconds / over.seconds) ** part
            quickest = Reached(float(seconds), False, series)
        if not best.seconds <= quickest.seconds:
            best = quickest
    return best


def power(size: Sequence[float], cost: Sequence[float]) -> float:
    """Exponent of cost over size by least squares on logarithms."""
    return float(np.polyfit(np.log(size), np.log(cost), 1)[0])
