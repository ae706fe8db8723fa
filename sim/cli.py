"""The command `coldspot`. Everything heavy is imported inside the commands, so that help answers at once."""

from __future__ import annotations

import os
import signal
import sys
from contextlib import nullcontext
from functools import partial
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated

import typer

from sim.child import ONE_THREAD
from sim.commands import CaseFile, Fineness, Processes, Quiet, output_folder, plain_ends, progress_line
from sim.desk.command import desk
from sim.draw import draw
from sim.exit_codes import FAULT, Program, code_after, fail, note, safe_streams
from sim.line_command import line
from sim.study_command import study
from sim.verify import verify
from sim.version import __version__
from sim.year import year

if TYPE_CHECKING:
    from collections.abc import Callable

    from sim.case import Case
    from sim.judge.check import Answer


app = typer.Typer(
    name="coldspot",
    cls=Program,
    help="The temperature field of an electrically heat-traced pipe, beside the design's numbers. "
    "Evidence for an engineer, not a certificate.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


@app.callback(invoke_without_command=True)
def _program(
    version: Annotated[bool, typer.Option("--version", help="Print the version and stop.")] = False,
) -> None:
    if version:
        print(f"coldspot {__version__}")
        raise typer.Exit


@app.command()
def check(
    case: CaseFile,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write results, report, pictures and fields into this folder."),
    ] = None,
    fineness: Fineness = 3.0,
    memory: Annotated[
        float,
        typer.Option(
            metavar="GB", min=0.05, max=1000.0, help="Most that the field around a support may take."
        ),
    ] = 3.0,
    episodes: Annotated[
        bool,
        typer.Option("--episodes/--no-episodes", help="Follow the case's episodes, after its conditions."),
    ] = True,
    episode: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME", help="Follow this episode only (and those it starts from); may be given again."
        ),
    ] = None,
    setting: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="KEY=VALUE",
            help="Change a key for this run, such as tracer.T1.clock=4; empty takes it out; may be given again.",
        ),
    ] = None,
    average: Annotated[
        bool,
        typer.Option(
            "--average", help="Follow moving contents that do not settle, for their averages (minutes each)."
        ),
    ] = False,
    verbose: Annotated[
        bool, typer.Option("--verbose", "-v", help="Print every limit, table and note.")
    ] = False,
    quiet: Quiet = False,
) -> None:
    """Solve every condition of a case, hold its limits, and set the design beside the field.

    Exit code: 0 pass, 1 a limit fails or is too close to call, 2 bad input, 3 a field did not converge; 70 the program
    has a fault, 74 the machine has (a full disk, say).
    """
    with plain_ends(str(case)) as written:
        answers: list[Answer] = []

        def tell() -> None:
            if answers and not quiet:
                from sim.report.terminal import show

                show(answers[0], verbose=verbose)

        try:
            chosen = (episode or None) if episodes else []
            if average:
                setting = [*(setting or []), "contents.average=true"]
            _checked(_loaded(case, setting), out, fineness, memory, written, answers, quiet, chosen)
        except Exception:
            tell()  # what was computed is shown, whatever became of the folder
            raise
        tell()
        if out is not None and not quiet:
            print(f"Written: {out / 'report.html'}", flush=True)
    raise typer.Exit(answers[0].exit_code)


def _loaded(path: Path, setting: list[str] | None) -> Callable[[], Case]:
    """What reads the case, with the changes of `--set` laid over it."""
    from sim.case import load_case

    if not setting:
        return partial(load_case, path)
    from sim.case.settings import load_set
    from sim.study.edit import path_of

    settings = []
    for text in setting:
        key, equals, value = text.partition("=")
        try:
            settings.append((path_of(key.strip() if equals else ""), value.strip()))
        except ValueError:
            fail(f'--set: "{text[:40]}" is not a key and its value; accepted: such as tracer.T1.clock=4')
    return partial(load_set, path, settings)


def _checked(
    load: Callable[[], Case],
    out: Path | None,
    fineness: float,
    memory: float,
    written: list[Path],
    answers: list[Answer],
    quiet: bool,
    episodes: list[str] | None,
) -> None:
    """Load, check, and write the output folder if one is wanted; `load` reads the case. The answer is put into
    `answers` as soon as it is there; the folder, once it is in place, into `written`."""
    from sim.report.painter import Painter

    with nullcontext() if out is None else Painter() as painter:
        from sim.judge.check import check as judge
        from sim.report.folder import kept_beside

        case, draw = load(), None
        _refuse_unknown(case, episodes)
        # the painter stops before an unfinished folder is removed
        with (
            output_folder(out, written) as work,
            kept_beside(out, note) as kept,
            painter or nullcontext(),
            progress_line(quiet) as tell,
        ):
            if work is not None and painter is not None:
                from sim.report.output import drawn_while_solving, write_all

                draw = drawn_while_solving(case, work, painter)
            answer = judge(
                case,
                fineness=fineness,
                progress=tell,
                solved=draw,
                memory=1e9 * memory,
                episodes=episodes,
                kept=kept,
            )
            answers.append(answer)
            if work is not None and painter is not None:
                tell("report", "pictures and fields")
                write_all(answer, work, painter, drawn=True)


