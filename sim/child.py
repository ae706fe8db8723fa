"""Other processes of this program: how one is started, and how it ends with whoever started it."""

import os
import sys
import threading
from collections.abc import Callable, Mapping
from pathlib import Path

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMEXPR_NUM_THREADS")
"""Read when a library of linear algebra is first loaded: parallelism is many processes."""

ONE_PROCESS = "COLDSPOT_ONE_PROCESS"
"""Set where a run has no second process (`sim.beside`), as in one of many processes."""


def command(module: str, *words: str) -> list[str]:
    """The words that run a module of this program in a process of its own."""
    return [sys.executable, "-m", module, *words]


def environment(**more: str) -> Mapping[str, str]:
    """What such a process is started with: this program first, one thread for linear algebra, no further process."""
    root = str(Path(__file__).parents[1])
    path = os.pathsep.join([root, *filter(None, [os.environ.get("PYTHONPATH")])])
    return {**os.environ, "PYTHONPATH": path, **dict.fromkeys((*ONE_THREAD, ONE_PROCESS), "1"), **more}


def end_when(parent_gone: Callable[[], object]) -> None:
    """End this process at once when `gone`, which waits for the end of the one that started it, returns."""

    def watch() -> None:
        parent_gone()
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
