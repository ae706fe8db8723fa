"""Executors: the same rows bit for bit, and processes that die on the way."""

import os
import signal
from functools import partial
from pathlib import Path

import pytest

from sim.beside import Beside
from sim.child import ONE_PROCESS
from sim.study.execute import Watcher, execute
from sim.study.pool import MOST_DEATHS, local, processes, serial
from sim.study.run import run_variant
from sim.study.store import Store
from sim.study.variants import load_study, variants

STUDY = """
axis = [{ key = "tracer.T1.clock", values = [2, 6] }]
sampling = { samples = 4 }
[[uncertain]]
key = "insulation.layer.1.conductivity"
as = "factor"
distribution = "normal"
mean = 1
spread = 0.1
"""


def bare(row) -> tuple:
    return row.key, row.status, row.reason, repr(row.results)


def test_serial_and_two_processes_bit_for_bit(write) -> None:
    study = load_study(write(STUDY))
    gathered = []
    for count in (1, 2):
        rows = [row for _, row, _ in local(count)(partial(run_variant, study.base), variants(study))]
        gathered.append(sorted(bare(row) for row in rows))
    assert len(gathered[0]) == 8
    assert gathered[0] == gathered[1]


def begins_a_second_process(_: int) -> bool:
    os.environ.pop(ONE_PROCESS, None)
    os.cpu_count = lambda: 2
    return Beside(len, ()).process is not None


def test_a_process_of_a_study_keeps_to_itself() -> None:
    assert [begun for _, begun, _ in processes(begins_a_second_process, [0], count=1)] == [False]


def double_or_die(folder: str, item: int) -> int:
    """Twice the item; item 3 kills its process the first time, item 5 every time."""
    marker = Path(folder) / f"seen{item}"
    if item == 5 or (item == 3 and not marker.exists()):
        marker.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return 2 * item


@pytest.mark.slow
def test_a_dying_process_is_replaced_and_a_deadly_item_given_up(tmp_path: Path) -> None:
    done = list(processes(partial(double_or_die, str(tmp_path)), range(10), count=2))
    assert sorted((item, result) for item, result, _ in done if result is not None) == [
        (n, 2 * n) for n in range(10) if n != 5
    ]
    assert [(item, reason) for item, result, reason in done if result is None] == [
        (5, f"the process that computed it was lost {MOST_DEATHS} times (killed, or out of memory)")
    ]


def test_only_a_few_items_wait(tmp_path: Path) -> None:
    taken = []

    def source():
        for n in range(40):
            taken.append(n)
            yield n

    for k, _ in enumerate(processes(abs, source(), count=2)):
        assert len(taken) <= k + 8


def test_an_interrupted_study_ends_what_computes_at_once(write, tmp_path: Path) -> None:
    """The workers and their pipes are closed by the study itself, while the interrupt still holds its frames."""
    closed = []

    def computing(work, items):
        try:
            yield from serial(work, items)
        finally:
            closed.append(True)

    class Interrupting(Watcher):
        def row(self, variant, row) -> None:
            raise KeyboardInterrupt

    study = load_study(write('[[axis]]\nkey = "tracer.T1.clock"\nvalues = [2, 6]\n'))
    with Store(tmp_path / "study.sqlite", "v") as store:
        with pytest.raises(KeyboardInterrupt) as interrupt:
            execute(study, store, computing, Interrupting())
        assert closed
        assert len(store.keys()) == 1
    del interrupt
