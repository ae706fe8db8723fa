"""Physical constants and the kinds of arrays, each defined once."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

ZERO_CELSIUS = 273.15
"""0 degC in kelvin, by definition."""

SIGMA = 5.670374419e-8
"""Stefan-Boltzmann constant, W/(m2 K4): CODATA 2018, exact."""


class NotMeshed(ValueError):
    """A section, or what stands on it, cannot be meshed as it is; the message says why."""