def _refuse_unknown(case: Case, names: list[str] | None) -> None:
    """Refuse a name of `--episode` that the case does not have."""
    known = [episode.name for episode in case.episodes]
    for name in names or ():
        if name not in known:
            accepted = ", ".join(known) or "none: the case has no episode"
            fail(f'--episode: "{name[:40]}" is no episode of this case; accepted: {accepted}')


@app.command()
def clock(
    case: CaseFile,
    condition: Annotated[
        str | None, typer.Option(metavar="NAME", help="The condition; the case's first without it.")
    ] = None,
    tracer: Annotated[
        str | None, typer.Option(metavar="NAME", help="The tracer that moves; all turn together without it.")
    ] = None,
    at: Annotated[
        str, typer.Option(metavar="HOURS", help="Clock positions, such as 12,2,4,6; every hour without it.")
    ] = "",
    pictured: Annotated[
        str, typer.Option(metavar="HOURS", help="Positions whose fields are drawn (with --out).")
    ] = "5,11",
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Write table, results and pictures into this folder.")
    ] = None,
    fineness: Fineness = 3.0,
    supports: Annotated[
        bool, typer.Option("--supports", help="Hold the limits around the supports, too: minutes a position.")
    ] = False,
    processes: Processes = None,
) -> None:
    """Move the tracers round the clock: coldest contents and wall, sheath and sensors for contents that stand still,
    move by natural convection, or are mixed; and the limits of every condition at every position.

    Exit code: 0 done, 2 bad input, 3 a field did not converge; the limits are told, not judged.
    """
    with plain_ends(str(case)) as written:
        from sim.case import load_case
        from sim.report.clock import show_clock, write_clock
        from sim.report.folder import kept_beside
        from sim.study.clock import clock as study
        from sim.study.positions import POSITIONS

        hours = _hours("--at", at) or POSITIONS
        drawn = [h for h in _hours("--pictured", pictured) if h in hours]
        loaded = load_case(case)
        with output_folder(out, written) as work, kept_beside(out, note) as kept, progress_line() as tell:
            solved = study(
                loaded,
                condition,
                tracer=tracer,
                positions=hours,
                pictured=drawn,
                fineness=fineness,
                supports=supports,
                processes=processes or os.cpu_count() or 1,
                progress=tell,
                kept=kept,
            )
            if work is not None:
                write_clock(solved, work)
        show_clock(solved)
        if out is not None:
            print(f"Written: {out / 'clock.png'}", flush=True)
    for position in solved.placed:
        if position.fault is not None:  # the other positions are told and written
            raise position.fault
    raise typer.Exit(0 if solved.complete else 3)


def _hours(option: str, text: str) -> tuple[float, ...]:
    """Clock positions of an option, 12 as 0. Raises ValueError naming the option."""
    from sim.case.clock_face import parse_clock

    try:
        parts = [part for part in text.split(",") if part.strip()]
        hours = tuple(parse_clock(part if ":" in part else float(part)) for part in parts)
    except ValueError:
        hours = (-1.0,)
    if any(not 0.0 <= h <= 12.0 for h in hours) or len(hours) > 96:
        fail(
            f'{option}: "{text[:40]}" is not a list of hours; accepted: up to 96 numbers 0 to 12 (or 4:30) with commas'
        )
    return tuple(h % 12.0 for h in hours)


@app.command()
def new(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="The new file; printed without it.")
    ] = None,
) -> None:
    """Write a commented case to start from; `coldspot check` takes it as it is."""
    with plain_ends(str(file)):
        from sim.case.starter import starter, write_starter

        if file is None:
            print(starter(), end="", flush=True)
        else:
            write_starter(file)
            print(f"Written: {file}", flush=True)


@app.command()
def schema() -> None:
    """Print the JSON schema of a case file, for editors."""
    import json

    from sim.case import json_schema

    print(json.dumps(json_schema(), indent=1, ensure_ascii=True), flush=True)


@app.command()
def keys() -> None:
    """Print every key of a case file with its unit, default and meaning."""
    from sim.report.listing import show_keys

    show_keys()


@app.command()
def catalogue(
    kind: Annotated[
        str,
        typer.Argument(
            metavar="[pipes|solids|insulations|barriers|fluids]", help="Which list; all without it."
        ),
    ] = "all",
) -> None:
    """Print what the program knows by name, with the source of each."""
    from sim.report.listing import KINDS, show_catalogue

    if kind != "all" and kind not in KINDS:
        fail(f'catalogue: "{kind[:40]}" is not a list; accepted: {", ".join(KINDS)}')
    show_catalogue(kind)


for _command in (desk, draw, study, verify, line, year):
    app.command()(_command)


def _stop(number: int, frame: FrameType | None) -> None:
    raise SystemExit(128 + number)


def main() -> None:
    """Entry point of the command."""
    signal.signal(signal.SIGTERM, _stop)
    for name in ONE_THREAD:  # small dense blocks: more threads only wait for each other
        os.environ.setdefault(name, "1")
    if hasattr(signal, "SIGHUP") and signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
        signal.signal(signal.SIGHUP, _stop)  # a closed terminal; nohup ignores it
    with safe_streams() as out:
        try:
            app()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 0 if end.code is None else FAULT
        out.flush()
        code = code_after(code, out)
    sys.exit(code)


if __name__ == "__main__":
    main()
