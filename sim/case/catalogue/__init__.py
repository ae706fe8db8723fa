"""What the program knows by name: pipe sizes, metals and plastics, insulations, barriers, fluids."""

from collections.abc import Mapping
from functools import lru_cache
from typing import TypeVar

from ..errors import nearest, refuse
from ..materials import Fluid, Solid
from .fluids import ALIASES as FLUID_ALIASES
from .fluids import FLUIDS
from .insulation import (
    BARRIER_ALIASES,
    BARRIERS,
    INSULATION_ALIASES,
    INSULATIONS,
    BarrierMaterial,
    Insulation,
)
from .solids import ALIASES as SOLID_ALIASES
from .solids import SOLIDS

Entry = TypeVar("Entry")


def _find(
    name: str, entries: Mapping[str, Entry], aliases: Mapping[str, str], what: str, key: str = ""
) -> Entry:
    """The entry of a name or of another word for it, in any case; refused with what is known."""
    sought = " ".join(name.lower().split())
    for known, entry in entries.items():
        if known.lower() == sought:
            return entry
    for alias, known in aliases.items():
        if alias.lower() == sought:
            return entries[known]
    hint = nearest(name, [*entries, *aliases])
    return refuse(f'"{name[:60]}" is not in the catalogue of {what}{hint}; known: {", ".join(entries)}', key)


def solid(name: str) -> Solid:
    """A metal or plastic by name."""
    return _find(name, SOLIDS, SOLID_ALIASES, "pipe materials")


def insulation(name: str) -> Insulation:
    """An insulation by name."""
    return _find(name, INSULATIONS, INSULATION_ALIASES, "insulations", "material")


def barrier(name: str) -> BarrierMaterial:
    """A weather-barrier material by name."""
    return _find(name, BARRIERS, BARRIER_ALIASES, "barrier materials", "material")


@lru_cache(maxsize=64)
def fluid(name: str) -> Fluid:
    """A fluid by name; its table is built on first use and kept."""
    return _built(_find(name, {n: n for n in FLUIDS}, FLUID_ALIASES, "fluids"))


@lru_cache(maxsize=64)
def _built(name: str) -> Fluid:
    return FLUIDS[name]()


def knows_insulation(name: str) -> bool:
    """Whether an insulation of that name is in the catalogue."""
    sought = " ".join(name.lower().split())
    return sought in {known.lower() for known in (*INSULATIONS, *INSULATION_ALIASES)}
