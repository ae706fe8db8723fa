"""`coldspot verify`: run the published checks, show the table and write it; or give a second opinion of a case."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from validation.published.run import Outcome


def verify(
    case: Path | None, condition: str | None, full: bool, out: Path | None, page: Path | None, quiet: bool
) -> int:
    """Do what `coldspot verify` was asked to (`sim/verify.py`); the exit code of the command."""
    import logging

    from sim.commands import plain_ends
    from sim.study.pool import pin_threads

    logging.getLogger("skfem").setLevel(logging.ERROR)
    pin_threads()  # before NumPy: threads that wait for each other cost more than these small systems
    if case is not None:
        with plain_ends(str(case)):
            if full or page is not None:
                raise ValueError(
                    "--full and --page belong to the published checks; accepted with a case: --out"
                )
            return _opinion(case, condition, out, quiet)
    with plain_ends("verify"):
        if condition is not None:
            raise ValueError("--condition: needs a case file")
        outcome = _checks(full, out, page, quiet)
    return outcome.exit_code


def _opinion(case: Path, condition: str | None, out: Path | None, quiet: bool) -> int:
    """Solve a case by all three, show it, and write what is wanted; the exit code. Raises as `second_opinion` does."""
    from contextlib import nullcontext

    from sim.commands import progress_line
    from sim.report.folder import written_folder
    from validation.opinion.compare import second_opinion
    from validation.opinion.over_time import with_episodes
    from validation.opinion.view import MANIFEST, show_opinion, write_opinion

    place = written_folder(out, manifest=MANIFEST) if out is not None else nullcontext()
    with place as work:
        with progress_line() as tell:
            opinion = second_opinion(case, condition, progress=tell)
            if condition is None:
                opinion = with_episodes(opinion, tell)
        if work is not None:
            write_opinion(opinion, work)
    if not quiet:
        show_opinion(opinion)
        if out is not None:
            print(f"Written: {out / 'opinion.html'}", flush=True)
    return opinion.exit_code


def _checks(full: bool, out: Path | None, page: Path | None, quiet: bool) -> Outcome:
    """Run the set, show it, and write what is wanted. Raises ValueError, OutputError or OSError where it cannot."""
    from contextlib import nullcontext

    from sim.commands import progress_line
    from sim.report.folder import written_folder
    from validation.published.run import run

    if page is not None:
        _writable(page)
    command = _command(full, out, page)
    place = written_folder(out, manifest="checks.json") if out is not None else nullcontext()
    with place as work:
        with progress_line() as tell:
            outcome = run(full, tell)
        _tell(outcome, quiet)
        if work is not None:
            from validation.published.files import write_folder

            write_folder(outcome, command, work)
    if page is not None:
        from validation.published.files import write_page

        write_page(outcome, command, page)
    written = [str(path) for path in (out and out / "checks.md", page) if path is not None]
    if written and not quiet:
        print(f"Written: {', '.join(written)}", flush=True)
    return outcome


def _command(full: bool, out: Path | None, page: Path | None) -> str:
    """The command as it was given, names of files without their folders where these are absolute."""
    words = ["coldspot", "verify", *(["--full"] if full else [])]
    for option, path in (("--out", out), ("--page", page)):
        if path is not None:
            words += [option, path.name if path.is_absolute() else str(path)]
    return shlex.join(words)


def _writable(page: Path) -> None:
    """Raises ValueError where no page can be written, before minutes of checks."""
    import os

    if page.is_dir() or page.suffix != ".md":
        raise ValueError(f"--page: {page}: accepted: the name of a file that ends in .md")
    if not page.parent.is_dir() or not os.access(page.parent, os.W_OK):
        raise ValueError(f"--page: {page}: cannot be written; accepted: a file in a folder that exists")


def _tell(outcome: Outcome, quiet: bool) -> None:
    if not quiet:
        from validation.published.terminal import show

        show(outcome)
        return
    from validation.published.words import trouble

    for group in outcome.groups:
        if group.verdict != "pass":
            text = (
                trouble(group) or f"{len(group.failed)} of {len(group.rows)} numbers outside their tolerance"
            )
            print(f"coldspot: {group.verdict}: {group.name}: {text}", file=sys.stderr)
