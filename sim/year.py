"""The command `coldspot year`."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sim.commands import plain_ends
from sim.ends import fail

if TYPE_CHECKING:
    from sim.judge.season import SeasonAnswer

NOT_CONVERGED, ZERO = 3, 273.15


def year(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="The case file (TOML).")],
    weather: Annotated[
        Path, typer.Option(metavar="FILE", help="Hourly weather: EPW, or a CSV with named columns.")
    ],
    condition: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="The condition that the weather drives; the first without it."),
    ] = None,
    control: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="A control in force, repeatable; all without it.")
    ] = None,
) -> None:
    """A year (or less) of hourly weather by a reduced model, its worst ten days by the full field.

    A result is evidence for an engineer, not a certificate.
    """
    with plain_ends(str(case)):
        from sim.case import load_case
        from sim.judge.season import checked_names, season
        from sim.solve.balance import NotConverged

        loaded, begin = load_case(case), time.perf_counter()
        try:
            found = season(loaded, weather, *checked_names(loaded, condition, control))
        except NotConverged as error:
            fail(f"{case}: {error}", NOT_CONVERGED)
        for line in lines(found):
            print(line)
        print(f"{time.perf_counter() - begin:.0f} s", flush=True)


def lines(found: SeasonAnswer) -> list[str]:
    """The answer as text."""
    days = found.file.spacing * (found.file.count - 1) / 86400
    how = "of each day's coldest" if found.daily else "at any hour"
    said = [
        f"{found.file.name}, {days:.0f} days, condition {found.condition}, reduced model of {found.order} unknowns",
        f"coldest hour  {found.at}  {found.coldest - ZERO:.2f} degC (full field {found.coldest_full - ZERO:.2f} degC)",
        f"reduced model against the full field over the worst {(found.stretch[1] - found.stretch[0]) / 86400:.0f} days:"
        f" {found.error:.2f} K {how}",
        f"energy  {found.energy / 3.6e6:.2f} kWh/m, duty {100 * found.duty:.1f} %",
        f"switchings  {found.season.switchings}",
    ]
    said += [f"beyond {name}  {hours:.0f} h" for name, hours in found.hours_beyond.items()]
    return [*said, *(f"note: {text}" for text in found.notes)]
