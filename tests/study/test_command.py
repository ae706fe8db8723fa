"""`coldspot study` from end to end: what it writes, how it goes on, its exit codes."""

import csv
import re
import subprocess
import sys
from functools import partial

import pytest
from study_line import HEAD
from typer.testing import CliRunner

from sim.cli import app
from sim.study import pool

STUDY = 'keep = ["contents.min"]\n[[axis]]\nkey = "tracer.T1.clock"\nname = "clock"\nvalues = [2, 6]\n'


def command(*arguments: object) -> subprocess.CompletedProcess:
    """The command in a process of its own."""
    program = "from sim.cli import main; main()"
    return subprocess.run(
        [sys.executable, "-c", program, "study", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=120,
    )


def here(*arguments: object):
    """The command in this process."""
    return CliRunner().invoke(app, ["study", *map(str, arguments)])


def test_everything_is_written_and_a_second_run_computes_nothing(write, tmp_path) -> None:
    out = tmp_path / "out"
    first = command(write(STUDY), "--out", out, "-p", 2)
    assert first.returncode == 0, first.stderr
    assert "3 computed now" in first.stdout
    assert "no change beyond the numerical band" in first.stdout
    page = (out / "study.html").read_text(encoding="utf-8")
    assert "never a certificate" in page
    assert not re.search(r'(?:src|href)="(?!data:)', page), "the page needs another file"
    with open(out / "table.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [(r["variant"], r["condition"], r["clock"]) for r in rows] == [
        ("0", "cold", "2.0"),
        ("0", "hot", "2.0"),
        ("1", "cold", "6.0"),
        ("1", "hot", "6.0"),
    ]
    assert all(float(r["contents.min band [K]"]) > 0 for r in rows)
    assert "Not moved, to three decimals" in page
    assert [file.name for file in (out / "charts").iterdir()] == [
        "section.svg"
    ]  # nothing moves: no flat chart
    second = here(write(STUDY), "--out", out, "-q", "-p", 1)
    assert "0 computed now" in second.stdout


def test_parquet_says_the_same_as_csv(write, tmp_path) -> None:
    pandas = pytest.importorskip("pandas")
    pytest.importorskip("pyarrow")
    out = tmp_path / "out"
    assert here(write(STUDY), "--out", out, "-p", 1, "-q").exit_code == 0
    table, plain = pandas.read_parquet(out / "table.parquet"), pandas.read_csv(out / "table.csv")
    assert list(table.columns) == list(plain.columns)
    assert table["contents.min [degC]"].tolist() == plain["contents.min [degC]"].tolist()
    import sqlite3

    with sqlite3.connect(out / "study.sqlite") as stored:
        long = pandas.read_sql(
            "select * from results where role = 'study' and result = 'contents.min'", stored
        )
    assert (long["value"] - 273.15).tolist() == table["contents.min [degC]"].tolist()


def test_failed_variants_give_exit_three_and_are_tried_again_only_when_asked(write, tmp_path) -> None:
    study = write(
        'keep = ["heat_out"]\n'
        '[[axis]]\nkey = "tracer.count"\nname = "tracers"\nclocks = [[6.0], [6.0, 6.05]]\n'
    )
    first = here(study, "--out", tmp_path / "out", "-p", 1)
    assert first.exit_code == 3
    assert "could not be computed: not a valid case" in first.stdout
    assert "0 computed now" in here(study, "--out", tmp_path / "out", "-p", 1).stdout
    assert "1 computed now" in here(study, "--out", tmp_path / "out", "-p", 1, "--retry-failed").stdout


@pytest.mark.parametrize(
    ("body", "options", "telling"),
    [
        ('[[axis]]\nkey = "tracer.T1.clok"\nvalues = [1]\n', (), "axis[1]"),
        (
            "".join(
                f'[[axis]]\nkey = "tracer.T1.{k}"\nas = "factor"\nfrom = 0.9\nto = 1.1\ncount = 1000\n'
                for k in ("width", "height")
            ),
            (),
            "1,000,000 variants",
        ),
        (STUDY, ("--cluster", "tcp://127.0.0.1:9"), "no scheduler answers"),
        (STUDY, ("--out", "study.toml/inside"), "cannot be written"),
    ],
)
def test_bad_input_is_one_message_and_exit_two(write, tmp_path, monkeypatch, body, options, telling) -> None:
    if "--cluster" in options:
        pytest.importorskip("distributed")
        monkeypatch.setattr("sim.study.pool.cluster", partial(pool.cluster, patience=0.5))
    study = write(body, head=HEAD)
    options = tuple(str(tmp_path / o) if "inside" in o else o for o in options)
    done = here(study, "--out", tmp_path / "out", *options)
    assert done.exit_code == 2
    assert telling in done.stderr
    assert done.stderr.count("\n") == 1
    assert "Traceback" not in done.stderr
