"""The command `coldspot line`."""

from pathlib import Path
from typing import Annotated

import typer

from sim.commands import Fineness, Processes, Quiet, cores, plain_ends, progress_line
from sim.exit_codes import fail

NOT_CONVERGED = 3


def line(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The line file (TOML).")],
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Store, bill, results and picture; line-NAME here without it."),
    ] = None,
    fineness: Fineness = 3.0,
    processes: Processes = None,
    episodes: Annotated[
        bool, typer.Option("--episodes", help="Follow the cases' episodes at the places that have one.")
    ] = False,
    quiet: Quiet = False,
) -> None:
    """Put a line together from its stretches, supports, fittings and elbows: loss, tracer, power, the coldest place.

    Fields are solved once each and kept in the folder; run again, only what changed is solved. Exit code: 0 every limit
    met, 1 one is missed or too close to call, 2 bad input, 3 a field did not converge.
    """
    with plain_ends(str(file)):
        from sim.solve.steady import NotConverged
        from sim.study.line_file import load_line

        count = processes or cores()
        if count > 1:
            from sim.study.pool import prepare

            prepare()
        laid = load_line(file)
        folder = out if out is not None else Path(f"line-{file.stem}")
        from sim.report.line import lines
        from sim.report.line_page import write_line
        from sim.study.line_run import run_line

        try:
            with progress_line(quiet) as tell:
                study = run_line(
                    laid, folder, fineness=fineness, processes=count, progress=tell, episodes=episodes
                )
        except NotConverged as error:
            fail(f"{file}: {error}", NOT_CONVERGED)
        files = write_line(study, folder)
        if not quiet:
            print("\n".join(lines(study)))
            print(f"Written: {folder}/{', '.join(files)}", flush=True)
    raise typer.Exit(0 if study.verdict in ("pass", "no limits", "nothing to hold") else 1)
