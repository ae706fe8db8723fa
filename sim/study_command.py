"""`coldspot study FILE`: run a study, go on with one that was stopped, and write its answers."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sim.commands import Processes, cores
from sim.exit_codes import MACHINE

if TYPE_CHECKING:
    from rich.console import Console

    from sim.study.execute import Answers
    from sim.study.variants import Study

MOST_SAID = 30  # statements on the terminal; the page has all


def study(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The study file (TOML).")],
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Folder for the results; study-NAME here without it."),
    ] = None,
    processes: Processes = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            "--cluster", metavar="ADDRESS", help="Of a Dask scheduler, such as tcp://127.0.0.1:8786."
        ),
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Run a very large study without asking.")] = False,
    retry_failed: Annotated[
        bool, typer.Option("--retry-failed", help="Try variants again that failed.")
    ] = False,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print nothing but the answers.")] = False,
) -> None:
    """Run a study: many variants of one case as one question. Stopped at any moment, run it again to go on.

    Exit code 0: answered, and some variant meets every limit; 1: answered, and none does, or something was left out
    where the case has a limit (a support, a condition, an episode); 2: bad input, or many supports that nobody asked
    for; 3: some variants could not be computed; 74: the cluster's scheduler was lost (what
    is finished is stored, the same command goes on); 130: stopped from the keyboard.
    """
    from sim.study.pool import ClusterLost, pin_threads

    pin_threads()
    from rich.console import Console

    from sim.case import CaseError

    console = Console(soft_wrap=True, emoji=False)
    try:
        code = _run(file, out, processes, cluster, yes, retry_failed, quiet, console)
    except CaseError as error:
        for line in error.lines:
            print(f"coldspot: {line}", file=sys.stderr)
        code = 2
    except ClusterLost as error:
        print(f"coldspot: --cluster: {error}", file=sys.stderr)
        code = MACHINE
    except KeyboardInterrupt:
        print("coldspot: stopped; what is finished is stored, the same command goes on", file=sys.stderr)
        code = 130
    raise typer.Exit(code)


def _run(
    file: Path,
    out: Path | None,
    processes: int | None,
    address: str | None,
    yes: bool,
    retry: bool,
    quiet: bool,
    console: Console,
) -> int:
    from sim.study.pool import cluster, local, prepare

    count = processes or cores()
    if address is None and count > 1:
        prepare()
    from sim.report.study_progress import Terminal
    from sim.study.execute import STUDY, execute
    from sim.study.program import program_version
    from sim.study.schema import MANY
    from sim.study.store import Store
    from sim.study.variants import load_study

    laid = load_study(file, most=None if yes else MANY)
    folder = out if out is not None else Path(f"study-{file.stem}")
    if address is not None:
        executor, count = cluster(address, program=program_version())
        where = f"Dask cluster at {address}, {count} threads"
    else:
        executor, where = local(count), f"{count} local process{'es' if count > 1 else ''}"
    with Store(folder / "study.sqlite", program_version()) as store:
        from sim.case import to_toml

        store.begin_run(where, file.read_text(encoding="utf-8-sig"), to_toml(laid.case))
        if retry:
            store.forget_failures(STUDY)
        if not quiet:
            console.print(f"{laid.file.title}: {_size(laid)}, {where}", highlight=False, markup=False)
        answers = execute(laid, store, executor, Terminal(console, quiet=quiet), count)
        notes = write_outputs(answers, folder)  # while no other run may write here
    _tell(answers, notes, folder, console)
    return answers.exit_code


def _size(laid: Study) -> str:
    what = "a search" if laid.file.search is not None else f"{laid.size:,} variants"
    names, episodes = ", ".join(laid.base.conditions), laid.base.episodes
    many = "s" if len(laid.base.conditions) > 1 else ""
    over_time = f" and {len(episodes)} episode{'s' if len(episodes) > 1 else ''} ({', '.join(episodes)})"
    return f"{what} in {len(laid.base.conditions)} condition{many} ({names}){over_time if episodes else ''}"


def write_outputs(answers: Answers, folder: Path) -> list[str]:
    """Write CSV, Parquet, charts and the page beside the database; returns notes on what was left out.

    All are made under a hidden name first and moved in together, so that a run that is stopped leaves the former ones.
    """
    from sim.case import CaseError
    from sim.report.draw_study import draw, draw_plan
    from sim.report.study_page import write_page
    from sim.study.tables import columns, place_columns, places_of, write_csv, write_parquet

    notes: list[str] = []
    beside = folder / ".outputs.part"
    try:
        shutil.rmtree(beside, ignore_errors=True)  # of a run that was killed
        beside.mkdir()
        tables = {"table": columns(answers)}
        if places_of(answers):
            tables["supports"] = place_columns(answers)
        for name, named in tables.items():
            write_csv(named, beside / f"{name}.csv")
            if not write_parquet(named, beside / f"{name}.parquet") and name == "table":
                notes.append("No Parquet files: they need pyarrow (pip install 'coldspot[study]').")
        charts = draw(answers, beside / "charts") if any(answers.frame.ok) else []
        if answers.others:
            notes.append(
                f"The database also holds {answers.others} rows of another case, study or program version; "
                "they are not mixed in."
            )
        section = beside / "charts" / "section.svg"
        section.parent.mkdir(exist_ok=True)
        try:
            draw_plan(answers.study.case, answers.study.base.conditions[0], section)
        except ValueError as error:
            notes.append(f"The section as given is not drawn: {error}")
        write_page(answers, charts, notes, beside / "study.html", section)
        files = sorted(entry for entry in beside.rglob("*") if entry.is_file())
        new = {file.relative_to(beside) for file in files}
        for file in files:
            place = folder / file.relative_to(beside)
            place.parent.mkdir(exist_ok=True)
            os.replace(file, place)
        for old in (folder / "charts").glob("*.[sp][vn]g"):  # of the study as it was before
            if old.relative_to(folder) not in new:
                old.unlink()
    except OSError as error:
        raise CaseError(f"cannot be written: {error.strerror or error}", file=str(folder)) from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return notes


def _tell(answers: Answers, notes: list[str], folder: Path, console: Console) -> None:
    from sim.study.band import in_words

    def say(text: str, style: str | None = None) -> None:
        console.print(text, highlight=False, markup=False, style=style)

    say("")
    if answers.search is not None:
        say(answers.search.in_words(), "bold")
        for n, step in enumerate(answers.search.path, start=1):
            say(f"  {n}. {step.point.text}: {'met' if step.met else 'not met'}; {step.words}")
    order = {"limit": 0, "change": 1, "none": 2, "why": 3, "note": 4}
    statements = sorted(answers.statements, key=lambda s: order[s.kind])
    for statement in statements[:MOST_SAID]:
        say(f"- {statement.text}")
    if len(statements) > MOST_SAID:
        say(f"- {len(statements) - MOST_SAID} more statements are on the page")
    for group in answers.groups:
        for text in group.statements:
            # With many groups the page has the spreads.
            if len(answers.groups) == 1 or "in nine of ten" not in text:
                say(f"- {text}")
    for i in answers.failed[:5]:
        say(
            f"- variant {int(answers.frame.number[i])} could not be computed: {answers.frame.reasons[i]}",
            "yellow",
        )
    if len(answers.failed) > 5:
        say(f"- {len(answers.failed) - 5} more could not be computed; see the page", "yellow")
    for text in [in_words(answers.frame, answers.bands, answers.study.base.fineness), *notes]:
        say(text)
    say("Evidence for an engineer, never a certificate.")
    say(f"{answers.computed} computed now; results in {folder / 'study.html'}, table.csv, study.sqlite")
