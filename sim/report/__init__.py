"""What comes out: results.json, the report, pictures, field files, and the terminal's tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from sim.judge.check import Answer

__all__ = ["write_report"]


def write_report(answer: Answer, folder: str | Path) -> None:
    """Write an answer's output folder: results.json, report.html, pictures, fields, the resolved case.

    A folder of a former run is replaced as a whole; one that holds anything else is refused.
    Raises sim.report.folder.OutputError if it cannot be written; the old folder then stays as it was.
    """
    from pathlib import Path

    from sim.report.folder import written_folder
    from sim.report.output import write_all
    from sim.report.painter import Painter

    with written_folder(Path(folder)) as work, Painter() as painter:
        write_all(answer, work, painter)
