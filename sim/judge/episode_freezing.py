"""Ice in an episode: when and where it first forms, the moments of its shares, the smallest free passage."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.solve.convergence import Banded
from sim.solve.over_time import NAN, SHARES, EpisodeResult, Run

ICE_NOTES = (
    "still water may cool several kelvin below its freezing point before ice forms, and then freezes at once in thin"
    " plates across the bore: it may be blocked long before the times given here (not computed)",
    "water that is closed in as it freezes raises the pressure until something bursts, and less ice than a full bore"
    " is enough for that (not computed)",
    "dead ends, instruments and supports freeze before the section does, which does not see them",
)


@dataclass(frozen=True)
class Freezing:
    """Ice: its first moment (s) and clock position, moments of each share, the smallest free passage (m)."""

    first: Banded
    first_clock: float
    share: dict[float, Banded]
    smallest_passage: Banded


def contents_path(run: Run) -> str:
    """The quantity that says how cold the contents are: the liquid where there is gas above it."""
    return "liquid.min" if "liquid.min" in run.courses else "contents.min"


def freezing_of(result: EpisodeResult) -> tuple[Freezing | None, tuple[str, ...]]:
    """When and where ice forms, and how much, of contents that freeze."""
    fluid, fine = result.case.contents.fluid, result.fine
    if "frozen" not in fine.courses:
        return None, ()
    assert fluid.freezes_at is not None
    start = fluid.freezes_at

    def first(run: Run) -> float | None:
        lump = run.course("contents.stored")  # of mixed contents, which stay at the freezing point
        if lump is not None:
            return lump.first(1, 0.0)[0]
        curve = run.course(contents_path(run))
        return None if curve is None else curve.first(1, start)[0]

    def share(run: Run, part: float) -> float | None:
        curve = run.course("frozen")
        return None if curve is None else curve.first(-1, part)[0]

    def narrowest(run: Run) -> float | None:
        curve = run.course("passage")
        iced = run.course("frozen")
        if curve is None or iced is None or iced.extreme("max")[0] <= 0.0:
            return None
        return curve.extreme("min")[0]

    begins = result.number(first)
    clock = NAN
    place = fine.course(f"{contents_path(fine)}_clock")
    if place is not None and np.isfinite(begins.value):
        after = int(np.searchsorted(place.times.at, begins.value))
        clock = float(place.value[min(after, len(place.value) - 1)])
    shares = {part: result.number(share, part) for part in SHARES}
    found = Freezing(begins, clock, shares, result.number(narrowest))
    return found, ICE_NOTES if np.isfinite(begins.value) else ()
