"""Work done in a second process beside this one, where there is a second core.

The process runs this module (`python -m sim.beside`): it reads pickled calls from its standard input, and writes how
far each is and its answer to its standard output. It is begun once, takes one call after another, and ends with its
standard input. Where there is none, or it is lost, the work is done here when its answer is asked for.
"""

from __future__ import annotations

import atexit
import importlib
import os
import pickle
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from multiprocessing import parent_process
from types import TracebackType
from typing import Any, Generic, TypeVar

from sim.child import ONE_PROCESS, command, environment

Answer = TypeVar("Answer")
WAIT = 0.3  # s between two looks at work that is waited for


class Beside(Generic[Answer]):
    """A call that is at work: work(*given, tell), where tell takes how far it is. As a context manager it is given up,
    with its process, when the block is left by an error."""

    def __init__(self, work: Callable[..., Answer], *given: Any) -> None:
        self.work, self.given = work, given
        self.reached = 0.0  # what the work told last
        self.ended = threading.Event()
        self.outcome: tuple[bool, Any] | None = None  # whether it has an answer, and that or the error
        self.process = _hand_over(self)

    def __enter__(self) -> Beside[Answer]:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.process is not None and not self.ended.is_set():
            self.process.end()

    def answer(self, waiting: Callable[[], None] = lambda: None) -> Answer:
        """Its answer, and whatever the work raises; waiting: called now and then until it is there."""

        def tell(reached: float) -> None:
            self.reached = reached
            waiting()

        while self.process is not None and not self.ended.wait(WAIT):
            waiting()
        if self.outcome is None:
            return self.work(*self.given, tell)
        done, result = self.outcome
        if not done:
            raise result
        answer: Answer = result
        return answer


class _Process:
    """The second process, and the call that it is at."""

    def __init__(self, modules: tuple[str, ...]) -> None:
        self.call: Beside[Any] | None = None
        self.lost = False  # it answers no more
        self.popen = subprocess.Popen(
            command("sim.beside", *modules),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment(),
        )
        threading.Thread(target=self._listen, daemon=True).start()

    @property
    def free(self) -> bool:
        return self.call is None or self.call.ended.is_set()

    def take(self, call: Beside[Any]) -> bool:
        """Hand a call over; whether that could be done."""
        assert self.popen.stdin is not None
        try:
            words = pickle.dumps((call.work, call.given), protocol=pickle.HIGHEST_PROTOCOL)
            self.call = call
            self.popen.stdin.write(words)
            self.popen.stdin.flush()
        except (OSError, pickle.PicklingError, TypeError, AttributeError):
            self.call = None
            return False
        return not self.lost

    def _listen(self) -> None:
        assert self.popen.stdout is not None
        try:
            while True:
                what, value = pickle.load(self.popen.stdout)
                call = self.call
                assert call is not None
                if what == "reached":
                    call.reached = value
                else:
                    call.outcome = None if what == "lost" else (what == "done", value)
                    call.ended.set()
        except (EOFError, OSError, ValueError, pickle.UnpicklingError):
            pass
        finally:
            self.lost = True
            if self.call is not None:
                self.call.ended.set()

    def end(self) -> None:
        """End it, whatever it is doing."""
        self.lost = True
        self.popen.kill()
        for pipe in (self.popen.stdin, self.popen.stdout):
            with suppress(OSError):
                if pipe is not None:
                    pipe.close()
        self.popen.wait()


_processes: list[_Process] = []  # the second process, once it is begun
_lock = threading.Lock()


def start(*modules: str) -> None:
    """Begin the second process and have it import what it will need; nothing where there is no second core."""
    with _lock, suppress(OSError):
        _begun(modules)


def _begun(modules: tuple[str, ...] = ()) -> _Process | None:
    alone = (os.cpu_count() or 1) < 2 or os.environ.get(ONE_PROCESS) or not sys.executable
    if alone or parent_process() is not None:  # one of many already
        return None
    if _processes and _processes[0].lost:
        _processes.pop().end()
    if not _processes:
        _processes.append(_Process(modules))
        atexit.register(_processes[0].end)
    return _processes[0]


def _hand_over(call: Beside[Any]) -> _Process | None:
    """The process that has taken a call; None where there is none that is free."""
    with _lock, suppress(OSError):
        process = _begun()
        if process is not None and process.free and process.take(call):
            return process
    return None


def main() -> None:
    """The second process: a thread takes the calls in, and ends it when there can be no more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a key pressed on the terminal is the first one's
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints is no answer
    waiting: queue.SimpleQueue[Any] = queue.SimpleQueue()

    def take_in() -> None:
        try:
            while True:
                waiting.put(pickle.load(sys.stdin.buffer))
        finally:  # the first one is gone, or hands over what cannot be read
            os._exit(0)

    threading.Thread(target=take_in, daemon=True).start()
    for module in sys.argv[1:]:
        importlib.import_module(module)

    def put(what: str, value: Any) -> None:
        out.write(pickle.dumps((what, value), protocol=pickle.HIGHEST_PROTOCOL))
        out.flush()

    while True:
        work, given = waiting.get()
        try:
            put("done", work(*given, partial(put, "reached")))
        except MemoryError:
            put("lost", None)
        except Exception as error:
            try:
                pickle.loads(pickle.dumps(error))
            except Exception:
                put("lost", None)
            else:
                put("raised", error)


if __name__ == "__main__":
    main()
