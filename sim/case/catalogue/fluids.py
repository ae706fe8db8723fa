"""Contents over temperature. Water and air come from libraries, the others are tables; each has a source."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Literal

import numpy as np

from sim.basics import ZERO_CELSIUS

from ..curve import Curve, table
from ..materials import Fluid, Frozen
from .solutions import ICE_CONDUCTIVITY, LATENT, freezing

MEMORY = "from memory"
# Values computed with the CoolProp 8.0.0 library, which carries the coefficients of the source named.
MELINDER = "Melinder 2010 (Properties of Secondary Working Fluids, IIR) by way of CoolProp 8.0.0"
GAS_CONSTANT = 8.314462618  # J/mol/K (CODATA 2018)
ATMOSPHERE = 101325.0  # Pa


def _fluid(
    name: str,
    phase: Literal["liquid", "gas"],
    properties: dict[str, Curve],
    source: str,
) -> Fluid:
    values: dict[str, Any] = {"name": name, "phase": phase, "source": source, **properties}
    return Fluid.model_construct(**values)


def _tabled(
    celsius: Sequence[float],
    conductivity: Sequence[float],
    density: Sequence[float],
    specific_heat: Sequence[float],
    viscosity: Sequence[float],
    expansion: Sequence[float],
    source: str,
) -> dict[str, Curve]:
    """Curves over one set of temperatures; viscosity is linear in its logarithm between them."""
    return {
        "conductivity": table(celsius, conductivity, source),
        "density": table(celsius, density, source),
        "specific_heat": table(celsius, specific_heat, source),
        "viscosity": table(celsius, viscosity, source, logarithmic=True),
        "expansion": table(celsius, expansion, source),
    }


def water() -> Fluid:
    """Liquid water by IAPWS-IF97 and the IAPWS transport formulations (`iapws` library), 0.1 MPa, 0..99 degC.

    Below 0 degC and above 99 degC the value at the end holds: steam is not modelled. It freezes at 0 degC to ice of the
    conductivity and specific heat that IAPWS R10-06 and handbooks give at 0 degC; the latent heat is from memory.
    """
    from iapws import IAPWS97

    celsius = np.concatenate([[0.01], np.arange(1.0, 20.0), np.arange(20.0, 99.0, 2.5), [99.0]])
    states = [IAPWS97(T=t + ZERO_CELSIUS, P=0.1) for t in celsius]
    columns = np.array([(s.k, s.rho, s.cp * 1000.0, s.mu, s.alfav) for s in states]).T
    k, density, heat, viscosity, expansion = columns
    source = "IAPWS-IF97 at 0.1 MPa (iapws library)"
    curves = _tabled(celsius.tolist(), k, density, heat, viscosity, expansion, source)
    ice = Frozen.model_construct(conductivity=ICE_CONDUCTIVITY, specific_heat=2100.0)
    return _fluid("water", "liquid", curves, source).model_copy(
        update={"freezes_at": ZERO_CELSIUS, "latent_heat": LATENT, "frozen": ice}
    )


def _gas(
    name: str,
    molar_mass: float,
    celsius: np.ndarray[Any, np.dtype[np.float64]],
    transport: dict[str, Sequence[float]],
    source: str,
) -> Fluid:
    """A gas at 101325 Pa: given k, viscosity and specific heat; density and expansion of the ideal gas."""
    kelvin = celsius + ZERO_CELSIUS
    density = ATMOSPHERE * molar_mass / (GAS_CONSTANT * kelvin)
    curves = _tabled(
        celsius.tolist(),
        transport["conductivity"],
        density.tolist(),
        transport["specific_heat"],
        transport["viscosity"],
        (1.0 / kelvin).tolist(),
        source,
    )
    return _fluid(name, "gas", curves, source)


def air() -> Fluid:
    """Dry air at 101325 Pa, -100..500 degC: k and viscosity of the U.S. Standard Atmosphere 1976."""
    from fluids.atmosphere import ATMOSPHERE_1976 as STANDARD

    celsius = np.concatenate([np.arange(-100.0, 100.0, 10.0), np.arange(100.0, 501.0, 25.0)])
    heat = np.interp(
        celsius,
        (-100.0, -50.0, 0.0, 50.0, 100.0, 200.0, 300.0, 400.0, 500.0),
        (1008.8, 1005.9, 1005.7, 1007.4, 1011.2, 1025.0, 1045.1, 1068.5, 1092.4),
    )
    transport = {
        "conductivity": [STANDARD.thermal_conductivity(t + ZERO_CELSIUS) for t in celsius],
        "viscosity": [STANDARD.viscosity(t + ZERO_CELSIUS) for t in celsius],
        "specific_heat": heat.tolist(),
    }
    source = (
        "U.S. Standard Atmosphere 1976 (conductivity, viscosity; fluids library); specific heat of"
        " Lemmon et al. 2000 by way of CoolProp 8.0.0; ideal gas"
    )
    return _gas("air", 0.0289652, celsius, transport, source)


def nitrogen() -> Fluid:
    """Nitrogen at 101325 Pa, -100..300 degC."""
    celsius = np.array([-100.0, -50.0, 0.0, 50.0, 100.0, 200.0, 300.0])
    transport: dict[str, Sequence[float]] = {
        "conductivity": (0.016026, 0.020153, 0.024001, 0.027616, 0.031038, 0.037418, 0.043321),
        "specific_heat": (1045.5, 1042.5, 1041.4, 1041.6, 1043.3, 1052.5, 1069.6),
        "viscosity": (1.1424e-5, 1.4137e-5, 1.6629e-5, 1.894e-5, 2.1101e-5, 2.5066e-5, 2.8662e-5),
    }
    source = "Span et al. 2000 and Lemmon and Jacobsen 2004 by way of CoolProp 8.0.0; ideal gas"
    return _gas("nitrogen", 0.0280134, celsius, transport, source)


def calcium_chloride_brine() -> Fluid:
    """Calcium chloride in water, 25 % by mass."""
    curves = _tabled(
        (-25.0, -15.0, -5.0, 5.0, 20.0, 30.0),
        (0.50381, 0.51817, 0.53239, 0.54653, 0.56769, 0.58183),
        (1245.5, 1241.8, 1238.5, 1235.2, 1229.1, 1223.7),
        (2784.5, 2820.2, 2853.2, 2883.5, 2924.1, 2948.1),
        (9.6421e-3, 6.5615e-3, 4.7218e-3, 3.5621e-3, 2.5016e-3, 2.0438e-3),
        (3.245e-4, 2.771e-4, 2.642e-4, 2.862e-4, 3.855e-4, 4.969e-4),
        MELINDER,
    )
    return _fluid("calcium chloride brine 25 %", "liquid", curves, MELINDER).model_copy(
        update=freezing("calcium chloride", 0.25)
    )


def sodium_chloride_brine() -> Fluid:
    """Sodium chloride in water, 20 % by mass."""
    curves = _tabled(
        (-15.0, -10.0, 0.0, 20.0, 30.0),
        (0.52535, 0.53274, 0.54768, 0.5781, 0.59359),
        (1162.7, 1160.7, 1156.7, 1147.8, 1142.9),
        (3353.3, 3364.2, 3383.3, 3410.6, 3418.9),
        (4.6494e-3, 3.8326e-3, 2.696e-3, 1.5319e-3, 1.2375e-3),
        (3.262e-4, 3.382e-4, 3.623e-4, 4.113e-4, 4.363e-4),
        MELINDER,
    )
    return _fluid("sodium chloride brine 20 %", "liquid", curves, MELINDER).model_copy(
        update=freezing("sodium chloride", 0.2)
    )


def ethylene_glycol() -> Fluid:
    """Ethylene glycol in water, 50 % by mass."""
    curves = _tabled(
        (-30.0, -20.0, -10.0, 0.0, 20.0, 40.0, 60.0, 80.0),
        (0.35886, 0.36474, 0.37073, 0.37682, 0.38915, 0.40154, 0.41379, 0.4257),
        (1085.1, 1082.2, 1078.7, 1074.6, 1064.9, 1053.4, 1040.5, 1026.4),
        (3027.0, 3087.0, 3145.7, 3202.9, 3312.0, 3412.7, 3503.1, 3581.6),
        (4.1774e-2, 2.2178e-2, 1.278e-2, 7.9298e-3, 3.6932e-3, 2.1033e-3, 1.3749e-3, 9.6846e-4),
        (2.365e-4, 2.957e-4, 3.516e-4, 4.043e-4, 4.999e-4, 5.826e-4, 6.522e-4, 7.083e-4),
        MELINDER,
    )
    return _fluid("ethylene glycol 50 %", "liquid", curves, MELINDER).model_copy(
        update=freezing("ethylene glycol", 0.5)
    )


def propylene_glycol() -> Fluid:
    """Propylene glycol in water, 40 % by mass."""
    curves = _tabled(
        (-20.0, -10.0, 0.0, 20.0, 40.0, 60.0, 80.0),
        (0.37613, 0.38189, 0.38784, 0.40026, 0.41321, 0.42651, 0.43998),
        (1049.7, 1046.4, 1042.4, 1032.3, 1020.1, 1006.3, 991.63),
        (3575.4, 3608.6, 3641.6, 3706.7, 3770.8, 3833.9, 3895.8),
        (4.5948e-2, 2.2241e-2, 1.1879e-2, 4.3838e-3, 2.1408e-3, 1.2827e-3, 8.7425e-4),
        (2.751e-4, 3.52e-4, 4.226e-4, 5.447e-4, 6.411e-4, 7.112e-4, 7.536e-4),
        MELINDER,
    )
    return _fluid("propylene glycol 40 %", "liquid", curves, MELINDER).model_copy(
        update=freezing("propylene glycol", 0.4)
    )


def caustic_soda() -> Fluid:
    """Sodium hydroxide in water, 50 % by mass; begins to freeze near 12 to 15 degC."""
    curves = _tabled(
        (15.0, 20.0, 30.0, 40.0, 60.0, 80.0, 100.0),
        (0.65, 0.65, 0.66, 0.66, 0.67, 0.68, 0.68),
        (1529.0, 1525.3, 1518.1, 1510.9, 1496.7, 1482.7, 1469.0),
        (3220.0, 3220.0, 3220.0, 3220.0, 3220.0, 3210.0, 3200.0),
        (0.110, 0.078, 0.045, 0.026, 0.0110, 0.0058, 0.0036),
        (4.8e-4, 4.8e-4, 4.7e-4, 4.7e-4, 4.7e-4, 4.6e-4, 4.6e-4),
        MEMORY,
    )
    return _fluid("caustic soda 50 %", "liquid", curves, MEMORY)


def light_oil() -> Fluid:
    """A light fuel oil (gas oil)."""
    curves = _tabled(
        (-20.0, 0.0, 20.0, 40.0, 80.0),
        (0.137, 0.135, 0.133, 0.131, 0.127),
        (878.0, 864.0, 850.0, 836.0, 808.0),
        (1760.0, 1840.0, 1920.0, 2000.0, 2160.0),
        (0.022, 0.0085, 0.0045, 0.0026, 0.0012),
        (8.0e-4, 8.1e-4, 8.2e-4, 8.4e-4, 8.7e-4),
        MEMORY,
    )
    return _fluid("light fuel oil", "liquid", curves, MEMORY)


def heavy_oil() -> Fluid:
    """A heavy fuel oil (about 380 mm2/s at 50 degC)."""
    curves = _tabled(
        (0.0, 20.0, 50.0, 80.0, 100.0, 130.0),
        (0.122, 0.121, 0.119, 0.117, 0.116, 0.114),
        (1003.0, 990.0, 970.0, 951.0, 938.0, 919.0),
        (1690.0, 1760.0, 1860.0, 1960.0, 2030.0, 2130.0),
        (60.0, 6.0, 0.37, 0.075, 0.033, 0.0135),
        (6.5e-4, 6.6e-4, 6.7e-4, 6.8e-4, 6.9e-4, 7.1e-4),
        MEMORY,
    )
    return _fluid("heavy fuel oil", "liquid", curves, MEMORY)


def sulphuric_acid() -> Fluid:
    """Sulphuric acid, 96 % by mass."""
    curves = _tabled(
        (0.0, 20.0, 40.0, 60.0),
        (0.32, 0.33, 0.34, 0.35),
        (1856.0, 1836.0, 1816.0, 1797.0),
        (1400.0, 1420.0, 1450.0, 1480.0),
        (0.045, 0.022, 0.0125, 0.0078),
        (5.5e-4, 5.5e-4, 5.5e-4, 5.5e-4),
        MEMORY,
    )
    return _fluid("sulphuric acid 96 %", "liquid", curves, MEMORY)


def methane() -> Fluid:
    """Methane at 101325 Pa, a stand-in for natural gas."""
    celsius = np.array([-50.0, 0.0, 50.0, 100.0])
    transport: dict[str, Sequence[float]] = {
        "conductivity": (0.0246, 0.0305, 0.0374, 0.0450),
        "specific_heat": (2110.0, 2170.0, 2290.0, 2440.0),
        "viscosity": (8.6e-6, 1.03e-5, 1.19e-5, 1.33e-5),
    }
    return _gas("methane", 0.0160425, celsius, transport, f"{MEMORY}; ideal gas")


FLUIDS: dict[str, Callable[[], Fluid]] = {
    "water": water,
    "air": air,
    "nitrogen": nitrogen,
    "methane": methane,
    "calcium chloride brine 25 %": calcium_chloride_brine,
    "sodium chloride brine 20 %": sodium_chloride_brine,
    "ethylene glycol 50 %": ethylene_glycol,
    "propylene glycol 40 %": propylene_glycol,
    "caustic soda 50 %": caustic_soda,
    "sulphuric acid 96 %": sulphuric_acid,
    "light fuel oil": light_oil,
    "heavy fuel oil": heavy_oil,
}

ALIASES = {
    "brine": "calcium chloride brine 25 %",
    "calcium chloride brine": "calcium chloride brine 25 %",
    "sodium chloride brine": "sodium chloride brine 20 %",
    "ethylene glycol": "ethylene glycol 50 %",
    "glycol": "ethylene glycol 50 %",
    "propylene glycol": "propylene glycol 40 %",
    "caustic soda": "caustic soda 50 %",
    "caustic": "caustic soda 50 %",
    "sulphuric acid": "sulphuric acid 96 %",
    "sulfuric acid": "sulphuric acid 96 %",
    "light oil": "light fuel oil",
    "heavy oil": "heavy fuel oil",
    "oil": "light fuel oil",
}
