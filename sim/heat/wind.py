"""How the wind's film coefficient varies around a cylinder, from the stagnation line to the wake.

Front: the laminar boundary layer of a cylinder in cross flow, Nu = 1.14 Re^(1/2) Pr^0.4 (1 - (theta/90)^3),
theta in degrees from the stagnation line, up to about 80 degrees (Martinelli, Guibert, Morrin and Boelter
1943, NACA WR-14; also in textbooks). Wake: Richardson (1963), Chem. Eng. Sci. 18, 149-155, splits the mean
Nusselt number in air as 0.37 Re^(1/2) from the front and 0.057 Re^(2/3) from the wake; the first term is
the mean of the front law above, the second over half the circumference gives 0.114 Re^(2/3) on the rear.
The rise along the rear, from 0.7 of its mean at 90 degrees to 1.3 at 180, is read off the measurements of
Schmidt and Wenner (1941) and Giedt (1949) below the critical Reynolds number. All these numbers are
from memory.
"""

import numpy as np
from numpy.typing import ArrayLike

from sim.basics import Array

PROFILE_REYNOLDS = (100.0, 2e5)
"""Reynolds numbers of the measurements behind the distribution; it is held at its ends outside."""

REAR_RISE = 0.3
"""Half the rise of the rear coefficient from 90 to 180 degrees, over the rear mean (from memory)."""

FRONT = 1.14 * 0.71**0.4
REAR = 0.114
_SAMPLES: Array = (np.arange(180, dtype=np.float64) + 0.5) * (np.pi / 180.0)


def wind_profile(angle_from_stagnation: ArrayLike, reynolds: float) -> Array:
    """Local over mean film coefficient around a cylinder in cross flow, for air.

    angle_from_stagnation: radians, any sign and turn; reynolds: on the diameter and the undisturbed wind.
    Returns the angle's shape; even in the angle, positive, and of mean 1 over the circle.
    """
    within = min(max(reynolds, PROFILE_REYNOLDS[0]), PROFILE_REYNOLDS[1])
    ratio: Array = (
        _local(np.asarray(angle_from_stagnation, dtype=float), within) / _local(_SAMPLES, within).mean()
    )
    return ratio


def _local(angle: Array, reynolds: float) -> Array:
    """Local Nusselt number; front and wake are joined as fourth powers, so that no kink is left."""
    fold = np.abs(np.remainder(angle + np.pi, 2.0 * np.pi) - np.pi) * (2.0 / np.pi)
    front = FRONT * np.sqrt(reynolds) * np.maximum(1.0 - fold**3, 0.0)
    rear = REAR * reynolds ** (2.0 / 3.0)
    rear = rear * (1.0 - REAR_RISE * np.cos(np.pi * np.maximum(fold - 1.0, 0.0)))
    joined: Array = np.sqrt(np.hypot(front * front, rear * rear))
    return joined
