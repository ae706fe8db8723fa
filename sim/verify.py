"""`coldspot verify` on the command line. The checks are the package `validation`, imported when the command runs."""

from pathlib import Path
from typing import Annotated

import typer


def verify(
    case: Annotated[
        Path | None,
        typer.Argument(
            metavar="[CASE]",
            help="A case file: solve it by FiPy and by finite elements, too, instead of the published checks.",
        ),
    ] = None,
    condition: Annotated[
        str | None,
        typer.Option("--condition", metavar="NAME", help="With CASE: this condition alone; all without it."),
    ] = None,
    full: Annotated[
        bool, typer.Option("--full", help="All checks; some need the extra `validation`, minutes in all.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="DIR",
            help="Write page, pictures, JSON and CSV of every number into this folder.",
        ),
    ] = None,
    page: Annotated[
        Path | None,
        typer.Option(
            "--page", metavar="FILE", help="Write the page here, its pictures into `pictures` beside it."
        ),
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print nothing but what failed.")] = False,
) -> None:
    """Run the published checks and show every number beside its source; the quick set without --full.

    With CASE, set two other solvers' answers beside the program's: FiPy on the same cells, and finite elements on a
    mesh of their own (both need the extra `validation`).

    Exit code: 0 all pass or agree, 1 one failed or differs, 2 bad use, 3 one could not be run.
    """
    from validation import command

    raise typer.Exit(command.verify(case, condition, full, out, page, quiet))
