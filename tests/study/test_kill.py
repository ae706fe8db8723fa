"""SIGKILL at random moments: no finished variant is lost or computed twice, and the database opens each time."""

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
STUDY = """
[[axis]]
key = "tracer.T1.clock"
from = 0
to = 6
count = {count}
"""
# Runs a study; every row that is computed is noted in a file of its own before it is stored.
RUNNER = """
import os, sys
from pathlib import Path
from functools import partial
import sim.study.execute as execution
from sim.study.pool import local
from sim.study.run import run_variant
from sim.study.store import Store
from sim.study.program import program_version
from sim.study.variants import load_study

def noting(log, base, variant):
    row = run_variant(base, variant)
    handle = os.open(log, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    os.write(handle, (row.key + "\\n").encode())
    os.close(handle)
    return row

if __name__ == "__main__":
    file, database, log, count = sys.argv[1:]
    execution.run_variant = partial(noting, log)
    with Store(Path(database), program_version()) as store:
        execution.execute(load_study(file), store, local(int(count)))
    print("finished")
"""


def committed(database: Path) -> dict[str, str]:
    """Every stored row, read by another program; the file must open and be whole."""
    if not database.exists():
        return {}
    with sqlite3.connect(database) as plain:
        if not plain.execute("select 1 from sqlite_master where name = 'done'").fetchone():
            return {}
        assert plain.execute("pragma integrity_check").fetchone() == ("ok",)
        rows = dict(plain.execute("select key, results || run from done"))
    plain.close()
    return rows


@pytest.mark.slow
def test_killed_a_few_times(write, tmp_path: Path) -> None:
    count = 16
    file = write(STUDY.format(count=count))
    runner, database, log = tmp_path / "runner.py", tmp_path / "s.sqlite", tmp_path / "log"
    runner.write_text(RUNNER)
    log.touch()
    dice = random.Random(5)
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    command = [sys.executable, str(runner), str(file), str(database), str(log), "1"]
    in_flight = 0

    def start() -> subprocess.Popen:
        return subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True)

    done: dict[str, str] = {}
    gathered: list[tuple[int, set[str]]] = []  # at each kill: lines of the log, and what was stored
    for _ in range(3):
        before = len(log.read_text().split())
        run = start()
        # Some before the first row of the run, most in its midst.
        rows, limit = dice.randrange(4), time.monotonic() + 60
        while (
            len(log.read_text().split()) < before + rows and run.poll() is None and time.monotonic() < limit
        ):
            time.sleep(0.005)
        time.sleep(dice.uniform(0.0, 0.1 if rows else 1.5))
        run.send_signal(signal.SIGKILL)
        run.wait()
        run.stdout.close()
        now = committed(database)
        assert done.items() <= now.items(), "a finished variant was lost or changed"
        lines = log.read_text().split()
        gathered.append((len(lines), set(now)))
        noted = Counter(lines)
        in_flight += len([key for key in noted if key not in now])
        done = now
    last = start()
    assert "finished" in last.communicate()[0]
    whole, noted = committed(database), Counter(log.read_text().split())
    assert done.items() <= whole.items()
    assert len(whole) == count + 1  # and one reference
    assert set(noted) == set(whole)
    # Only a variant that was not yet stored when the process was killed may be computed again.
    assert sum(noted.values()) - len(noted) <= in_flight
    lines = log.read_text().split()
    for place, stored in gathered:
        assert not stored & set(lines[place:]), "a finished variant was computed twice"
    assert any(0 < len(stored) < len(whole) for _, stored in gathered), "no kill fell into the midst of a run"
