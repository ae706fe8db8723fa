"""Runs that are stopped at any moment, and two at once: the folder is a whole one, and nothing else is left."""

import json
import os
import random
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest

from sim.report.folder import OutputError, written_folder

ROOT = Path(__file__).resolve().parents[1]
# Rewrites a folder again and again; the number of the writing stands in each of its files.
WRITER = """
import itertools, json, signal, sys
from pathlib import Path
from sim.cli import _stop
from sim.report.folder import written_folder

signal.signal(signal.SIGTERM, _stop)
out, first = Path(sys.argv[1]), int(sys.argv[2])
print("ready", flush=True)
try:
    for n in itertools.count(first, 2):
        with written_folder(out) as work:
            for name in ("a", "b", "c"):
                (work / name).write_text(str(n))
            (work / "results.json").write_text(
                json.dumps({"program": "coldspot", "files": ["a", "b", "c", "results.json"], "n": n})
            )
except KeyboardInterrupt:
    sys.exit(130)
"""
CASE = """
title = "Small line (invented)"
pipe = { size = "DN 50", schedule = "40", material = "carbon steel" }
insulation = { layer = [{ conductivity = "0.04 W/m/K", thickness = "30 mm" }] }
tracer = [{ name = "T1", clock = 5, shape = "flat", width = "12 mm", height = "5 mm", output = "15 W/m" }]
condition = [{ name = "at AMBIENT", ambient = "AMBIENT degC", wind = "3 m/s" }]
"""


def environment() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"}


def writer(out: Path, first: int = 0) -> subprocess.Popen[str]:
    started = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(out), str(first)],
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert started.stdout is not None
    assert started.stdout.readline() == "ready\n"
    return started


def number(out: Path) -> int:
    """The writing that a folder is of; fails where its files are not all of one."""
    by_name = {int((out / name).read_text()) for name in ("a", "b", "c")}
    by_name.add(json.loads((out / "results.json").read_text())["n"])
    assert len(by_name) == 1, by_name
    assert sorted(os.listdir(out)) == ["a", "b", "c", "results.json"]
    return by_name.pop()


def tidied(out: Path) -> list[str]:
    """What a run says of the leavings of others, before it fails itself."""

    gathered: list[str] = []
    with suppress(ZeroDivisionError), written_folder(out, say=gathered.append):
        raise ZeroDivisionError
    return gathered


@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_a_folder_that_is_rewritten_is_whole_whenever_it_is_stopped(tmp_path: Path, sign: int) -> None:
    dice, out = random.Random(int(sign)), tmp_path / "out"
    for _ in range(1 if sign == signal.SIGINT else 2):
        run = writer(out)
        while not out.exists():
            time.sleep(0.001)
        time.sleep(dice.uniform(0.0, 0.05))
        run.send_signal(sign)
        _, err = run.communicate(timeout=180)
        assert "Traceback" not in err, err
        if (
            sign == signal.SIGKILL
        ):  # between two changes of names the old folder is aside; the next run puts it back
            tidied(out)
        else:
            assert run.returncode == (130 if sign == signal.SIGINT else 143)
        assert number(out) >= 0
        assert os.listdir(tmp_path) == ["out"]


def test_a_second_run_into_a_folder_that_is_being_written_is_refused(tmp_path: Path) -> None:
    out = tmp_path / "out"
    with written_folder(out) as work:
        with pytest.raises(OutputError, match="another run is writing it; accepted: another folder"):
            tidied(out)
        run = writer(out)
        assert "another run is writing it" in run.communicate(timeout=180)[1]
        for name in ("a", "b", "c"):
            (work / name).write_text("7")
        (work / "results.json").write_text('{"program": "coldspot", "n": 7}')
    assert number(out) == 7
    assert os.listdir(tmp_path) == ["out"]


def test_a_folder_moved_aside_by_a_killed_run_is_put_back(tmp_path: Path) -> None:
    """A run may be killed between its two changes of names."""
    out = tmp_path / "out"
    aside, half = tmp_path / ".out.coldspot-old", tmp_path / ".out.coldspot-new"
    aside.mkdir()
    half.mkdir()
    (half / "report.html").write_text("half")
    (aside / "results.json").write_text('{"program": "coldspot", "files": ["results.json"]}')
    messages = tidied(out)
    assert "put back" in messages[0]
    assert "removed" in messages[1]
    assert (out / "results.json").exists()
    assert os.listdir(tmp_path) == ["out"]


def test_names_that_only_look_like_ours_are_left_alone(tmp_path: Path) -> None:
    names = [".out.b.coldspot-new", ".out.new", ".out.coldspot-news", "out.coldspot-old"]
    for name in names:
        (tmp_path / name).mkdir()
    with written_folder(tmp_path / "out") as work:
        (work / "results.json").write_text('{"program": "coldspot", "files": ["results.json"]}')
    assert sorted(os.listdir(tmp_path)) == sorted([*names, "out"])


def test_a_file_that_came_during_the_run_is_not_lost(tmp_path: Path) -> None:
    out = tmp_path / "out"

    def write(late: bool) -> None:
        with written_folder(out) as work:
            (work / "results.json").write_text('{"program": "coldspot", "files": ["results.json"]}')
            if late:
                (out / "notes.txt").write_text("mine")

    write(late=False)
    with pytest.raises(OutputError, match=r"notes\.txt"):
        write(late=True)
    assert (out / "notes.txt").read_text() == "mine"
    assert os.listdir(tmp_path) == ["out"]


