"""The folder of a line: bill, results, picture and page."""

from pathlib import Path

from sim.report.draw_line import draw_line
from sim.report.line import bill_csv, results
from sim.report.line_page import line_page
from sim.report.results import as_json
from sim.study.line_run import LineStudy


def write_line(study: LineStudy, folder: Path) -> list[str]:
    """Write bill, results, picture and page into the folder of the store. Raises OSError."""
    (folder / "bill.csv").write_text(bill_csv(study), encoding="utf-8", newline="\n")
    draw_line(study, folder / "line.png")
    tree = results(study)
    (folder / "report.html").write_text(line_page(study, folder / "line.png"), encoding="utf-8")
    tree["files"] = ["bill.csv", "line.png", "line.sqlite", "report.html", "results.json"]
    (folder / "results.json").write_text(as_json(tree), encoding="utf-8", newline="\n")
    return [str(name) for name in tree["files"]]
