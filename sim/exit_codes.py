"""How the command ends: exit codes, standard streams that are closed or full, faults of the program and the machine."""

import errno
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any, NoReturn

import typer
from typer.core import TyperGroup

BAD_INPUT, FAULT, MACHINE, INTERRUPTED = 2, 70, 74, 130
FAULT_FILE = "coldspot-fault.txt"


def note(message: str) -> None:
    """One line on standard error."""
    from sim.case.text import printable

    print(f"coldspot: {printable(message)}", file=sys.stderr)


def fail(message: str, code: int = BAD_INPUT) -> NoReturn:
    """One message on standard error, then the exit code."""
    note(message)
    raise typer.Exit(code)


class Stream:
    """A standard stream that raises nothing: what cannot be written is dropped, the first reason is kept."""

    def __init__(self, stream: Any) -> None:
        self.stream = stream
        self.failure: OSError | None = None

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)

    def _try(self, what: str, *words: str) -> None:
        if self.failure is None:
            try:
                getattr(self.stream, what)(*words)
            except OSError as error:
                self.failure = error
                with suppress(OSError):  # what waits in the buffer goes nowhere, too
                    os.dup2(os.open(os.devnull, os.O_WRONLY), self.stream.fileno())

    def write(self, text: str) -> int:
        self._try("write", text)
        return len(text)

    def flush(self) -> None:
        self._try("flush")


@contextmanager
def safe_streams() -> Iterator[Stream]:
    """Standard streams that may be closed, full or no longer read, for the length of the block; yields the output's.

    A closed one is opened on nothing, so that no file of ours is given its number.
    """
    for number, name, mode in ((0, "stdin", "r"), (1, "stdout", "w"), (2, "stderr", "w")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest number that is free: this one
        if getattr(sys, name) is None:
            setattr(sys, name, open(number, mode, encoding="utf-8", errors="replace", closefd=False))  # noqa: SIM115
    before = sys.stdout, sys.stderr
    out, err = Stream(sys.stdout), Stream(sys.stderr)
    sys.stdout, sys.stderr = out, err
    try:
        yield out
    finally:
        out.flush()
        err.flush()
        sys.stdout, sys.stderr = before


def code_after(code: int, out: Stream) -> int:
    """The exit code, or the machine's where the output could not be written; a reader that has gone is no fault."""
    if out.failure is None or out.failure.errno == errno.EPIPE:
        return code
    note(f"standard output: cannot be written: {out.failure.strerror}")
    return code if code not in (0, 1) else MACHINE


class Program(TyperGroup):
    """The command, with an exit code of its own for whatever no command expects: never that of a verdict."""

    def invoke(self, ctx: Any) -> Any:
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            note("interrupted, nothing was written")
            raise typer.Exit(INTERRUPTED) from None
        except OSError as error:
            name = f"{error.filename}: " if error.filename else ""
            note(f"{name}{error.strerror or error}")
            raise typer.Exit(MACHINE) from None
        except MemoryError:
            note("not enough memory")
            raise typer.Exit(MACHINE) from None
        except Exception as error:
            if hasattr(error, "exit_code"):  # typer's own: a wrong word, or an end that was asked for
                raise
            _report(error)
            raise typer.Exit(FAULT) from None


def _report(error: Exception) -> None:
    """Say that the program has a fault, where, and what to send; the traceback goes into a file."""
    import traceback

    frame = traceback.extract_tb(error.__traceback__)[-1]
    place = f"{os.path.basename(frame.filename)}:{frame.lineno}"
    text = str(error)[:80]
    note(
        f"internal fault, no verdict: {type(error).__name__}{f' ({text})' if text else ''} at {place};"
        f" please report it with {_written(error)} and the case file"
    )


def _written(error: Exception) -> str:
    """Write the traceback into the working folder, else into the one for temporary files; the file's name."""
    import platform
    import tempfile
    import traceback

    from sim.version import __version__

    head = (
        f"coldspot {__version__}, Python {platform.python_version()}, {platform.platform()}\n{sys.argv[1:]}\n"
    )
    text = head + "".join(traceback.format_exception(error))
    for folder in (os.curdir, tempfile.gettempdir()):
        path = os.path.normpath(os.path.join(folder, FAULT_FILE))
        try:
            with open(path, "w", encoding="utf-8", errors="backslashreplace") as file:
                file.write(text)
        except OSError:
            continue
        return path
    return "this line"
