"""Follows the worked example as a reader would, and writes what the program answered into the page.

`python docs/example.py` refreshes the page; a test follows it and compares. Blocks of `diff` change line.toml, lines
behind a `-` standing in it exactly once; a `$` in a block of `console` is a command, with lines of its answer below.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parents[1]
PAGE = Path(__file__).parent / "worked-example.md"
CASE = "line.toml"
BLOCK = re.compile(r"^```(diff|console)\n(.*?)^```", re.M | re.S)


@dataclass(frozen=True)
class Step:
    """A command of the page: what the page says of it, what the program answered, how it ended."""

    command: str
    told: list[str]
    answered: list[str]
    code: int

    @property
    def told_code(self) -> int:
        """The exit code that the page names; 0 where it names none."""
        return next((int(line.split(": ")[1]) for line in self.told if line.startswith("exit code")), 0)


def changed(text: str, diff: str) -> str:
    """A file's text after a diff of runs of lines. Raises ValueError where one to be replaced is not there once."""
    for run in re.findall(r"((?:^-.*\n)+)((?:^\+.*\n)*)", diff, re.M):
        old, new = (re.sub(r"^[-+]", "", part, flags=re.M) for part in run)
        if text.count(old) != 1:
            raise ValueError(f"{CASE} has {text.count(old)} times, not once:\n{old}")
        text = text.replace(old, new)
    return text


def follow(page: str, folder: Path) -> Iterator[Step]:
    """Take every step of the page in an empty folder."""
    environment = os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "200", "NO_COLOR": "1"}
    for kind, body in BLOCK.findall(page):
        case = folder / CASE
        if kind == "diff":
            case.write_text(changed(case.read_text(encoding="utf-8"), body), encoding="utf-8")
            continue
        command, *output = body.splitlines()
        words = command.removeprefix("$ coldspot ").split()
        done = subprocess.run(
            [sys.executable, "-m", "sim.cli", *words],
            cwd=folder,
            env=environment,
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=False,
        )
        progress = re.compile(r"coldspot: [^:]*: (section|support)|coldspot: report")
        errors = [line for line in done.stderr.splitlines() if not progress.match(line)]
        yield Step(command, output, [*errors, *done.stdout.splitlines()], done.returncode)


def refreshed(page: str, steps: list[Step]) -> str:
    """The page with as many lines of each answer as it shows."""
    for step in steps:
        shown = [line for line in step.told if not line.startswith("exit code")]
        lines = step.answered[: len(shown)] + ([f"exit code: {step.code}"] if step.code else [])
        page = page.replace("\n".join([step.command, *step.told]), "\n".join([step.command, *lines]))
    return page


if __name__ == "__main__":
    with TemporaryDirectory() as empty:
        text = PAGE.read_text(encoding="utf-8")
        PAGE.write_text(refreshed(text, list(follow(text, Path(empty)))), encoding="utf-8")
