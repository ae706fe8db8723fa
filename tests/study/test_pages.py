"""The page and the charts: tables of what holds, lines in one panel, nothing of what lies inside its band."""

import re
from html import unescape

import numpy as np
import pytest
from study_line import LINE

from sim import study_command as command
from sim.case import assumptions
from sim.report import draw_study as charts
from sim.report.study_page import limits_table, pairs_table, render
from sim.study.execute import execute
from sim.study.pool import serial
from sim.study.store import Store
from sim.study.variants import load_study

TWO = """
keep = ["contents.min"]
[[axis]]
key = "tracer.T1.output"
name = "output"
values = ["2 W/m", "40 W/m"]
[[axis]]
key = "condition.*.ambient"
name = "ambient"
values = ["-20 degC", "-10 degC", "0 degC"]
"""


@pytest.fixture
def ask(write, tmp_path):
    def answered(body: str, **given):
        with Store(tmp_path / "s.sqlite", "one") as store:
            return execute(load_study(write(body, **given)), store, serial)

    return answered


def test_the_pairs_that_hold_are_a_table(ask) -> None:
    answers = ask(TWO)
    table = pairs_table(answers)
    assert table.head == ["ambient -20 degC", "ambient -10 degC", "ambient 0 degC"]
    assert [name for name, _ in table.rows] == ["output 2 W/m", "output 40 W/m"]
    least = answers.frame.least_margin()
    for name, cells in table.rows:
        for head, cell in zip(table.head, cells, strict=True):
            i = next(
                i
                for i in range(len(answers.frame))
                if name.endswith(answers.frame.texts["output"][i])
                and head.endswith(answers.frame.texts["ambient"][i])
            )
            assert cell.verdict == ("pass" if least[i] > 0 else "fail")
            assert cell.text.startswith("holds, +" if least[i] > 0 else "missed, -")
    limits = limits_table(answers)
    assert [name for name, _ in limits.rows] == ["lowest contents", "highest sheath"]
    assert all(re.match(r"\d of 6 hold; least margin ", c.text) for _, cells in limits.rows for c in cells)


def test_a_result_inside_its_band_has_no_histogram_and_no_driver(ask) -> None:
    """The density of the insulation does nothing in a steady state: whatever it seems to do is inside the band."""
    body = """uncertain = [
{ name = "density", key = "insulation.layer.1.density", distribution = "uniform", low = "50 kg/m3", \
high = "150 kg/m3" },
{ name = "ambient", key = "condition.cold.ambient", distribution = "normal", mean = "-20 degC", spread = "2 K" }]
sampling = { samples = 12 }
"""
    (group,) = ask(body).groups
    assert {s.condition for s in group.spreads} == {"cold"}
    assert {d.condition for d in group.drivers} == {"cold"}
    assert any("inside the numerical band in all samples" in t and "in hot" in t for t in group.statements)


def test_the_page_shows_section_inputs_and_assumptions_and_old_charts_go(ask, tmp_path) -> None:
    answers = ask(TWO.replace('keep = ["contents.min"]', 'keep = ["contents.min", "heat_out"]'))
    out = tmp_path / "out"
    out.mkdir()
    command.write_outputs(answers, out)
    page = unescape((out / "study.html").read_text(encoding="utf-8"))
    assert 'alt="section"' in page
    assert "<h2>Inputs and assumptions</h2>" in page
    assert "outer_diameter" in page
    assert all(key in page for key, _, _ in assumptions(answers.study.case))
    assert page.count("The limit on the") == 0
    assert (out / "charts" / "output-heat-out.svg").is_file()
    answers = ask(TWO)
    (out / "charts" / "mine.txt").write_text("kept")
    command.write_outputs(answers, out)
    names = {file.name for file in (out / "charts").iterdir()}
    assert "output-heat-out.svg" not in names
    assert {"output-contents-min.svg", "output-contents-min.png", "section.svg", "mine.txt"} <= names


def test_a_bracket_has_a_hollow_mark(ask) -> None:
    answers = ask(TWO)
    answers.frame.bracketed["cold"] = np.arange(len(answers.frame)) == 1
    figure = charts._along(answers, answers.study.lines[1], "contents.min")
    (legend,) = figure.legends
    assert "hollow: a bracket, the flow was not resolved" in [t.get_text() for t in legend.get_texts()]


def test_a_band_that_is_not_known_is_a_cross_and_no_endless_bar(ask) -> None:
    answers = ask(TWO)
    own = answers.bands.own.setdefault("cold", {})
    own["contents.min"] = np.where(np.arange(len(answers.frame)) == 1, np.inf, 0.1)
    figure = charts._along(answers, answers.study.lines[1], "contents.min")
    (legend,) = figure.legends
    assert "cross: a band that is not known" in [text.get_text() for text in legend.get_texts()]
    figure.canvas.draw()
    low, high = figure.axes[0].get_ylim()
    assert high - low < 1000  # the contents themselves lie within 130 K


def test_the_page_says_what_its_margins_are_less(ask) -> None:
    line = LINE.replace("[limits]\n", '[limits]\nmargin = "1.5 K"\n')
    page = unescape(render(ask(TWO, line=line), [], []))
    assert "Every margin shown is less the margin asked for: 1.5 K." in page
    assert "°C" not in page
    assert "less the margin" not in render(ask(TWO), [], [])
