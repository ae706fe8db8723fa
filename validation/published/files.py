"""The files of a run of the checks: the page with its pictures, every row as JSON and CSV."""

import os
import platform
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy
import scipy

from sim.report.method import CAUTIONS
from sim.report.results import as_json, finite
from sim.study.cells import csv_text
from sim.version import __version__
from validation.published.page import page
from validation.published.pictures import draw
from validation.published.rows import Row
from validation.published.run import Group, Outcome
from validation.published.sources import MEMORY, PRACTICE, bibliography, keys, spoken

PAGE, RESULTS, TABLE, PICTURES = "checks.md", "checks.json", "checks.csv", "pictures"


def about(command: str) -> dict[str, str]:
    """What the run was made with: command, version, time, interpreter, libraries, cores; nothing of whose machine."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return {
        "command": command,
        "coldspot": __version__,
        "date": f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC",
        "Python": platform.python_version(),
        "NumPy, SciPy": f"{numpy.__version__}, {scipy.__version__}",
        "machine": f"{platform.system()} on {platform.machine()}, {cores} core{'' if cores == 1 else 's'}",
    }


def write_folder(outcome: Outcome, command: str, folder: Path) -> None:
    """Page, pictures, JSON and CSV into an empty folder. Raises OSError if one cannot be written."""
    made_with = about(command)
    _page_into(outcome, made_with, folder / PAGE, folder / PICTURES, PICTURES)
    (folder / TABLE).write_text(as_csv(outcome), encoding="utf-8", newline="\n")
    tree = results(outcome, made_with)
    tree["files"] = sorted([*(entry.name for entry in folder.iterdir()), RESULTS])
    (folder / RESULTS).write_text(as_json(tree), encoding="utf-8", newline="\n")


def write_page(outcome: Outcome, command: str, path: Path) -> None:
    """The page at `path` and its pictures in the folder `pictures` beside it.

    Everything is written aside first and then renamed into place, the page last: stopped at any moment, the files that
    were there are whole. Raises OSError.
    """
    with tempfile.TemporaryDirectory(prefix=f".{path.stem[:40]}.", dir=path.parent) as aside:
        made, drawn = Path(aside) / path.name, Path(aside) / PICTURES
        _page_into(outcome, about(command), made, drawn, PICTURES)
        umask = os.umask(0)
        os.umask(umask)
        (path.parent / PICTURES).mkdir(exist_ok=True)
        for picture in sorted(drawn.iterdir()):
            os.replace(picture, path.parent / PICTURES / picture.name)
        os.replace(made, path)


def _page_into(outcome: Outcome, made_with: dict[str, str], path: Path, pictures: Path, link: str) -> None:
    pictures.mkdir()
    drawn = [(f"{link}/{name}", caption) for name, caption in draw(outcome, pictures)]
    path.write_text(page(outcome, made_with, drawn), encoding="utf-8", newline="\n")


def mark(row: Row) -> str:
    """The exact mark a row's source carries: `common practice, no source`, `from memory`, or nothing."""
    return next((words for words in (PRACTICE, MEMORY) if words in row.source), "")


def results(outcome: Outcome, made_with: dict[str, str]) -> dict[str, Any]:
    """The run as plain nested dicts; a number that is none is null."""
    cited = {key for row in outcome.rows for key in keys(row.source)}
    return {
        "program": "coldspot",
        "made": made_with,
        "set": "full" if outcome.full else "quick",
        "exit_code": outcome.exit_code,
        "seconds": outcome.seconds,
        "cautions": list(CAUTIONS),
        "checks": [
            {
                "name": group.name,
                "title": group.title,
                "verdict": group.verdict,
                "seconds": group.seconds,
                "stopped": group.crash or None,
                "not_run": group.missing or None,
                "rows": [_row(row) for row in group.rows],
            }
            for group in outcome.groups
        ],
        "sources": {key: entry.text for key, entry in bibliography().items() if key in cited},
    }


def _row(row: Row) -> dict[str, Any]:
    return {
        "check": row.check,
        "source": spoken(row.source),
        "keys": keys(row.source),
        "mark": mark(row) or None,
        "quantity": row.quantity,
        "unit": row.unit,
        "published": finite(row.published),
        "computed": finite(row.computed),
        "difference": finite(row.difference),
        "band": finite(row.band),
        "tolerance": finite(row.tolerance),
        "reason": row.reason,
        "passed": row.passed,
    }


COLUMNS = (
    "check",
    "source",
    "mark",
    "quantity",
    "unit",
    "published",
    "computed",
    "difference",
    "band",
    "tolerance",
    "reason",
    "passed",
)


def as_csv(outcome: Outcome) -> str:
    """Every row, with the name and the seconds of its check; a check without rows has one that says why."""
    lines = [["group", *COLUMNS, "group_seconds"]]
    for group in outcome.groups:
        for row in group.rows:
            cells = _row(row) | {"passed": "pass" if row.passed else "FAIL"}
            lines.append([group.name, *(_cell(cells[name]) for name in COLUMNS), f"{group.seconds:.3g}"])
        if not group.rows:
            lines.append(_without_rows(group))
    return csv_text(lines)


def _without_rows(group: Group) -> list[str]:
    cells = {"check": group.title, "reason": group.crash or group.missing, "passed": group.verdict}
    return [group.name, *(cells.get(name, "") for name in COLUMNS), f"{group.seconds:.3g}"]


def _cell(value: Any) -> str:
    return "" if value is None else f"{value:.10g}" if isinstance(value, float) else str(value)
