"""Pipe insulations against their mean temperature, and weather barriers.

A specification value is the highest conductivity the standard lets a conforming product have;
a product's own declared value is lower. Where the source gives one temperature only, the value is held and
the source says so.
"""

from dataclasses import dataclass

from ..curve import Curve, constant, table

MEMORY = "from memory"


@dataclass(frozen=True)
class Insulation:
    """An insulation: conductivity (W/m/K) over mean temperature, density (kg/m3), specific heat (J/kg/K)."""

    name: str
    conductivity: Curve
    density: float
    specific_heat: float


@dataclass(frozen=True)
class BarrierMaterial:
    """A weather-barrier sheet: conductivity (W/m/K), emissivity of its outer face, density (kg/m3), specific heat
    (J/kg/K; these two from memory throughout, and they matter only over time)."""

    name: str
    conductivity: float
    emissivity: float
    source: str
    density: float = 2700.0
    specific_heat: float = 900.0


_FIVE, _FOUR = (-73.0, -18.0, 24.0, 93.0, 204.0), (24.0, 93.0, 204.0, 316.0)

# Densities and specific heats (they matter only over time) are from memory throughout.
INSULATIONS: dict[str, Insulation] = {
    entry.name: entry
    for entry in (
        Insulation(
            "cellular glass", table(_FIVE, (0.0332, 0.0418, 0.0490, 0.0620, 0.0908), "ASTM C552"), 120, 840
        ),
        Insulation(
            "polyisocyanurate", table(_FIVE[:4], (0.0259, 0.0274, 0.0274, 0.0375), "ASTM C591"), 40, 1450
        ),
        Insulation("aerogel", table(_FOUR, (0.0231, 0.0259, 0.0346, 0.0476), "ASTM C1728"), 160, 1000),
        Insulation("elastomer foam", table((-18.0, 24.0), (0.0375, 0.0404), "ASTM C534"), 70, 1500),
        Insulation(
            "glass fibre", constant(0.0360, "ASTM C547 at 10 degC, used at every temperature"), 65, 840
        ),
        Insulation(
            "calcium silicate",
            table(
                (10.0, 100.0, 200.0, 300.0),
                (0.054, 0.054, 0.063, 0.074),
                "ASTM C533 at 10 degC; TIASA handbook 2001 at 100 to 300 degC",
            ),
            240,
            1000,
        ),
        Insulation(
            "rock wool",
            table((10.0, 50.0, 200.0), (0.033, 0.037, 0.064), "TIASA handbook 2001, 100 kg/m3"),
            100,
            840,
        ),
        Insulation(
            "polyurethane foam",
            table((-50.0, 10.0, 50.0, 100.0), (0.023, 0.025, 0.029, 0.034), MEMORY),
            45,
            1450,
        ),
        Insulation(
            "phenolic foam", table((-50.0, 10.0, 50.0, 100.0), (0.020, 0.022, 0.025, 0.029), MEMORY), 40, 1400
        ),
        Insulation(
            "expanded polystyrene", table((-50.0, 10.0, 50.0), (0.029, 0.036, 0.041), MEMORY), 25, 1450
        ),
        Insulation(
            "expanded perlite",
            table((10.0, 100.0, 200.0, 300.0), (0.068, 0.078, 0.090, 0.103), MEMORY),
            200,
            900,
        ),
        Insulation("polyethylene foam", table((0.0, 40.0), (0.036, 0.041), MEMORY), 30, 2000),
    )
}

INSULATION_ALIASES = {
    "mineral wool": "rock wool",
    "stone wool": "rock wool",
    "glass fiber": "glass fibre",
    "fibreglass": "glass fibre",
    "fiberglass": "glass fibre",
    "foam glass": "cellular glass",
    "PIR": "polyisocyanurate",
    "PUR": "polyurethane foam",
    "elastomer": "elastomer foam",
    "aerogel blanket": "aerogel",
    "perlite": "expanded perlite",
}

_ALUMINIUM = "EN ISO 10456 (conductivity of aluminium alloys)"

BARRIERS: dict[str, BarrierMaterial] = {
    entry.name: entry
    for entry in (
        BarrierMaterial("aluminium", 160.0, 0.13, f"{_ALUMINIUM}; emissivity from memory (oxidised sheet)"),
        BarrierMaterial("bright aluminium", 160.0, 0.05, f"{_ALUMINIUM}; emissivity from memory (as rolled)"),
        BarrierMaterial("painted aluminium", 160.0, 0.90, f"{_ALUMINIUM}; emissivity from memory"),
        BarrierMaterial(
            "galvanised steel", 50.0, 0.26, f"{MEMORY} (clean sheet; about 0.44 when dusty)", 7850, 460
        ),
        BarrierMaterial("aluminised steel", 50.0, 0.18, MEMORY, 7850, 460),
        BarrierMaterial("painted steel", 50.0, 0.90, MEMORY, 7850, 460),
        BarrierMaterial("stainless steel", 15.0, 0.15, MEMORY, 7900, 500),
        BarrierMaterial(
            "PVC jacket", 0.17, 0.90, "EN ISO 10456 (conductivity of PVC); emissivity from memory", 1390, 900
        ),
        BarrierMaterial("glass-cloth jacket", 0.25, 0.90, MEMORY, 1700, 900),
        BarrierMaterial("bituminous felt", 0.23, 0.93, MEMORY, 1100, 1000),
    )
}

BARRIER_ALIASES = {
    "aluminum": "aluminium",
    "stainless": "stainless steel",
    "galvanized steel": "galvanised steel",
    "painted": "painted steel",
    "aluminised": "aluminised steel",
    "aluminized steel": "aluminised steel",
    "PVC": "PVC jacket",
}
