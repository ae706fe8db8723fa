"""The command `coldspot draw`."""

from pathlib import Path
from typing import Annotated

import typer

from sim.commands import CaseFile, plain_ends
from sim.exit_codes import fail


def draw(
    case: CaseFile,
    out: Annotated[
        Path,
        typer.Option(
            metavar="DIR", help="Folder that the pictures are written into; made if it is not there."
        ),
    ] = Path(),
) -> None:
    """The fittings of a case as they were understood, with their dimensions, before anything is solved.

    Electric heat tracing can burn, start a fire, ignite a hazardous atmosphere and give an electric shock. What is
    drawn is evidence for an engineer, not a certificate.
    """
    with plain_ends(str(case)):
        from sim.case import load_case
        from sim.report.draw_fitting import dimensions, draw_fitting, sources
        from sim.report.words import file_names

        loaded = load_case(case)
        if not loaded.fittings:
            fail(f"{case}: fitting: is missing: there is nothing to draw; accepted: at least one [[fitting]]")
        try:
            out.mkdir(exist_ok=True)
        except OSError as error:
            fail(
                f"--out: {out} is not a folder ({error.strerror}); accepted: one that is there, or beside it"
            )
        names = file_names([fitting.name for fitting in loaded.fittings])
        for fitting in loaded.fittings:
            print(f"{fitting.name} ({fitting.family}), lengths in mm")
            for row in [*dimensions(loaded, fitting), *sources(fitting)]:
                print(f"  {row}")
            path = out / f"fitting_{names[fitting.name]}.png"
            try:
                draw_fitting(loaded, fitting, path)
            except OSError as error:
                fail(f"--out: {path.name} cannot be written ({error.strerror})")
            print(f"  {path}")
