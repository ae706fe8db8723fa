"""Work in a second process: the same answers and errors as here, and none is lost with it."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from sim import beside
from sim.beside import Beside
from sim.case.load import parse_case
from sim.child import ONE_PROCESS, environment
from sim.solve.over_time import solve_episode
from sim.solve.steady import NotConverged


@pytest.fixture(autouse=True, scope="module")
def second_process():
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv(ONE_PROCESS, raising=False)
        patch.setattr(os, "cpu_count", lambda: 2)
        patch.setenv("PYTHONPATH", str(Path(__file__).parent))
        yield
    while beside._processes:
        beside._processes.pop().end()


def where(tell) -> int:
    tell(0.5)
    return os.getpid()


def fails(tell) -> None:
    raise NotConverged("not met")


def dies_there(home: int, tell) -> int:
    if os.getpid() != home:
        os.kill(os.getpid(), signal.SIGKILL)
    tell(1.0)
    return os.getpid()


def sleeps(tell) -> None:
    time.sleep(600)


def test_a_call_is_answered_by_another_process_and_the_next_one_by_the_same() -> None:
    first, second = (Beside(where).answer() for _ in range(2))
    assert first == second != os.getpid()


def slowly(tell) -> int:
    time.sleep(1.0)
    return os.getpid()


def test_two_calls_at_once_one_of_them_here() -> None:
    with Beside(slowly) as one, Beside(where) as other:
        assert other.answer() == os.getpid() != one.answer()


def test_an_error_comes_back_as_it_was() -> None:
    with pytest.raises(NotConverged, match="not met"), Beside(fails) as call:
        call.answer()


def test_work_that_is_lost_with_its_process_is_done_here() -> None:
    reached = []
    call = Beside(dies_there, os.getpid())
    assert call.answer(lambda: reached.append(call.reached)) == os.getpid()
    assert reached[-1] == 1.0
    assert Beside(where).answer() != os.getpid()  # the next has a new one


def test_what_cannot_be_handed_over_is_done_here() -> None:
    assert Beside(lambda tell: os.getpid()).answer() == os.getpid()


def test_a_call_is_given_up_with_its_process() -> None:
    call = Beside(sleeps)
    with pytest.raises(KeyboardInterrupt), call:
        raise KeyboardInterrupt
    assert call.process is not None
    assert call.process.popen.poll() is not None


def test_the_process_ends_with_the_first_one() -> None:
    code = (
        "import test_beside as t, os, time\nfrom sim.beside import Beside\n"
        "c = Beside(t.sleeps); print(c.process.popen.pid, flush=True); time.sleep(600)"
    )
    given = {key: text for key, text in environment().items() if key != ONE_PROCESS}
    words = [sys.executable, "-c", code]
    with subprocess.Popen(words, stdout=subprocess.PIPE, env=given, text=True) as first:
        assert first.stdout is not None
        second = int(first.stdout.readline())
        first.kill()
    for _ in range(100):
        if _gone(second):
            return
        time.sleep(0.1)
    pytest.fail("it goes on without the first one")


def _gone(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return True
    state = Path(f"/proc/{process}/stat")
    return state.exists() and state.read_text().rsplit(")", 1)[1].split()[0] == "Z"


def test_an_episode_has_the_same_answer_in_two_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    case = parse_case(
        {
            "pipe": {"outer_diameter": "60 mm", "wall": "4 mm", "material": "carbon steel"},
            "contents": {"state": "still", "fluid": "water"},
            "tracer": [{"name": "T1", "clock": 5, "shape": "round", "diameter": "8 mm", "output": "20 W/m"}],
            "insulation": {"layer": [{"material": "rock wool", "thickness": "30 mm"}]},
            "condition": [{"name": "night", "ambient": "-10 degC", "wind": "3 m/s"}],
            "episode": [
                {"name": "cut", "condition": "night", "lasts": "6 h", "change": [{"at": "1 h", "supply": 0}]}
            ],
        }
    )
    here_and_beside = []
    for alone in ("1", ""):
        monkeypatch.setenv(ONE_PROCESS, alone)
        here_and_beside.append(solve_episode(case, case.episodes[0], fineness=1.5))
    one, two = here_and_beside
    assert beside._processes
    assert one.steps == two.steps
    for path, series in one.series.items():
        np.testing.assert_array_equal(series.value, two.series[path].value)
        np.testing.assert_array_equal(series.band, two.series[path].band)
