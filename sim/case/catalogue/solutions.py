"""Solutions in water that freeze: their curves of freezing points, and what is ice below them by the lever rule.

Only water freezes out, so that what is left grows stronger: of a solution of mass share x0 the share 1 - x0 / x(T) is
ice where x(T) is the solution that begins to freeze at T. At a salt's eutectic all the rest becomes solid.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.basics import ZERO_CELSIUS, Array

from ..curve import Curve
from ..materials import Frozen

LATENT = 333.6e3  # J/kg, of water at 0 degC; from memory
ICE_CONDUCTIVITY = 2.22  # W/m/K, at 0 degC; from memory
WATER_HEAT = 4217.0  # J/kg/K, at 0 degC (IAPWS-IF97)
ICE_HEAT = (2096.7, 7.33)  # J/kg/K at 0 degC and per kelvin: IAPWS R10-06 between 0 and -30 degC
ROWS = 24  # of a table of shares
AT_ONCE = 0.1  # K below the eutectic at which all is solid
MELINDER = (
    "Melinder 2010 (Properties of Secondary Working Fluids, IIR), coefficients as CoolProp 8.0.0 carries them"
)


@dataclass(frozen=True)
class FreezingPoints:
    """Freezing point over mass share: K, sum of coefficients times (share - base)^i, from water up to `strongest`.

    eutectic: K at which the rest of a salt's solution freezes, None where none is known.
    """

    base: float
    coefficients: tuple[float, ...]
    strongest: float
    eutectic: float | None = None

    def __call__(self, share: Array | float) -> Array:
        """Freezing point, K, of solutions of a mass share."""
        kelvin = np.polynomial.polynomial.polyval(np.asarray(share) - self.base, self.coefficients)
        return np.asarray(kelvin, dtype=np.float64)

    def lever(self, share: float) -> tuple[Array, Array]:
        """Temperatures (n,), K, falling from a solution's freezing point, and the mass share that is ice there."""
        strength = np.linspace(share, self.strongest, ROWS)
        return self(strength), 1.0 - share / strength


POINTS: Mapping[str, FreezingPoints] = {
    "calcium chloride": FreezingPoints(
        0.187414, (256.94, -155.5, -549.6, -2624.0, -17260.0, -44940.0), 0.30, ZERO_CELSIUS - 49.8
    ),
    "sodium chloride": FreezingPoints(
        0.133897, (263.767, -90.39, -220.4, -482.7, 224.7), 0.23, ZERO_CELSIUS - 21.1
    ),
    "ethylene glycol": FreezingPoints(0.308462, (257.9, -80.8, -133.4, -72.93, 100.6, 11.4), 0.60),
    "propylene glycol": FreezingPoints(0.307031, (259.9, -66.31, -109.4, -228.3, -340.9, 146.5), 0.60),
}


def freezing(solute: str, share: float) -> dict[str, Any]:
    """Freezing keys of a solution of a mass share in water: as of `Fluid`.

    The heat of freezing is water's, by Kirchhoff's law at the solution's freezing point; the heat of mixing is left
    out, and the eutectic is taken to give water's heat, too. The solid is ice.
    """
    curve = POINTS[solute]
    temperature, ice = curve.lever(share)
    if curve.eutectic is not None:
        temperature = np.append(temperature, [curve.eutectic, curve.eutectic - AT_ONCE])
        ice = np.append(ice, [ice[-1], 1.0])
    start = float(temperature[0])
    heat, per_kelvin = ICE_HEAT
    below = start - ZERO_CELSIUS
    solid = Frozen.model_construct(conductivity=ICE_CONDUCTIVITY, specific_heat=heat + per_kelvin * below)
    kelvin, shares = tuple(temperature[::-1].tolist()), tuple(ice[::-1].tolist())
    return {
        "freezes_at": start,
        "latent_heat": LATENT + (WATER_HEAT - heat) * below,
        "frozen": solid,
        "frozen_share": Curve(
            "table", shares, kelvin, kelvin[0], kelvin[-1], source=f"lever rule on {MELINDER}"
        ),
    }
