"""What is held fixed around a support, turned on: how far its drain and its dip move."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sim.solve.support_meshes import SupportResult, solve_support
from validation.limits.measured import narrowed

FINENESS = 1.0  # of the finest of three meshes: differences are asked for, not the last digit


@dataclass(frozen=True)
class SupportEffect:
    """One thing turned on: drain dQ (W) and dip of the coldest wall (K) before and after."""

    name: str
    how: str
    drain: tuple[float, float]
    dip: tuple[float, float]


def _shoe(**overrides: Any) -> SupportResult:
    case = narrowed("shoe-and-cradle", "cold-night", **overrides)
    return solve_support(case, case.supports[0], FINENESS)


def all_support_effects() -> Iterator[SupportEffect]:
    """On the bare shoe of the shipped, invented case."""
    base = _shoe()
    changes: tuple[tuple[str, str, dict[str, Any]], ...] = (
        ("contents at rest", "still against mixed slice by slice", {"contents": {"state": "still"}}),
        (
            "barrier touches the leg",
            "metal contact against cut clear",
            {"support": {"shoe": {"barrier_touches": True}}},
        ),
        (
            "pad's contact three times as good",
            "contact conductance of the pad",
            {"support": {"shoe": {"pad": {"contact_conductance": f"{3 * _pad_contact()} W/m2/K"}}}},
        ),
        (
            "leg welded to steel at the ambient",
            "end held at the ambient temperature against a free end",
            {"support": {"shoe": {"leg": {"end": "held", "end_temperature": "-20 degC"}}}},
        ),
    )
    for name, how, overrides in changes:
        changed = _shoe(**overrides)
        yield SupportEffect(
            name,
            how,
            (base.quantities["heat_sink"].value, changed.quantities["heat_sink"].value),
            (base.quantities["dip"].value, changed.quantities["dip"].value),
        )


def _pad_contact() -> float:
    case = narrowed("shoe-and-cradle", "cold-night")
    pad = case.supports[0].pad
    assert pad is not None
    return pad.contact_conductance
