"""A fin of uniform section: what a leg's exposed part takes from its root."""

from __future__ import annotations

import numpy as np


def fin_root(
    conductivity: float, area: float, perimeter: float, length: float, film: float, held: bool
) -> tuple[float, float]:
    """(conductance from the root, W/K; share of it that goes to the end's temperature) of a one-dimensional fin.

    Heat leaving the root is G ((1 - s) (T_root - T_air) + s (T_root - T_end)). Free end: adiabatic, G = M tanh(m L),
    s = 0. Held end: G = M / tanh(m L), s = 1 / cosh(m L); M = sqrt(h P k A), m = sqrt(h P / (k A)). Incropera and
    DeWitt, Fundamentals of Heat and Mass Transfer, table 3.4 (cases B and C). Film 0: the rod's own conductance.
    """
    if film <= 0.0:
        return (conductivity * area / length, 1.0) if held else (0.0, 0.0)
    m = float(np.sqrt(film * perimeter / (conductivity * area)))
    root = m * conductivity * area
    if held:
        return root / float(np.tanh(m * length)), 1.0 / float(np.cosh(min(m * length, 300.0)))
    return root * float(np.tanh(m * length)), 0.0
