"""A real local scheduler with worker processes: the same rows bit for bit, and a worker killed mid-run."""

import os
import signal
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest
from typer.testing import CliRunner

pytest.importorskip("distributed")

from sim.case import CaseError
from sim.cli import app
from sim.study.execute import execute
from sim.study.pool import cluster, serial
from sim.study.program import program_version
from sim.study.run import run_variant
from sim.study.store import Store
from sim.study.variants import load_study, variants

STUDY = '[[axis]]\nkey = "tracer.T1.clock"\nname = "clock"\nfrom = 0\nto = 6\ncount = 24\n'


@pytest.fixture(scope="module")
def address():
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0", silence_logs=50
    ) as running:
        yield running.scheduler_address


def bare(row) -> tuple:
    return row.key, row.status, row.reason, repr(row.results)


@pytest.mark.slow
def test_the_same_rows_as_serial_though_a_worker_is_killed(write, tmp_path, address: str) -> None:
    study = load_study(write(STUDY))
    executor, threads = cluster(address, program=program_version())
    assert threads == 2
    killed = []

    def with_murder(work, items):
        for n, finished in enumerate(executor(work, items)):
            if n == 3:
                client = executor.args[0]
                victim = next(iter(client.run(os.getpid).values()))
                os.kill(victim, signal.SIGKILL)
                killed.append(victim)
            yield finished

    with Store(tmp_path / "s.sqlite", program_version()) as store:
        answers = execute(study, store, with_murder)
        there = {s.row.key: bare(s.row) for s in store.stored("study")}
    assert killed
    assert answers.computed == 25
    here = {row.key: bare(row) for _, row, _ in serial(partial(run_variant, study.base), variants(study))}
    assert here == there


@pytest.mark.slow
def test_a_worker_with_another_program_is_refused(address: str) -> None:
    with pytest.raises(CaseError, match="has the program as"):
        cluster(address, program="0.0.0+other")


def test_a_scheduler_without_workers_is_refused() -> None:
    from distributed import LocalCluster

    with (
        LocalCluster(n_workers=0, dashboard_address=":0", silence_logs=50) as empty,
        pytest.raises(CaseError, match="has no worker"),
    ):
        cluster(empty.scheduler_address, program=program_version())


SCHEDULER = """
import sys
from distributed import LocalCluster
if __name__ == "__main__":
    with LocalCluster(n_workers=1, threads_per_worker=1, dashboard_address=":0", silence_logs=50) as running:
        print(running.scheduler_address, flush=True)
        sys.stdin.read()
"""


@pytest.mark.slow
@pytest.mark.parametrize("sign", [signal.SIGKILL, signal.SIGTERM])
def test_a_lost_scheduler_ends_in_one_line_and_keeps_the_rows(
    write, tmp_path, monkeypatch, sign: int
) -> None:
    (tmp_path / "scheduler.py").write_text(SCHEDULER)
    words = [sys.executable, str(tmp_path / "scheduler.py")]
    here = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
    running = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=here)
    out = tmp_path / "out"
    try:
        address = running.stdout.readline().strip()
        put = Store.put

        def then_kill(store, row) -> None:
            put(store, row)
            if len(store.keys()) == 3:
                running.send_signal(sign)

        monkeypatch.setattr(Store, "put", then_kill)
        done = CliRunner().invoke(app, ["study", str(write(STUDY)), "--out", str(out), "--cluster", address])
    finally:
        running.kill()
        running.wait()
    assert done.exit_code == 74
    assert done.stderr.strip() == (
        "coldspot: --cluster: the cluster's scheduler was lost; what is finished is stored, the same command goes on"
    )
    monkeypatch.setattr(Store, "put", put)
    with Store(out / "study.sqlite", program_version()) as store:
        stored = len(store.keys())
        assert stored >= 3
        assert execute(load_study(write(STUDY)), store, serial).computed == 25 - stored
