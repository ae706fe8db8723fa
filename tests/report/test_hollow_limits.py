"""A limit that a fitting's hollow leaves open: one run, read in each report, and the line that it stands on."""

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import support_lines
import tomli_w
from fitting_lines import across, along
from rich.console import Console

from sim.case import parse_case
from sim.desk.jobs import _around, _limit_row
from sim.judge.check import Answer, check
from sim.notebook import Answer as NotebookAnswer
from sim.report.output import three_meshes
from sim.report.results import results
from sim.report.support_page import support_section
from sim.report.terminal import screen
from sim.report.worst import all_checks

REASON = "contents in hollows may be as cold as their metal"


def raw(limit: str = "35 degC") -> dict[str, Any]:
    """Water stands in a bare stem whose metal is near 29 degC while the bore is at 41 degC."""
    line = support_lines.line(contents={"state": "still", "fluid": "water"}, limits={"contents_min": limit})
    del line["support"]
    stem = across(60, 250, hollow={"diameter": "40 mm", "to": "200 mm", "filled": "contents"})
    return line | {"fitting": [{"name": "V1", "body": [along(180, 60, cover="40 mm"), stem]}]}


@pytest.fixture(scope="module")
def answer() -> Answer:
    return check(parse_case(raw()), fineness=1.0)


def told_by_terminal(answer: Answer) -> tuple[str, str]:
    text = " ".join(screen(answer, Console(width=120), verbose=True).split())
    row = text[text.index("a, fitting V1") :]
    return row[row.index("K ") :], text[text.index("at fitting V1, not evaluated") :]


def told_by_page(answer: Answer) -> tuple[str, str]:
    (row,) = support_section(answer.supports[0])["limits"]
    return row[-2], row[-1]


def told_by_file(answer: Answer) -> tuple[str, str]:
    (row,) = results(answer)["fittings"]["V1"]["conditions"]["a"]["limits"]
    return row["verdict"], row["note"]


def told_by_desk(answer: Answer) -> tuple[str, str]:
    rows = [_limit_row(one, False) for one in all_checks(answer)]
    row = next(row for row in rows if row["place"].startswith("fitting"))
    (shown,) = _around(answer.case, answer.supports[0])["limits"]
    assert (shown[-2], shown[-1]) == (row["verdict"], row["note"])
    return row["verdict"], row["note"]


def told_by_notebook(answer: Answer) -> tuple[str, str]:
    pytest.importorskip("pandas")
    own = NotebookAnswer(**{name: getattr(answer, name) for name in answer.__dataclass_fields__})
    table = own.limits().set_index("place")
    return table.loc["fitting V1", "verdict"], table.loc["fitting V1", "note"]


REPORTS = (told_by_terminal, told_by_page, told_by_file, told_by_desk, told_by_notebook)


@pytest.mark.slow
@pytest.mark.parametrize("report", REPORTS)
def test_what_is_not_evaluated_at_a_fitting_is_said_with_its_reason_in_each_report(
    answer: Answer, report: Callable[[Answer], tuple[str, str]]
) -> None:
    (held,) = answer.supports[0].limits
    assert held.verdict == "not evaluated"
    assert held.value > held.allowed > 0.0
    verdict, note = report(answer)
    assert "not evaluated" in verdict
    assert REASON in note
    assert answer.exit_code == 1
    warm = replace(held, verdict="pass", note="")
    passing = replace(answer, supports=(replace(answer.supports[0], limits=(warm,)),))
    if report is not told_by_terminal:  # which then has no such sentence at all
        assert report(passing) == ("pass", "")
    else:
        assert "not evaluated" not in screen(passing, Console(width=120), verbose=True)


@pytest.mark.slow
def test_the_table_of_meshes_has_what_the_limit_is_held_against(answer: Answer) -> None:
    (held,) = answer.supports[0].limits
    rows = csv.DictReader(io.StringIO(three_meshes(answer)))
    fine = {row["quantity"]: float(row["fine"]) for row in rows if row["fine"]}
    assert fine["fittings.V1.contents_min"] == pytest.approx(held.value - 273.15, abs=1e-6)
    assert fine["fittings.V1.bodies.2.min"] + 273.15 < held.allowed


@pytest.mark.slow
@pytest.mark.parametrize(("limit", "verdict"), [("30 degC", "not evaluated"), ("10 degC", "pass")])
def test_a_line_says_of_its_fitting_what_the_check_says(tmp_path: Path, limit: str, verdict: str) -> None:
    from sim.report.line import lines
    from sim.report.line import results as line_results
    from sim.study.line_file import load_line
    from sim.study.line_run import run_line

    (tmp_path / "case.toml").write_text(tomli_w.dumps(raw(limit)))
    stretch = {"name": "one", "length": "60 m", "station": [{"fitting": "V1", "at": ["30 m"]}]}
    (tmp_path / "line.toml").write_text(tomli_w.dumps({"case": "case.toml", "stretch": [stretch]}))
    study = run_line(load_line(tmp_path / "line.toml"), tmp_path, fineness=1.0)
    (one,) = study.answers
    (held,) = (c for place in one.places if place.station >= 0 for c in place.checks)
    assert held.verdict == verdict
    assert REASON in held.note
    assert one.verdict == verdict
    text = "\n".join(lines(study))
    for report in (text, str(line_results(study))):
        assert ("not evaluated" in report) == (verdict == "not evaluated")
    assert (REASON in text) == (verdict == "not evaluated")
