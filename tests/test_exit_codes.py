"""How the command ends when its streams, its folder, the machine or the program itself fail: never as a verdict."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sim.cli import app
from sim.exit_codes import FAULT, FAULT_FILE, MACHINE
from sim.judge import check as judging
from sim.report import output

ROOT = Path(__file__).resolve().parents[1]
CASE = """
title = "Small line (invented)"
pipe = { size = "DN 50", schedule = "40", material = "carbon steel" }
insulation = { layer = [{ conductivity = "0.04 W/m/K", thickness = "30 mm" }] }
tracer = [{ name = "T1", clock = 5, shape = "flat", width = "12 mm", height = "5 mm", output = "15 W/m" }]
condition = [{ name = "cold", ambient = "-10 degC", wind = "3 m/s" }]
"""
STUDY = 'case = "case.toml"\nmeshes = 1\nfineness = 1\n[[axis]]\nkey = "tracer.T1.clock"\nvalues = [3, 6]\n'
LISTS = {name: name for name in ("schema", "keys", "catalogue", "--help", "--version")}
RUNS = {
    "check": "check case.toml --fineness 1",
    "check --out": "check case.toml --fineness 1 --out out",
    "clock": "clock case.toml --fineness 1 --at 4,12 --out out",
    "study": "study study.toml --out out -p 1",
    "verify": "verify --out out",
    "opinion": "verify case.toml --out out",
}
FULL, GONE, FINE = ">/dev/full", "| true", ""
FAULTS = {
    "output closed": ">&-",
    "output full": FULL,
    "reader gone": GONE,
    "errors closed": "2>&-",
    "errors full": "2>/dev/full",
    "both closed": ">&- 2>&-",
    "both full": ">/dev/full 2>/dev/full",
    "all closed": "<&- >&- 2>&-",
}


@pytest.fixture
def place(tmp_path: Path) -> Path:
    (tmp_path / "case.toml").write_text(CASE)
    (tmp_path / "study.toml").write_text(STUDY)
    return tmp_path


def ended(place: Path, words: str, fault: str) -> tuple[int, str]:
    """Exit code and what came on standard error."""
    line = f'"{sys.executable}" -m sim.cli {words} {fault}; exit ${{PIPESTATUS[0]}}'
    environment = os.environ | {"PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(
        ["bash", "-c", line],
        cwd=place,
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    return done.returncode, done.stderr


def expect(place: Path, words: str, fault: str) -> None:
    code, err = ended(place, words, fault)
    assert code == (MACHINE if fault.startswith(FULL) else 0), err
    assert "Traceback" not in err
    assert "Exception ignored" not in err
    assert all(line.startswith("coldspot: ") for line in err.splitlines()), err
    if fault == FULL:
        assert err.endswith("coldspot: standard output: cannot be written: No space left on device\n")
    if "--out" in words:  # what was computed is there
        assert (place / "out").is_dir()
        assert len(os.listdir(place / "out")) > 2
    assert not list(place.glob(f"*{FAULT_FILE}"))
    assert not list(place.glob(".*"))


def test_a_list_into_a_full_device(place: Path) -> None:
    expect(place, LISTS["catalogue"], FULL)


@pytest.mark.slow
@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("words", [*LISTS.values(), *list(RUNS.values())[:4]], ids=[*LISTS, *list(RUNS)[:4]])
def test_every_command_with_every_fault_of_its_streams(place: Path, words: str, fault: str) -> None:
    expect(place, words, FAULTS[fault])


@pytest.mark.slow
@pytest.mark.parametrize("words", list(RUNS.values())[4:], ids=list(RUNS)[4:])
def test_the_long_ones_with_a_full_output(place: Path, words: str) -> None:
    if "case" in words:
        pytest.importorskip("skfem")
        pytest.importorskip("gmsh")
        pytest.importorskip("fipy")
    expect(place, words, FULL)


@pytest.mark.parametrize(
    "words", [RUNS["check --out"], RUNS["clock"], RUNS["verify"]], ids=["check", "clock", "verify"]
)
def test_a_link_that_leads_to_itself_is_refused_at_once(
    place: Path, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(place)
    (place / "out").symlink_to("out")
    done = CliRunner().invoke(app, words.split())
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr == "coldspot: --out: out: is a link that leads nowhere; accepted: a folder\n"


def test_a_folder_that_cannot_be_moved_is_refused_before_anything_is_computed(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A mount point cannot be given another name; nor can others where rights forbid it."""
    monkeypatch.chdir(place)
    (place / "out").mkdir()
    rename = Path.rename

    def busy(self: Path, to: Path) -> Path:
        if self.name == "out":
            raise OSError(16, "Device or resource busy")
        return rename(self, to)

    monkeypatch.setattr(Path, "rename", busy)
    monkeypatch.setattr(judging, "solve_section", None)  # computing would be a fault
    done = CliRunner().invoke(app, RUNS["check --out"].split())
    assert done.exit_code == 2
    assert (
        done.stderr
        == "coldspot: --out: out: cannot be written: Device or resource busy; accepted: a folder in it\n"
    )
    assert sorted(os.listdir(place)) == ["case.toml", "out", "study.toml"]


def test_a_fault_of_the_program_is_no_verdict_and_says_what_to_send(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise KeyError("missing")

    monkeypatch.chdir(place)
    monkeypatch.setattr(judging, "solve_section", broken)
    done = CliRunner().invoke(app, RUNS["check"].split())
    assert (done.exit_code, done.stdout) == (FAULT, "")
    assert done.stderr.startswith(
        "coldspot: internal fault, no verdict: KeyError ('missing') at test_exit_codes.py:"
    )
    assert done.stderr.count("\n") == 1
    assert "Traceback" in (place / FAULT_FILE).read_text()


@pytest.mark.parametrize(
    ("error", "code"), [(KeyError("x"), FAULT), (OSError(28, "No space left on device"), MACHINE)]
)
def test_what_was_finished_before_a_fault_is_kept_and_shown(
    place: Path, monkeypatch: pytest.MonkeyPatch, error: Exception, code: int
) -> None:
    def broken(*_: object) -> None:
        raise error

    monkeypatch.chdir(place)
    monkeypatch.setattr(output, "write_supports", broken)
    done = CliRunner().invoke(app, RUNS["check --out"].split())
    assert done.exit_code == code
    assert "Verdict" in done.stdout
    assert not (place / "out").exists()
    stored = place / "out-unfinished"
    assert str(stored) in done.stderr
    tree = json.loads((stored / "results.json").read_text())
    assert tree["unfinished"]
    assert tree["conditions"]
    assert {"field_cold.vtu", "three_meshes.csv", "resolved.toml"} <= set(tree["files"])
    assert sorted(tree["files"]) == sorted(os.listdir(stored))
