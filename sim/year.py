"""The command `coldspot year`."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sim.commands import CaseFile, plain_ends
from sim.exit_codes import fail

if TYPE_CHECKING:
    from sim.judge.season import SeasonAnswer

NOT_CONVERGED, ZERO = 3, 273.15


def year(
    case: CaseFile,
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
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder for year.csv (every moment) and year.json (the answer)."),
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
            answer = season(loaded, weather, *checked_names(loaded, condition, control))
        except NotConverged as error:
            fail(f"{case}: {error}", NOT_CONVERGED)
        for line in lines(answer):
            print(line)
        if out is not None:
            write(answer, out)
            print(f"written: {out / 'year.csv'}, {out / 'year.json'}")
        from sim.report.method import CAUTIONS

        print(" ".join(CAUTIONS))
        print(f"{time.perf_counter() - begin:.0f} s", flush=True)


def write(answer: SeasonAnswer, folder: Path) -> None:
    """Write the answer's files, each whole or not at all. Raises OutputError."""
    from sim.report.folder import OutputError
    from sim.report.season_results import season_csv, season_json

    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in (("year.csv", season_csv(answer)), ("year.json", season_json(answer))):
            aside = folder / f".{name}.part"
            aside.write_text(text, encoding="utf-8", newline="\n")
            os.replace(aside, folder / name)
    except OSError as error:
        raise OutputError(f"{folder}: cannot be written: {error.strerror or error}") from None


def lines(answer: SeasonAnswer) -> list[str]:
    """The answer as text."""
    days = answer.file.spacing * (answer.file.count - 1) / 86400
    how = "of each day's coldest" if answer.daily else "at any hour"
    texts = [
        f"{answer.file.name}, {days:.0f} days, condition {answer.condition}, reduced model of {answer.order} unknowns",
        f"coldest hour  {answer.at}  {answer.coldest - ZERO:.2f} degC"
        f" (full field {answer.coldest_full - ZERO:.2f} degC)",
        "reduced model against the full field over the worst"
        f" {(answer.stretch[1] - answer.stretch[0]) / 86400:.0f} days: {answer.error:.2f} K {how}",
        f"energy  {answer.energy / 3.6e6:.2f} kWh/m, duty {100 * answer.duty:.1f} %",
        f"switchings  {answer.season.switchings}",
    ]
    from sim.report.season_results import worst_week

    week, end = worst_week(answer)
    texts.append(
        f'worst week in full: an episode with weather_from = "{answer.file.stamp(week)}",'
        f' lasts = "{(end - week) / 3600:.0f} h"'
    )
    texts += [f"beyond {name}  {hours:.0f} h" for name, hours in answer.hours_beyond.items()]
    return [*texts, *(f"note: {text}" for text in answer.notes)]
