"""What the commands share: faults of an input or output as one line and an exit code, and the line of progress."""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from sim.exit_codes import BAD_INPUT, INTERRUPTED, MACHINE, fail, note

CaseFile = Annotated[Path, typer.Argument(metavar="CASE", help="The case file (TOML).")]
Fineness = Annotated[
    float,
    typer.Option(
        metavar="F", min=1.0, max=12.0, help="Of the finest of the three meshes; cells grow as F^2."
    ),
]
Processes = Annotated[
    int | None,
    typer.Option(
        "--processes", "-p", metavar="N", min=1, max=512, help="Local processes; all cores without it."
    ),
]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Print nothing but errors.")]


def cores() -> int:
    """Processors that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def output_folder(out: Path | None, written: list[Path]) -> Iterator[Path | None]:
    """A new folder to write into that takes the place of `out`, which is then put into `written`; None without one.

    What was finished before a fault of the program or the machine is kept beside it.
    """
    if out is None:
        yield None
        return
    from sim.report.folder import unfinished, written_folder

    place = written_folder(out, say=note, placed=partial(written.append, out))
    with place as work, unfinished(work, out, note):
        yield work


@contextmanager
def plain_ends(subject: str) -> Iterator[list[Path]]:
    """Turn what can go wrong with an input or an output into one line and an exit code, never a traceback.

    Yields a list for the folders that are in their place, so that an interrupt afterwards says so.
    """
    written: list[Path] = []
    try:
        from sim.case import CaseError
        from sim.report.folder import OutputError

        try:
            yield written
        except CaseError as error:
            for line in error.lines[:-1]:
                note(line)
            fail(error.lines[-1])
        except OutputError as error:
            fail(f"--out: {error}", MACHINE if error.late else BAD_INPUT)
        except ValueError as error:
            fail(f"{subject}: {error}")
        except MemoryError:
            fail(f"{subject}: not enough memory; accepted: a smaller --fineness")
    except KeyboardInterrupt:
        written_words = f"but {written[0]} is written" if written else "nothing was written"
        print(f"coldspot: interrupted, {written_words}", file=sys.stderr)
        raise typer.Exit(INTERRUPTED) from None


@contextmanager
def progress_line(quiet: bool = False) -> Iterator[Callable[[str, str], None]]:
    """Says on standard error what is being done: on a terminal in one line that it leaves clean, else a line a stage.

    What is told may begin with its stage, up to a colon: "section: 2013 cells".
    """
    stream = sys.stderr
    live = stream.isatty() and os.environ.get("TERM") != "dumb"
    last = ""

    def tell(condition: str, what: str) -> None:
        nonlocal last
        part = what.partition(":")[0] if ":" in what else ""
        stage = f"{condition}: {part}" if part else condition
        if live:
            line = f"{condition}: {what}"
            print(f"\r{line[:100]}\x1b[K", end="", file=stream, flush=True)
        elif stage != last and not quiet:
            note(stage)
            last = stage

    try:
        yield tell
    finally:
        if live:
            print("\r\x1b[K", end="", file=stream, flush=True)
