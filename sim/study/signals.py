"""Signals held back for the few moments in which a folder changes hands."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

STOPPING = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))


@contextmanager
def held_signals() -> Iterator[None]:
    """Within the block SIGINT, SIGTERM and SIGHUP wait; one that came is handed to its own handler at the end.

    A moment's work only. Outside the main thread, which alone receives signals, nothing is done.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []

    def wait(number: int, frame: FrameType | None) -> None:
        came.append(number)

    before = {number: signal.getsignal(number) for number in STOPPING}
    mine = [number for number, handler in before.items() if handler not in (signal.SIG_IGN, None)]
    try:
        for number in mine:
            signal.signal(number, wait)
        yield
    finally:
        for number in mine:
            signal.signal(number, before[number])
        if came:
            signal.raise_signal(came[0])
