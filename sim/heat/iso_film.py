"""The outside films of ISO 12241 for pipes, the ones the simplified design method uses.

Forms and limits as ISO 12241:2008 clause 4.1.5 has them; the standard itself was not seen, only a public
program that restates it, so they count as from memory. One surface temperature, scalars in and out, kelvin
and SI. In a wind the turbulent form gives about twice the Churchill and Bernstein coefficient at pipe size.
"""

from math import sqrt

from sim.heat.constants import STEFAN_BOLTZMANN

LAMINAR_WIND = 8.55e-3
"""v De up to which the outdoor laminar form holds, m2/s."""

LAMINAR_STILL = 10.0
"""De^3 dT up to which the indoor laminar forms hold, m3 K."""


def radiation(surface_temperature: float, *, ambient: float, emissivity: float) -> float:
    """h_r = a_r C_r with a_r = (Ts^4 - Ta^4)/(Ts - Ta) and C_r = emissivity sigma, W/(m2 K)."""
    factor = (surface_temperature**2 + ambient**2) * (surface_temperature + ambient)
    return factor * emissivity * STEFAN_BOLTZMANN


def outdoor(wind: float, diameter: float) -> float:
    """Pipe in a wind, W/(m2 K): 8.1e-3/De + 3.14 sqrt(v/De), above v De = 8.55e-3 8.9 v^0.9/De^0.1."""
    if wind * diameter <= LAMINAR_WIND:
        return 8.1e-3 / diameter + 3.14 * sqrt(wind / diameter)
    return float(8.9 * wind**0.9 / diameter**0.1)


def still_air(difference: float, diameter: float, *, vertical: bool = False) -> float:
    """Pipe in still air, W/(m2 K), for |Ts - Ta| = `difference` in K.

    Horizontal: 1.25 (dT/De)^(1/4), above De^3 dT = 10 m3 K 1.21 dT^(1/3). Vertical: 1.32 and 1.74.
    """
    laminar, turbulent = (1.32, 1.74) if vertical else (1.25, 1.21)
    if diameter**3 * difference <= LAMINAR_STILL:
        return float(laminar * (difference / diameter) ** 0.25)
    return float(turbulent * difference ** (1.0 / 3.0))


def outside(
    surface_temperature: float, *, ambient: float, wind: float, diameter: float, emissivity: float
) -> float:
    """Convection plus radiation of a horizontal pipe, W/(m2 K).

    ISO 12241 has no blend of wind and still air; where a light wind would cool less than still air does,
    the still air's coefficient is taken.
    """
    convection = still_air(abs(surface_temperature - ambient), diameter)
    if wind > 0.0:
        convection = max(convection, outdoor(wind, diameter))
    return convection + radiation(surface_temperature, ambient=ambient, emissivity=emissivity)
