"""Dry air at 101 325 Pa, vectorised over temperature.

Conductivity, viscosity and density are the closed forms of the U.S. Standard Atmosphere 1976
(NOAA/NASA/USAF), the same as in `fluids.atmosphere.ATMOSPHERE_1976`, whose functions take one scalar at a
time. The specific heat is the ideal-gas one of Lemmon, Jacobsen, Penoncello and Friend (2000), because the
Standard Atmosphere holds it constant. Fit for about 150 to 1000 K; temperatures are in kelvin.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sim.basics import Array

ATMOSPHERE = 101_325.0
"""Pressure of every property here, Pa."""

LOW, HIGH = 150.0, 1000.0
"""Temperatures between which the closed forms are trusted, K."""

GAS_CONSTANT = 8314.32 / 28.9644
"""Specific gas constant of dry air as the Standard Atmosphere has it, J/(kg K)."""


class Air(NamedTuple):
    """Properties that a convection law needs, each the shape of the temperature given."""

    conductivity: Array
    kinematic_viscosity: Array
    prandtl: Array
    expansion: Array


def conductivity(temperature: ArrayLike) -> Array:
    """Thermal conductivity, W/(m K). U.S. Standard Atmosphere 1976, eq. 53."""
    t = np.asarray(temperature, dtype=float)
    value: Array = 2.64638e-3 * t * np.sqrt(t) / (t + 245.4 * np.exp(-12.0 * np.log(10.0) / t))
    return value


def viscosity(temperature: ArrayLike) -> Array:
    """Dynamic viscosity, Pa s. U.S. Standard Atmosphere 1976, eq. 51 (Sutherland)."""
    t = np.asarray(temperature, dtype=float)
    value: Array = 1.458e-6 * t * np.sqrt(t) / (t + 110.4)
    return value


def density(temperature: ArrayLike) -> Array:
    """Density of the perfect gas, kg/m3."""
    return ATMOSPHERE / (GAS_CONSTANT * np.asarray(temperature, dtype=float))


def specific_heat(temperature: ArrayLike) -> Array:
    """Isobaric specific heat of the ideal gas, J/(kg K).

    Lemmon et al. (2000), J. Phys. Chem. Ref. Data 29(3), the heat capacity equation of dry air; the
    third vibration term (11 580 K) is below 1e-6 of the whole under 600 K and is left out.
    """
    t = np.asarray(temperature, dtype=float)
    ratio = 3.490888032 + t * (2.395525583e-6 + t * (7.172111248e-9 - t * 3.115413101e-13))
    ratio = ratio + 0.223806688 / (t * np.sqrt(t))
    for weight, vibration in ((0.791309509, 3364.011), (0.212236768, 2242.45)):
        u = vibration / t
        decay = np.exp(-u)
        ratio = ratio + weight * u * u * decay / (1.0 - decay) ** 2
    value: Array = GAS_CONSTANT * ratio
    return value


def kinematic_viscosity(temperature: ArrayLike) -> Array:
    """Kinematic viscosity, m2/s."""
    return viscosity(temperature) / density(temperature)


def diffusivity(temperature: ArrayLike) -> Array:
    """Thermal diffusivity, m2/s."""
    return conductivity(temperature) / (density(temperature) * specific_heat(temperature))


def prandtl(temperature: ArrayLike) -> Array:
    """Prandtl number."""
    return viscosity(temperature) * specific_heat(temperature) / conductivity(temperature)


def expansion(temperature: ArrayLike) -> Array:
    """Volumetric expansion coefficient of the perfect gas, 1/K."""
    return 1.0 / np.asarray(temperature, dtype=float)


def properties(temperature: ArrayLike) -> Air:
    """The four properties of a convection law at once, without computing any of them twice."""
    t = np.asarray(temperature, dtype=float)
    k, mu = conductivity(t), viscosity(t)
    return Air(k, mu / density(t), mu * specific_heat(t) / k, 1.0 / t)
