"""Numerical uncertainty from three systematically refined meshes: the grid convergence index.

Roache (1994); Celik et al., J. Fluids Eng. 130 (2008) 078001; ASME V&V 20-2009. Where the observed order is not
reasonable, the theoretical order with safety factor 3 on the larger change is used, and the answer says so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

THEORETICAL_ORDER = 2.0
REASONABLE = (1.8, 2.5)
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
    older, newer = coarse - middle, middle - fine
    if not np.isfinite(values).all():
        return Banded(fine, float("nan"), values, float("nan"), fine, False)
    if max(abs(older), abs(newer)) <= rounding:
        return Banded(fine, rounding + max(abs(older), abs(newer)), values, float("nan"), fine, True)
    order = float(np.log(older / newer) / np.log(ratio)) if older * newer > 0 else float("nan")
    reasonable = REASONABLE[0] <= order <= REASONABLE[1]
    used = min(order, THEORETICAL_ORDER) if reasonable else THEORETICAL_ORDER
    gain = ratio**used
    error = newer / (gain - 1)
    if reasonable:
        band = SAFETY * max(abs(newer), abs(older) / gain) / (gain - 1)
    else:
        band = SAFETY_UNSURE * max(abs(newer), abs(older) / gain) / (gain - 1)
    return Banded(fine, band + rounding, values, order, fine - error, reasonable)