def command(case: Path, out: Path) -> list[str]:
    return [sys.executable, "-m", "sim.cli", "check", str(case), "--out", str(out), "--fineness", "1", "-q"]


def ambient(out: Path) -> str:
    """The ambient that a whole folder was computed for."""
    files = json.loads((out / "results.json").read_text(encoding="utf-8"))["files"]
    assert sorted(files) == sorted(os.listdir(out))
    by_name = {
        word for word in ("-10", "-20") if f'"at {word}"' in (out / "resolved.toml").read_text("utf-8")
    }
    for name in ("report.html", "three_meshes.csv", "results.json"):
        text = (out / name).read_text(encoding="utf-8")
        assert {word for word in ("-10", "-20") if f"at {word}" in text} == by_name
    assert (out / "report.html").read_text(encoding="utf-8").rstrip().endswith("</html>")
    (one,) = by_name
    return f"{one} degC"


def limited() -> None:
    import resource

    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="limits of POSIX")
def test_a_full_disk_is_a_message_and_the_old_folder(tmp_path: Path) -> None:
    """A limit on the size of a file stands for a full disk: the writes fail in the command's own process."""
    case, out = tmp_path / "case.toml", tmp_path / "out"
    case.write_text(CASE.replace("AMBIENT", "-20"))
    out.mkdir()
    (out / "results.json").write_text('{"program": "coldspot", "files": ["results.json"]}')
    done = subprocess.run(
        command(case, out), env=environment(), preexec_fn=limited, capture_output=True, text=True
    )
    assert done.returncode == 74, done
    assert done.stderr.endswith(f"coldspot: --out: {out}: cannot be written: File too large\n")
    assert os.listdir(out) == ["results.json"]
    assert set(os.listdir(tmp_path)) - {"out-unfinished"} == {"case.toml", "out"}


def without_override() -> None:
    """Permissions hold for the superuser too: the right to override them is dropped for what is started."""
    import ctypes

    for right in (1, 2):  # CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH
        ctypes.CDLL(None).prctl(24, right, 0, 0, 0)  # PR_CAPBSET_DROP


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="rights of Linux")
def test_a_place_that_may_not_be_written_is_a_message(tmp_path: Path) -> None:
    place = tmp_path / "place"
    place.mkdir()
    (tmp_path / "case.toml").write_text(CASE.replace("AMBIENT", "-20"))
    place.chmod(0o555)
    try:
        probe = [sys.executable, "-c", f"import os; print(os.access({str(place)!r}, os.W_OK))"]
        if (
            "True"
            in subprocess.run(probe, preexec_fn=without_override, capture_output=True, text=True).stdout
        ):
            pytest.skip("permissions do not hold here")
        done = subprocess.run(
            command(tmp_path / "case.toml", place / "out"),
            env=environment(),
            preexec_fn=without_override,
            capture_output=True,
            text=True,
        )
    finally:
        place.chmod(0o755)
    assert done.returncode == 2
    assert done.stderr == f"coldspot: --out: {place / 'out'}: cannot be written: Permission denied\n"
    assert os.listdir(place) == []


def time_written(run: subprocess.Popen[str], parent: Path, had: set[str]) -> float:
    """Seconds from the moment a run's hidden folder appears until the run ends."""
    while run.poll() is None and not set(os.listdir(parent)) - had:
        time.sleep(0.002)
    start = time.monotonic()
    assert run.communicate(timeout=180)[1] == ""
    assert run.returncode == 0
    return time.monotonic() - start


@pytest.mark.slow
@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_the_command_stopped_at_twelve_moments(tmp_path: Path, sign: int) -> None:
    """A folder of -10 degC is rewritten for -20 degC; stopped, it is one of the two, and whole."""
    old, new, out = tmp_path / "old.toml", tmp_path / "new.toml", tmp_path / "out"
    old.write_text(CASE.replace("AMBIENT", "-10"))
    new.write_text(CASE.replace("AMBIENT", "-20"))
    subprocess.run(command(old, out), env=environment(), check=True)
    dice, messages, midst = random.Random(int(sign)), "", 0
    writing = 0.0  # how long the last whole run had its folder under a hidden name, s
    for n in range(13):
        run = subprocess.Popen(command(new, out), env=environment(), stderr=subprocess.PIPE, text=True)
        had = set(os.listdir(tmp_path))
        if n == 0:
            writing = time_written(run, tmp_path, had)
            continue
        if n < 3:  # while the program is still being loaded
            time.sleep(dice.uniform(0.05, 0.4))
        else:
            while run.poll() is None and not set(os.listdir(tmp_path)) - had:
                time.sleep(0.002)
            time.sleep(writing * dice.uniform(0.0, 1.1))
        run.send_signal(sign)
        _, err = run.communicate(timeout=180)
        messages += err
        midst += n >= 3 and run.returncode != 0
        assert ambient(out) in ("-10 degC", "-20 degC")
        if n >= 3:
            assert "Traceback" not in err, err
        if sign != signal.SIGKILL:
            assert sorted(os.listdir(tmp_path)) == ["new.toml", "old.toml", "out"], err
    assert midst >= 3, "too few runs were stopped while they wrote"
    done = subprocess.run(command(old, out), env=environment(), capture_output=True, text=True, check=True)
    messages += done.stderr
    assert ambient(out) == "-10 degC"
    assert sorted(os.listdir(tmp_path)) == ["new.toml", "old.toml", "out"]
    if sign == signal.SIGKILL:
        assert "removed, left by a run that was killed" in messages
