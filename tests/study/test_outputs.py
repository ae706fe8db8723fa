"""What a study writes beside its database: all of one run, or the former ones where a run is stopped."""

import csv
import fcntl
import os
import warnings
from pathlib import Path

import pytest
from study_line import HEAD, LINE
from typer.testing import CliRunner

from sim import study_command as command
from sim.case.text import steers
from sim.cli import app
from sim.report import study_page as page

STUDY = """
conditions = ["cold"]
keep = ["contents.min"]
[[axis]]
key = "tracer.T1.clock"
name = "{}"
values = [2, 6]
"""


def here(*arguments: object):
    return CliRunner().invoke(app, ["study", *map(str, arguments)])


def contents(folder: Path) -> dict[str, bytes]:
    expected = ("table.csv", "study.html")
    return {name: (folder / name).read_bytes() for name in expected}


@pytest.mark.slow
def test_a_run_stopped_while_it_writes_leaves_the_former_outputs(write, tmp_path, monkeypatch) -> None:
    out = tmp_path / "out"
    assert here(write(STUDY.format("one")), "--out", out, "-p", 1).exit_code == 1  # "hot" is left out
    before, names = contents(out), sorted(os.listdir(out))

    def stopped(*_: object) -> None:
        raise stop

    monkeypatch.setattr(page, "write_page", stopped)
    for stop in (KeyboardInterrupt(), OSError(28, "No space left on device")):
        done = here(write(STUDY.format("two")), "--out", out, "-p", 1)
        assert done.exit_code == (130 if isinstance(stop, KeyboardInterrupt) else 2)
        assert contents(out) == before
        assert sorted(os.listdir(out)) == names


def test_only_one_run_writes(write, tmp_path, monkeypatch) -> None:
    """The outputs belong to the run that holds the lock, not only the rows."""
    out, started = tmp_path / "out", []
    whole = command.write_outputs

    def watched(*arguments):
        with open(out / "study.lock", "a") as lock, pytest.raises(BlockingIOError):
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        started.append(True)
        return whole(*arguments)

    monkeypatch.setattr(command, "write_outputs", watched)
    assert here(write(STUDY.format("one")), "--out", out, "-p", 1).exit_code == 1  # "hot" is left out
    assert started


@pytest.mark.slow
def test_names_of_all_kinds_in_tables_charts_and_page(tmp_path) -> None:
    line = LINE.replace('name = "cold"', 'name = "=شتاء $x^$"')
    (tmp_path / "line.toml").write_text(line, encoding="utf-8")
    axes = "".join(
        f'[[axis]]\nkey = "{key}"\nname = "{name}"\nvalues = {values}\n'
        for key, name, values in (
            ("tracer.T1.clock", "冷 [red]&amp;", "[2, 6]"),
            ("tracer.T1.body_conductivity", "热 @a", '["0.2 W/m/K", "0.4 W/m/K"]'),
        )
    )
    body = HEAD.replace("small study", "<b>&amp; :smile: {{7*7}}") + 'keep = ["contents.min"]\n' + axes
    (tmp_path / "study.toml").write_text(body, encoding="utf-8")
    with warnings.catch_warnings():
        warnings.filterwarnings("error", message="Glyph")
        done = here(tmp_path / "study.toml", "--out", tmp_path / "out", "-p", 1)
    assert done.exit_code == 0, done.output
    assert not steers(done.stdout, allowed="\n")
    assert "<b>&amp; :smile: {{7*7}} (invented)" in done.stdout
    text = (tmp_path / "out" / "study.html").read_text(encoding="utf-8")
    assert "<b>&amp;" not in text
    assert "&lt;b&gt;&amp;amp; :smile: {{7*7}}" in text
    with open(tmp_path / "out" / "table.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["condition"] for row in rows} == {"'=شتاء $x^$", "hot"}
    charts = [name for name in os.listdir(tmp_path / "out" / "charts") if name.endswith(".svg")]
    assert len(charts) == 2  # the section, and the one axis that moves anything
