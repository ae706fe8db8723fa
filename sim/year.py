"""The command `coldspot year`."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sim.commands import CaseFile, Fineness, Quiet, output_folder, plain_ends, progress_line
from sim.exit_codes import fail

if TYPE_CHECKING:
    from sim.case import Case
    from sim.judge.episode_answers import EpisodeAnswer
    from sim.judge.season import SeasonAnswer

NOT_CONVERGED = 3


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
    week: Annotated[
        bool, typer.Option("--week", help="Run the worst week in full: an episode on three meshes, judged.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder for report.html, results.json and year.csv (every moment)."),
    ] = None,
    fineness: Fineness = 3.0,
    quiet: Quiet = False,
) -> None:
    """A year (or less) of hourly weather by a reduced model, its worst ten days by the full field.

    Exit code: 0; with --week that of the week's verdict, as of `coldspot check`; 2 bad input, 3 a field did not
    converge. A result is evidence for an engineer, not a certificate.
    """
    with plain_ends(str(case)) as written:
        from sim.case import load_case
        from sim.judge.limits import Verdict, exit_code
        from sim.judge.season import checked_names, season
        from sim.judge.worst_week import in_full
        from sim.solve.balance import NotConverged

        loaded, begin = load_case(case), time.perf_counter()
        verdict: Verdict = "pass"
        with output_folder(out, written) as folder, progress_line(quiet) as tell:
            try:
                answer = season(loaded, weather, *checked_names(loaded, condition, control))
                lived = None
                if week:
                    lived = in_full(loaded, answer, fineness, lambda what: tell("worst week", what))
                    verdict = lived.verdict
            except NotConverged as error:
                fail(f"{case}: {error}", NOT_CONVERGED)
            if folder is not None:
                write(loaded, answer, lived, folder)
        if not quiet:
            show(answer, lived)
            if out is not None:
                print(f"Written: {out / 'report.html'}")
            print(f"{time.perf_counter() - begin:.0f} s", flush=True)
    raise typer.Exit(exit_code(verdict))


def write(case: Case, answer: SeasonAnswer, week: EpisodeAnswer | None, folder: Path) -> None:
    """Write the answer's files into a folder: the report, the numbers, the table, the pictures."""
    from sim.report.draw_season import draw_season
    from sim.report.episode_results import series_csv
    from sim.report.season_page import season_page
    from sim.report.season_results import season_csv, season_json

    texts = {"year.csv": season_csv(answer), "results.json": season_json(answer, week)}
    if week is not None and week.result is not None:
        texts["episode_worst_week.csv"] = series_csv(week.result)
    draw_season(answer, folder / "year.png")
    texts["report.html"] = season_page(case, answer, folder / "year.png", week)
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")


def show(answer: SeasonAnswer, week: EpisodeAnswer | None) -> None:
    """The answer on the terminal."""
    from sim.report.episode_page import answers_of
    from sim.report.method import CAUTIONS
    from sim.report.season_page import season_rows

    print(f"{answer.file.name}, condition {answer.condition}, reduced model of {answer.model.order} unknowns")
    rows = season_rows(answer)
    if week is not None:
        rows += [("", ""), (f"{week.name} in full, on three meshes", week.verdict), *answers_of(week)]
    width = max(len(what) for what, _ in rows)
    for what, value in rows:
        print(f"{what:<{width}}  {value}".rstrip())
    for text in (*answer.notes, *(() if week is None else week.notes)):
        print(f"note: {text}")
    print(" ".join(CAUTIONS))
