"""The command, end to end."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sim.cli import app
from sim.judge import check as judging
from sim.judge import episode_answers
from sim.solve.steady import NotConverged

CASE = """
title = "Small line (invented)"
pipe = { size = "DN 50", schedule = "40", material = "carbon steel" }
contents = { state = "still" }
barrier = { material = "aluminium", thickness = "0.6 mm" }
tracer = [{ name = "T1", clock = 5, shape = "flat", width = "12 mm", height = "5 mm", output = "15 W/m" }]
insulation = { layer = [{ conductivity = "0.04 W/m/K", thickness = "30 mm" }] }
condition = [{ name = "cold", ambient = "-10 degC", wind = "3 m/s" }]
limits = { contents_min = "5 degC" }
"""

runner = CliRunner()


def run(*words: str) -> tuple[int, str, str]:
    result = runner.invoke(app, list(words))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.stdout, result.stderr


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = tmp_path / "case.toml"
    path.write_text(CASE)
    return path


def test_pass_is_0_and_all_files_are_there(case: Path, tmp_path: Path) -> None:
    code, out, err = run("check", str(case), "--out", str(tmp_path / "out"), "--fineness", "1")
    assert code == 0
    assert err.splitlines() == ["coldspot: cold: section", "coldspot: report"]  # a line a stage where piped
    assert "Verdict: pass" in out
    assert "electric shock" in out
    assert "not a certificate" in " ".join(out.split())
    assert not any(ord(c) < 32 and c != "\n" for c in out)
    tree = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    assert sorted(tree["files"]) == sorted(os.listdir(tmp_path / "out"))
    named = {
        "report.html",
        "resolved.toml",
        "three_meshes.csv",
        "mesh.png",
        "section_cold.png",
        "field_cold.vtu",
    }
    assert named <= set(tree["files"])
    again = run("check", str(tmp_path / "out" / "resolved.toml"), "--fineness", "1", "--quiet")
    assert again == (0, "", "")


def test_not_converged_is_3(case: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object) -> None:
        raise NotConverged("the heat balance did not settle: 3 W/m left")

    monkeypatch.setattr(judging, "solve_section", never)
    code, out, _ = run("check", str(case))
    assert code == 3
    assert "did not settle: 3 W/m left" in out


@pytest.mark.slow
def test_an_episode_that_does_not_converge_is_3(
    case: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object, **__: object) -> None:
        raise NotConverged("the heat balance did not settle at 31 s")

    monkeypatch.setattr(episode_answers, "solve_episode", never)
    episode = '[[episode]]\nname = "night"\ncondition = "cold"\nlasts = "1 h"\n'
    case.write_text(f"{case.read_text()}\n{episode}")
    code, out, _ = run("check", str(case), "--fineness", "1", "--out", str(tmp_path / "out"))
    assert code == 3
    assert "did not settle at 31 s" in out
    tree = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    assert "did not settle at 31 s" in json.dumps(tree)


def test_unreadable_and_unwritable_are_2(case: Path, tmp_path: Path) -> None:
    code, _, err = run("check", str(tmp_path / "absent.toml"))
    assert code == 2
    assert "absent.toml" in err
    code, _, err = run("check", str(case), "--out", str(case / "below"))
    assert code == 2
    assert "--out" in err
    assert "cannot be written" in err
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "notes.txt").write_text("x")
    code, _, err = run("check", str(case), "--out", str(tmp_path / "mine"))
    assert code == 2
    assert "notes.txt" in err


def test_wrong_use_is_2() -> None:
    assert run("check")[0] == 2
    assert run("chekc")[0] == 2
    assert run("catalogue", "pumps")[0] == 2


def test_lists() -> None:
    schema = json.loads(run("schema")[1])
    assert "pipe" in schema["properties"]
    assert "insulation.layer[].thickness" in run("keys")[1]
    assert "ASME B36.10M" in run("catalogue", "pipes")[1]
    assert "ASTM C552" in run("catalogue", "insulations")[1]


def test_help_imports_nothing_heavy() -> None:
    script = "import sys, sim.cli; print([m for m in ('numpy', 'scipy', 'pydantic', 'matplotlib') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_interrupt_is_130_and_leaves_nothing(case: Path, tmp_path: Path) -> None:
    words = ["check", str(case), "--out", str(tmp_path / "out"), "--fineness", "9"]
    command = [sys.executable, "-m", "sim.cli", *words]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    deadline = time.monotonic() + 180
    while len(os.listdir(tmp_path)) < 2 and time.monotonic() < deadline and process.poll() is None:
        time.sleep(0.02)
    time.sleep(0.1)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=180)
    assert process.returncode == 130
    assert out == ""
    assert err.splitlines()[-1] == "coldspot: interrupted, nothing was written"
    assert os.listdir(tmp_path) == ["case.toml"]


def test_a_reader_that_has_gone_is_no_error(case: Path) -> None:
    command = f'"{sys.executable}" -m sim.cli check "{case}" --fineness 1 | true; exit ${{PIPESTATUS[0]}}'
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert done.stderr == "coldspot: cold: section\n"


def test_set_changes_a_key_for_one_run(case: Path) -> None:
    before = case.read_text()
    code, out, _ = run("check", str(case), "--fineness", "1", "--set", "condition.cold.ambient=-60 degC")
    assert (code, "Verdict: fail" in out) == (1, True)
    assert case.read_text() == before
    code, _, error = run("check", str(case), "--set", "tracer.T1.clok=4")
    assert code == 2
    assert 'tracer[1] "T1".clok: unknown key; did you mean "clock"?' in error
    code, _, error = run("check", str(case), "--set", "tracer.T1.clock")
    assert (code, "such as tracer.T1.clock=4" in error) == (2, True)
