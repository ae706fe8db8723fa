"""The numerical band of every variant: its own from three meshes, or that seen at a few reference variants.

With one mesh a variant, some variants are solved on three meshes too. The band of a result in a condition is then the
largest, over those references, of: how far the one mesh is from the finest, plus the finest mesh's own band (grid
convergence index). The band of a difference between two variants is the largest difference of those errors between
references, plus twice the largest band of a finest mesh; with three meshes it is the sum of the two bands.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from sim.solve.paths import limited, quantity

from .frame import Array, Frame


@dataclass(frozen=True)
class Bands:
    """Bands by condition and path. own: (n,) of each variant, three meshes; else one number for all, `shared`."""

    own: dict[str, dict[str, Array]] | None
    shared: dict[str, dict[str, float]]
    apart: dict[str, dict[str, float]]
    references: int

    def of(self, condition: str, path: str, i: int) -> float:
        """Band of a result of variant i, K or W/m; NaN where none is known."""
        if self.own is not None:
            column = self.own.get(condition, {}).get(path)
            return float("nan") if column is None else float(column[i])
        return self.shared.get(condition, {}).get(path, float("nan"))

    def column(self, condition: str, path: str, n: int) -> Array:
        """Bands of a result of all n variants, shape (n,)."""
        return np.array([self.of(condition, path, i) for i in range(n)])

    def difference(self, condition: str, path: str, i: int, j: int) -> float:
        """Band of the difference of a result between variants i and j."""
        if self.own is not None:
            return self.of(condition, path, i) + self.of(condition, path, j)
        return self.apart.get(condition, {}).get(path, float("nan"))

    def in_words(self, fineness: float) -> str:
        """How the bands were got."""
        if self.own is not None:
            return "Every variant was solved on three meshes; bands are grid convergence indices."
        if not self.references:
            return f"One mesh a variant (fineness {fineness:g}); no reference could be solved, so no band is known."
        return (
            f"One mesh a variant (fineness {fineness:g}). The band is the largest seen at {self.references} reference "
            "variants that were solved on three meshes as well: the distance of the one mesh from the finest, plus "
            "that mesh's own band (grid convergence index). It is taken to hold for the variants between."
        )


def limit_path(limit: str, paths: Iterable[str]) -> str:
    """The result that a limit is held against, of those that there are; "" where none is there."""
    return next((row.path for held, row in limited(paths) if held.name == limit), "")


def bands(coarse: Frame, fine: Frame | None) -> Bands:
    """Bands of a study's frame; fine: the reference variants on three meshes, None where every variant has its own."""
    if fine is None:
        return Bands(coarse.bands, {}, {}, 0)
    place = {number: i for i, number in enumerate(coarse.number)}
    pairs = [
        (place[n], j) for j, n in enumerate(fine.number) if n in place and fine.ok[j] and coarse.ok[place[n]]
    ]
    shared: dict[str, dict[str, float]] = {}
    apart: dict[str, dict[str, float]] = {}
    for condition, by_path in coarse.values.items():
        shared[condition], apart[condition] = {}, {}
        for path, column in by_path.items():
            best = fine.values.get(condition, {}).get(path)
            width = fine.bands.get(condition, {}).get(path)
            if best is None or width is None:
                continue
            gap = quantity(path).measure.apart
            error = np.array([gap(float(column[i]), float(best[j])) for i, j in pairs])
            band = np.array([width[j] for _, j in pairs])
            known = np.isfinite(error) & np.isfinite(band)
            if known.any():
                error, band = error[known], band[known]
                shared[condition][path] = float((np.abs(error) + band).max())
                apart[condition][path] = float(np.ptp(error) + 2 * band.max())
    return Bands(None, shared, apart, len(pairs))


def choose_references(coarse: Frame, paths: list[str], most: int) -> list[int]:
    """Rows to solve on three meshes: least margin, extremes of the results shown, then evenly over the study.

    Deterministic: the same rows give the same choice.
    """
    good = np.flatnonzero(coarse.ok)
    if not len(good):
        return []
    wanted: list[int] = []
    margin = coarse.least_margin()[good]
    if np.isfinite(margin).any():
        wanted.append(int(good[np.nanargmin(margin)]))
    for path in paths:
        for by_path in coarse.values.values():
            column = by_path.get(path, np.full(len(coarse), np.nan))[good]
            if np.isfinite(column).any():
                wanted += [int(good[np.nanargmin(column)]), int(good[np.nanargmax(column)])]
    spread = [int(good[i]) for i in np.linspace(0, len(good) - 1, max(most, 2)).round().astype(int)]
    # Half by what is extreme, the rest evenly over the study.
    extreme = list(dict.fromkeys(wanted))[: max(1, (most + 1) // 2)]
    return list(dict.fromkeys(extreme + spread + wanted))[:most]
