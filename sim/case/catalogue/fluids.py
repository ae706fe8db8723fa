"""Contents over temperature: water and air come from libraries, the others are the tables of `fluids.toml`."""

import tomllib
from collections.abc import Callable, Sequence
from functools import partial
from importlib.resources import files
from typing import Any

import numpy as np

from sim.basics import ZERO_CELSIUS

from ..curve import table
from ..materials import Fluid, Frozen
from .solutions import ICE_CONDUCTIVITY, LATENT, freezing

GAS_CONSTANT = 8.314462618  # J/mol/K (CODATA 2018)
ATMOSPHERE = 101325.0  # Pa


def _tabled(
    name: str,
    *,
    celsius: Sequence[float],
    conductivity: Sequence[float],
    density: Sequence[float],
    specific_heat: Sequence[float],
    viscosity: Sequence[float],
    expansion: Sequence[float],
    source: str,
    **more: Any,
) -> Fluid:
    """A fluid of curves over one set of temperatures; viscosity is linear in its logarithm between them."""
    properties: dict[str, Any] = {
        "conductivity": table(celsius, conductivity, source),
        "density": table(celsius, density, source),
        "specific_heat": table(celsius, specific_heat, source),
        "viscosity": table(celsius, viscosity, source, logarithmic=True),
        "expansion": table(celsius, expansion, source),
    }
    return Fluid.model_construct(**{"name": name, "phase": "liquid", "source": source, **properties, **more})


def water() -> Fluid:
    """Liquid water by IAPWS-IF97 and the IAPWS transport formulations (`iapws` library), 0.1 MPa, 0..99 degC.

    Below 0 degC and above 99 degC the value at the end holds: steam is not modelled. It freezes at 0 degC to ice of the
    conductivity and specific heat that IAPWS R10-06 and handbooks give at 0 degC; the latent heat is from memory.
    """
    from iapws import IAPWS97

    celsius = np.concatenate([[0.01], np.arange(1.0, 20.0), np.arange(20.0, 99.0, 2.5), [99.0]])
    states = [IAPWS97(T=t + ZERO_CELSIUS, P=0.1) for t in celsius]
    return _tabled(
        "water",
        celsius=celsius.tolist(),
        conductivity=[s.k for s in states],
        density=[s.rho for s in states],
        specific_heat=[s.cp * 1000.0 for s in states],
        viscosity=[s.mu for s in states],
        expansion=[s.alfav for s in states],
        source="IAPWS-IF97 at 0.1 MPa (iapws library)",
        freezes_at=ZERO_CELSIUS,
        latent_heat=LATENT,
        frozen=Frozen.model_construct(conductivity=ICE_CONDUCTIVITY, specific_heat=2100.0),
    )


def _gas(name: str, molar_mass: float, celsius: Sequence[float], **tables: Any) -> Fluid:
    """A gas at 101325 Pa: given k, viscosity and specific heat; density and expansion of the ideal gas."""
    kelvin = np.asarray(celsius) + ZERO_CELSIUS
    density = ATMOSPHERE * molar_mass / (GAS_CONSTANT * kelvin)
    ideal: dict[str, Any] = {"density": density.tolist(), "expansion": (1.0 / kelvin).tolist()}
    return _tabled(name, phase="gas", celsius=celsius, **ideal, **tables)


def air() -> Fluid:
    """Dry air at 101325 Pa, -100..500 degC: k and viscosity of the U.S. Standard Atmosphere 1976."""
    from fluids.atmosphere import ATMOSPHERE_1976 as STANDARD

    celsius = np.concatenate([np.arange(-100.0, 100.0, 10.0), np.arange(100.0, 501.0, 25.0)])
    heat = np.interp(
        celsius,
        (-100.0, -50.0, 0.0, 50.0, 100.0, 200.0, 300.0, 400.0, 500.0),
        (1008.8, 1005.9, 1005.7, 1007.4, 1011.2, 1025.0, 1045.1, 1068.5, 1092.4),
    )
    return _gas(
        "air",
        0.0289652,
        celsius.tolist(),
        conductivity=[STANDARD.thermal_conductivity(t + ZERO_CELSIUS) for t in celsius],
        viscosity=[STANDARD.viscosity(t + ZERO_CELSIUS) for t in celsius],
        specific_heat=heat.tolist(),
        source="U.S. Standard Atmosphere 1976 (conductivity, viscosity; fluids library); specific heat of"
        " Lemmon et al. 2000 by way of CoolProp 8.0.0; ideal gas",
    )


TABLES: dict[str, dict[str, Any]] = tomllib.loads(
    files("sim.case.catalogue").joinpath("fluids.toml").read_text(encoding="utf-8")
)


def _of_tables(name: str) -> Fluid:
    """A fluid of `fluids.toml`: a gas where it has a molar mass; freezing where it is a solution in water."""
    entry = {key: value for key, value in TABLES[name].items() if key not in ("also", "freezing")}
    if "molar_mass" in entry:
        return _gas(name, **entry)
    solution = TABLES[name].get("freezing")
    return _tabled(name, **entry, **({} if solution is None else freezing(**solution)))


FLUIDS: dict[str, Callable[[], Fluid]] = {
    "water": water,
    "air": air,
    **{name: partial(_of_tables, name) for name in TABLES},
}
ALIASES = {alias: name for name, entry in TABLES.items() for alias in entry.get("also", ())}
