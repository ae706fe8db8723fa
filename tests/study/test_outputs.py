"""What a study writes beside its database: all of one run, or the former ones where a run is stopped."""

import csv
import fcntl
import os
import signal
import subprocess
import sys
import time
import warnings
from pathlib import Path

import pytest
from study_line import HEAD, LINE
from typer.testing import CliRunner

from sim import study_command as command
from sim.case.text import steers
from sim.cli import app
from sim.report import study_page as page

ROOT = Path(__file__).parents[2]
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
    assert here(write(STUDY.format("one")), "--out", out, "-p", 1).exit_code == 0
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
    assert here(write(STUDY.format("one")), "--out", out, "-p", 1).exit_code == 0
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


@pytest.mark.slow
def test_two_commands_at_once(write, tmp_path) -> None:
    """One is refused with a message, or waits its turn because the other has ended; the outputs are of one run."""
    file, out = write(STUDY.format("one")), tmp_path / "out"
    words = [sys.executable, "-m", "sim.cli", "study", str(file), "--out", str(out), "-p", "1"]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    runs = [
        subprocess.Popen(words, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    ends = [(run.communicate(timeout=120)[1], run.returncode) for run in runs]
    assert ("", 0) in ends
    for text, code in ends:
        assert code == 0 or (code == 2 and "another run is at work on this study" in text)
        assert "Traceback" not in text
    files = {"charts", "study.html", "study.lock", "study.sqlite", "table.csv", "table.parquet"}
    assert set(os.listdir(out)) == files


@pytest.mark.slow
@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM])
def test_a_study_stopped_at_six_moments(write, tmp_path, sign: int) -> None:
    file, out = write(STUDY.format("one")), tmp_path / "out"
    words = [sys.executable, "-m", "sim.cli", "study", str(file), "--out", str(out), "-p", "1"]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    begin = time.monotonic()
    subprocess.run(words, env=environment, check=True, capture_output=True)
    whole, before = time.monotonic() - begin, contents(out)
    for n in range(6):
        run = subprocess.Popen(
            words, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        time.sleep(whole * (0.3 + 0.1 * n))
        run.send_signal(sign)
        _, text = run.communicate(timeout=180)
        assert "Traceback" not in text
        assert contents(out)["table.csv"] == before["table.csv"]
        assert ".outputs.part" not in os.listdir(out)
