"""A real local scheduler with worker processes: the same rows bit for bit, and a worker killed mid-run."""

import os
import signal
from functools import partial

import pytest

pytest.importorskip("distributed")

from sim.case import CaseError
from sim.study.conduct import conduct
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
def test_the_same_rows_as_serial(write, address: str) -> None:
    study = load_study(write(STUDY.replace("24", "6")))
    executor, threads = cluster(address, program=program_version())
    assert threads == 2
    there = sorted(bare(row) for _, row, _ in executor(partial(run_variant, study.base), variants(study)))
    here = sorted(bare(row) for _, row, _ in serial(partial(run_variant, study.base), variants(study)))
    assert here == there


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
        answers = conduct(study, store, with_murder)
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
