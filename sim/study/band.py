"""The numerical band of every variant: its own from three meshes, or that seen at a few reference variants.

A variant has bands of its own where it was solved on three meshes: with `meshes = 3`, where contents move, and where
fields around supports are computed. For the others some variants are solved on three meshes too; the band of a
result in a condition is then the largest, over those references, of: how far the one mesh is from the finest, plus the
finest mesh's own band (grid convergence index).

What two variants have in common of their errors drops out of their difference. With three meshes each, its band is the
grid convergence index of the difference itself, taken mesh by mesh. With one mesh each it is the largest, over pairs of
references, of how far the difference on one mesh is from that on the finest meshes, plus the index of the latter.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from sim.solve.at_rest import RATIO, ROUNDING
from sim.solve.convergence import banded
from sim.solve.measures import EPISODE_LIMITS
from sim.solve.paths import limited, quantity

from .frame import Array, Frame
from .row import ELBOW, PLACES, WITH, place_of

FLOOR = 0.1  # of the larger of two bands: that of their difference is no narrower, unless they agree on every mesh
ALIKE = 1e-5  # K, W/m: two variants whose difference is no more than this on every mesh are the same

Three = Sequence[float]


@dataclass(frozen=True)
class Bands:
    """Bands by condition and path. own: (n,) of variants with three meshes, NaN for others, which have `shared`.

    levels: (n, 3) values of each variant on its meshes; apart: of a difference of two variants with one mesh; sure: of
    such a difference where both are references, by their places.
    """

    own: dict[str, dict[str, Array]]
    shared: dict[str, dict[str, float]]
    apart: dict[str, dict[str, float]]
    references: int
    levels: dict[str, dict[str, Array]] = field(default_factory=dict)
    sure: dict[str, dict[str, dict[tuple[int, int], float]]] = field(default_factory=dict)

    def of(self, condition: str, path: str, i: int) -> float:
        """Band of a result of variant i, in the unit of its differences; NaN where none is known."""
        column = self.own.get(condition, {}).get(path)
        if column is not None and not np.isnan(column[i]):
            return float(column[i])
        return self.shared.get(condition, {}).get(path, float("nan"))

    def difference(self, condition: str, path: str, i: int, j: int) -> float:
        """Band of the difference of a result between variants i and j."""
        one, other = self.of(condition, path, i), self.of(condition, path, j)
        column = self.own.get(condition, {}).get(path)
        whole = [column is not None and not np.isnan(column[k]) for k in (i, j)]
        if all(whole):
            levels = self.levels.get(condition, {}).get(path)
            if levels is None:
                return one + other
            return of_difference(path, levels[i], levels[j], one, other)
        if any(whole):
            return one + other
        known = self.sure.get(condition, {}).get(path, {}).get((min(i, j), max(i, j)))
        return self.apart.get(condition, {}).get(path, float("nan")) if known is None else known


def of_difference(path: str, one: Three, other: Three, band_one: float, band_other: float) -> float:
    """Band of the difference of two results on three meshes each: the grid convergence index of the difference.

    Never wider than the sum of both bands. Never narrower than a tenth of the wider one, so that no chance agreement
    passes for accuracy, unless the two agree on every mesh, as mirror images do.
    """
    apart = quantity(path).measure.apart
    gap = [apart(float(a), float(b)) for a, b in zip(one, other, strict=True)]
    total = band_one + band_other
    if not np.isfinite(gap).all():
        return total
    if max(abs(g) for g in gap) <= ALIKE:
        return min(ALIKE + ROUNDING, total) if total > 0 else 0.0
    index = banded((gap[0], gap[1], gap[2]), RATIO, ROUNDING).band
    return min(max(index, FLOOR * max(band_one, band_other)), total)


def judged_path(key: str, paths: Iterable[str]) -> str:
    """The result that a limit at a place is held against, of those that there are; "" where none is there."""
    limit, support = place_of(key)
    if limit in EPISODE_LIMITS:
        return next((path for path in paths if quantity(path).limit == limit), "")
    around = tuple(f"{kind}{support}.{WITH}" for kind in PLACES)
    before = (f"{ELBOW}.",) if support == ELBOW else around
    there = [
        path
        for path in paths
        if (path.startswith(before) if support else not path.startswith((*PLACES, f"{ELBOW}.")))
    ]
    return next((row.path for of, row in limited(there) if of.name == limit), "")


def bands(coarse: Frame, fine: Frame | None) -> Bands:
    """Bands of a study's frame; fine: the reference variants on three meshes, None where none were needed."""
    shared: dict[str, dict[str, float]] = {}
    apart: dict[str, dict[str, float]] = {}
    sure: dict[str, dict[str, dict[tuple[int, int], float]]] = {}
    place = {number: i for i, number in enumerate(coarse.number)}
    pairs = [
        (place[n], j)
        for j, n in enumerate(fine.number if fine is not None else ())
        if fine is not None and n in place and fine.ok[j] and coarse.ok[place[n]]
    ]
    for condition, by_path in coarse.values.items() if fine is not None else ():
        assert fine is not None
        shared[condition], apart[condition], sure[condition] = {}, {}, {}
        for path, column in by_path.items():
            best = fine.values.get(condition, {}).get(path)
            width = fine.bands.get(condition, {}).get(path)
            if best is None or width is None:
                continue
            measure = quantity(path).measure
            known = [
                (i, j)
                for i, j in pairs
                if np.isfinite(column[i]) and np.isfinite(best[j]) and np.isfinite(width[j])
            ]
            if not known:
                continue
            error = {i: measure.apart(float(column[i]), float(best[j])) for i, j in known}
            shared[condition][path] = max(abs(error[i]) + float(width[j]) for i, j in known)
            levels = fine.levels.get(condition, {}).get(path)
            between = {}
            for (i, j), (k, m) in combinations(known, 2):
                index = float(width[j] + width[m])
                if levels is not None:
                    index = of_difference(path, levels[j], levels[m], float(width[j]), float(width[m]))
                between[min(i, k), max(i, k)] = abs(measure.apart(error[i], error[k])) + index
            sure[condition][path] = between
            # With one reference nothing is known of how the error differs between variants.
            apart[condition][path] = max(between.values(), default=2 * shared[condition][path])
    return Bands(coarse.bands, shared, apart, len(pairs), coarse.levels, sure)


