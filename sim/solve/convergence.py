"""Numerical uncertainty from three systematically refined meshes: the grid convergence index.

Roache (1994); Celik et al., J. Fluids Eng. 130 (2008) 078001; ASME V&V 20-2009. With the last change e between two
meshes whose cells are apart by the ratio r, the band is F e / (r^p - 1).

- p = 2, the order of the two-point flux on cells whose faces are perpendicular to the lines between their sites, which
  the closed forms show (`tests/solve/test_closed_forms.py`).
- F = 1.25 and the lesser of the two orders where the observed order is within a tenth of 2, F = 3 and p = 2 elsewhere:
  Oberkampf and Roy, Verification and Validation in Scientific Computing (2010), 8.7 (from memory).
- e is never less than what the change before it would leave, so that two values that agree by chance make no band: the
  band is at least 0.4 of the change between any two of the three meshes.
- An observed order below about 1 is taken as it is, though not below 0.5, with F = 1.25 (both from the same source):
  between 1 and 1.8 three times the change at second order is more than that.

On 18 random sections (`tests/random_cases.py`, seeds 100 to 117, the default meshes against one of 5 times the cells)
98 % of 209 values lay inside: all of those of order 1.8 to 2.2, the farthest at 0.98 of its band; half of the others
lay inside a sixth of theirs.
"""

from dataclasses import dataclass
from math import ceil, floor, log10

import numpy as np
from numpy.typing import NDArray

from sim.section.shapes import Array

THEORETICAL_ORDER = 2.0
NEAR_ORDER = 0.1  # of the theoretical order, within which the observed one counts as reached
LEAST_ORDER = 0.5
EXACT = 1e-9  # an order that is at the edge but for rounding counts as inside
SAFETY, SAFETY_UNSURE = 1.25, 3.0


@dataclass(frozen=True)
class Banded:
    """A value with its numerical uncertainty.

    value: on the finest mesh; band: half width, same unit; values: coarse to fine; order: observed, or NaN;
    extrapolated: Richardson's value; asymptotic: whether the order was reasonable and the band rests on it.
    """

    value: float
    band: float
    values: tuple[float, ...]
    order: float
    extrapolated: float
    asymptotic: bool


def banded(values: tuple[float, float, float], ratio: float, rounding: float = 0.0) -> Banded:
    """Band of a quantity on three meshes, coarse to fine, refined by a constant ratio of cell sizes.

    rounding: what iteration and rounding leave uncertain, added to the band. NaN stays NaN.
    """
    coarse, middle, fine = values
    if not np.isfinite(values).all():
        return Banded(fine, float("nan"), values, float("nan"), fine, False)
    older, newer = coarse - middle, middle - fine
    if max(abs(older), abs(newer)) <= rounding:
        return Banded(fine, rounding + max(abs(older), abs(newer)), values, float("nan"), fine, True)
    bands = widths(np.array(older), np.array(newer), ratio)
    band, order, reasonable = float(bands[0]), float(bands[1]), bool(bands[2])
    used = min(order, THEORETICAL_ORDER) if reasonable else THEORETICAL_ORDER
    return Banded(fine, band + rounding, values, order, fine - newer / (ratio**used - 1), reasonable)


def widths(older: Array, newer: Array, ratio: float) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Half widths, observed orders (NaN where there is none) and whether they are reasonable, of any shape.

    older: coarse less middle; newer: middle less fine; one of them is not 0.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        order = np.where(older * newer > 0, np.log(older / newer) / np.log(ratio), np.nan)
    reasonable = np.abs(order - THEORETICAL_ORDER) <= NEAR_ORDER * THEORETICAL_ORDER + EXACT
    gain = ratio ** np.where(reasonable, np.minimum(order, THEORETICAL_ORDER), THEORETICAL_ORDER)
    change = np.maximum(np.abs(newer), np.abs(older) / gain)
    band = np.where(reasonable, SAFETY, SAFETY_UNSURE) * change / (gain - 1)
    # so slow that the change seen is a small part of the error
    slow = SAFETY * np.abs(newer) / (ratio ** np.maximum(np.nan_to_num(order), LEAST_ORDER) - 1)
    return np.where(order < THEORETICAL_ORDER, np.maximum(band, slow), band), order, reasonable


def rounded_up(band: float, most: int = 2) -> tuple[float, int]:
    """A half width as it is shown and judged, and its decimals: two significant digits, rounded up.

    At most two digits as in JCGM 100:2008 (GUM), 7.2.6 (from memory), and never more than `most` decimals: the smallest
    half width shown is one unit of the last.
    """
    decimals = most if band <= 0.0 else min(most, max(0, 1 - floor(log10(band))))
    return max(ceil(band * 10**decimals - 1e-9), 1) / 10**decimals, decimals


def rounded_margin(margin: float, band: float, most: int = 2) -> float:
    """A margin as it is shown and judged: to the decimals of its band, towards the unsafe side."""
    _, decimals = rounded_up(band, most)
    return floor(margin * 10.0**decimals + 1e-9) / 10.0**decimals
