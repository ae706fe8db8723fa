"""Pipe metals and plastics. Each entry says where its numbers were read, or that they are from memory."""

from ..curve import Curve, constant, polynomial
from ..materials import Solid

MEMORY = "from memory"
EN_1993 = "EN 1993-1-2 (conductivity); density, specific heat, emissivity from memory"
ISO_10456 = "EN ISO 10456 (conductivity); density, specific heat, emissivity from memory"


def _solid(
    name: str, conductivity: Curve, density: float, heat: float, emissivity: float, source: str
) -> Solid:
    return Solid.model_construct(
        name=name,
        conductivity=conductivity,
        density=density,
        specific_heat=heat,
        emissivity=emissivity,
        source=source,
    )


def _plain(
    name: str, k: float, density: float, heat: float, emissivity: float, source: str = MEMORY
) -> Solid:
    where = "EN ISO 10456" if source is ISO_10456 else source
    return _solid(name, constant(k, where), density, heat, emissivity, source)


_CARBON = polynomial((54.0, -0.0333), 20.0, 800.0, "EN 1993-1-2")
_STAINLESS = polynomial((14.6, 0.0127), 20.0, 1200.0, "EN 1993-1-2")

SOLIDS: dict[str, Solid] = {
    solid.name: solid
    for solid in (
        _solid("carbon steel", _CARBON, 7850.0, 460.0, 0.8, EN_1993),
        _solid("stainless steel", _STAINLESS, 7900.0, 500.0, 0.4, EN_1993),
        _plain("aluminium", 160.0, 2700.0, 900.0, 0.1, ISO_10456),
        _plain("copper", 380.0, 8940.0, 385.0, 0.3),
        _plain("titanium", 21.0, 4500.0, 520.0, 0.3),
        _plain("nickel alloy", 11.0, 8400.0, 440.0, 0.4),
        _plain("duplex steel", 15.0, 7800.0, 480.0, 0.4),
        _plain("ductile iron", 36.0, 7100.0, 500.0, 0.8),
        _plain("HDPE", 0.50, 950.0, 1900.0, 0.9, ISO_10456),
        _plain("PVC", 0.17, 1390.0, 900.0, 0.9, ISO_10456),
        _plain("CPVC", 0.14, 1550.0, 900.0, 0.9),
        _plain("PP", 0.22, 910.0, 1800.0, 0.9),
        _plain("PVDF", 0.19, 1780.0, 1200.0, 0.9),
        _plain("GRP", 0.30, 1850.0, 1100.0, 0.9),
        _plain("PTFE", 0.25, 2170.0, 1000.0, 0.9),
        _plain("glass", 1.10, 2230.0, 830.0, 0.9),
    )
}

ALIASES = {
    "steel": "carbon steel",
    "mild steel": "carbon steel",
    "stainless": "stainless steel",
    "aluminum": "aluminium",
    "polyethylene": "HDPE",
    "PE": "HDPE",
    "polypropylene": "PP",
    "duplex stainless steel": "duplex steel",
    "fibre-reinforced plastic": "GRP",
    "FRP": "GRP",
}