def on_one_mesh(frame: Frame) -> bool:
    """Whether some computed variant has a condition without bands of its own."""
    return any(bool((count[frame.ok] == 1).any()) for count in frame.meshes.values())


def in_words(frame: Frame, bands: Bands, fineness: float) -> str:
    """On how many meshes the variants ran, and how their bands were got."""
    rows = []
    for condition in frame.conditions:
        meshes = frame.meshes.get(condition, np.zeros(len(frame), dtype=int))[frame.ok]
        three, marked = int((meshes > 1).sum()), int(frame.bracketed.get(condition, np.zeros(0, bool)).sum())
        many = f"{three} of {len(meshes)} variants" if 0 < three < len(meshes) else "every variant"
        text = f"on three meshes, {many}" if three else "on one mesh, every variant"
        if marked:
            text += f" ({marked} are brackets: the contents' flow was not resolved)"
        rows.append((condition, text))
    texts = {text for _, text in rows}
    ran = texts.pop() if len(texts) == 1 else "; ".join(f"{condition}: {text}" for condition, text in rows)
    words = f"Solved {ran}." if rows else ""
    if any("three" in text for _, text in rows):
        words += " On three meshes a variant has its own band, the grid convergence index."
    if on_one_mesh(frame):
        if not bands.references:
            return f"{words} One mesh (fineness {fineness:g}): no reference could be solved, so no band is known."
        words += (
            f" On one mesh (fineness {fineness:g}) the band is the largest seen at {bands.references} reference "
            "variants that were solved on three meshes as well: the distance of the one mesh from the finest, plus "
            "that mesh's own band. It is taken to hold for the variants between."
        )
    return words.strip()


def choose_references(coarse: Frame, paths: list[str], most: int) -> list[int]:
    """Rows to solve on three meshes: least margin, extremes of the results shown, then evenly over the study.

    Deterministic: the same rows give the same choice.
    """
    good = np.flatnonzero(coarse.ok)
    if not len(good):
        return []
    chosen: list[int] = []
    margin = coarse.least_margin()[good]
    if np.isfinite(margin).any():
        chosen.append(int(good[np.nanargmin(margin)]))
    for path in paths:
        for by_path in coarse.values.values():
            column = by_path.get(path, np.full(len(coarse), np.nan))[good]
            if np.isfinite(column).any():
                chosen += [int(good[np.nanargmin(column)]), int(good[np.nanargmax(column)])]
    spread = [int(good[i]) for i in np.linspace(0, len(good) - 1, max(most, 2)).round().astype(int)]
    # Half by what is extreme, the rest evenly over the study.
    extreme = list(dict.fromkeys(chosen))[: max(1, (most + 1) // 2)]
    return list(dict.fromkeys(extreme + spread + chosen))[:most]
