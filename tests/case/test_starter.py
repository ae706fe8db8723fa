"""The starter case: it is written, read, and right as it stands, with its further keys as well."""

import re
import tomllib
from pathlib import Path

from typer.testing import CliRunner

from sim.case import load_case, parse_case
from sim.case.notes import remarks
from sim.case.starter import starter
from sim.cli import app
from sim.judge.check import check

runner = CliRunner()


def test_it_is_written_once_and_passes(tmp_path: Path) -> None:
    path = tmp_path / "line.toml"
    assert runner.invoke(app, ["new", str(path)]).exit_code == 0
    case = load_case(path)
    assert not any(remarks(case).values())
    assert "invented" in path.read_text(encoding="utf-8").split("title")[0]
    again = runner.invoke(app, ["new", str(path)])
    assert again.exit_code == 2
    assert "is there already" in again.stderr
    assert len(again.stderr.splitlines()) == 1
    assert runner.invoke(app, ["new", str(tmp_path / "no" / "line.toml")]).exit_code == 2
    assert check(case, fineness=1.2).verdict == "pass"


def test_its_further_keys_are_keys() -> None:
    full = re.sub(r"^#: ?", "", starter(), flags=re.MULTILINE)
    assert full.count("\n") == starter().count("\n")
    case = parse_case(tomllib.loads(full))
    assert case.foil is not None
    assert case.supports
    assert case.contents.fill == 0.5
    assert not any(remarks(case).values())
