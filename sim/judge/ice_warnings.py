"""Contents that come near their freezing point, or near water's greatest density, in a field that counts neither."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import inf

from sim.basics import ZERO_CELSIUS
from sim.case import Case, Fluid
from sim.judge.limits import LimitCheck, both
from sim.solve.at_rest import SectionResult

TURNS = 281.15  # K, twice water's temperature of greatest density in degC: below it the expansion's change matters
WATERY = {  # SI, at `TURNS`; common practice, no source
    "conductivity": (0.5, 0.7),
    "density": (970.0, 1030.0),
    "specific_heat": (3900.0, 4400.0),
    "viscosity": (8e-4, 2e-3),
}


def like_water(fluid: Fluid) -> bool:
    """Whether a liquid has water's properties at 8 degC, to what a case would write of it."""
    return fluid.phase == "liquid" and all(
        low <= float(getattr(fluid, name)(TURNS)) <= high for name, (low, high) in WATERY.items()
    )


def freezing_notes(result: SectionResult) -> tuple[str, ...]:
    """What a reader must know where the liquid is, or within its band may be, colder than it can be without ice."""
    contents = result.case.contents
    if contents.state == "empty" or contents.fill <= 0:
        return ()
    path = "liquid.min" if "liquid.min" in result.quantities else "contents.min"
    lowest, fluid = result.quantities[path], contents.fluid
    coldest = min(lowest.value - lowest.band, result.ends.get(path, inf))
    notes = []
    if fluid.freezes_at is not None and coldest < fluid.freezes_at:
        notes.append(
            f"the contents {_reach(coldest, lowest.band)}, below the freezing point of {fluid.name} "
            f"({fluid.freezes_at - ZERO_CELSIUS:.1f} degC): this field knows no ice, its numbers are those of a "
            "liquid, and closed-in ice may burst a pipe; an episode follows the freezing"
        )
    if fluid.freezes_at is None and like_water(fluid) and coldest < ZERO_CELSIUS:
        notes.append(
            f"the contents {_reach(coldest, lowest.band)}; {fluid.name} is like water but has no freezes_at, and "
            "nothing here knows of ice"
        )
    one = fluid.density.is_constant and fluid.expansion.is_constant
    if contents.state == "buoyant" and one and like_water(fluid) and coldest < TURNS:
        notes.append(
            f"{fluid.name} is like water but has one expansion at every temperature; water is heaviest at 4 degC, and "
            "below about 8 degC its flow is another (up to 0.6 K at the coldest place): give its density over "
            'temperature, or fluid = "water"'
        )
    return tuple(notes)


def with_ice(
    checks: tuple[LimitCheck, ...], case: Case, ends: Mapping[str, float] | None = None
) -> tuple[LimitCheck, ...]:
    """Cold limits of the contents and of the wall that they touch, with a warning beside one that is kept only below
    the contents' freezing point. ends: of a bracket, as of `SectionResult`."""
    at = case.contents.fluid.freezes_at if case.contents.state != "empty" and case.contents.fill > 0 else None
    if at is None:
        return checks
    words = (
        f"may be below the freezing point of the contents, {at - ZERO_CELSIUS:.1f} degC; no ice is counted"
    )
    return tuple(
        replace(check, note=both(check.note, words))
        if check.limit in ("contents_min", "wall_min")
        and min(check.value - check.band, (ends or {}).get(check.quantity, inf)) < at
        else check
        for check in checks
    )


def _reach(coldest: float, band: float) -> str:
    return f"{'reach' if band < 0.1 else 'may reach'} {coldest - ZERO_CELSIUS:.1f} degC"
