"""Draws pictures, here or in a second process that warms up while the fields are still being solved.

The second process runs this module (`python -m sim.report.painter`), reads pickled jobs from its standard input
until that ends, draws them, and ends with code 0. Whatever goes wrong there is drawn again here.
"""

from __future__ import annotations

import gc
import os
import pickle
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from types import TracebackType

from sim.child import command, environment
from sim.report.stage import EpisodeScene, FlowScene, Job, MeshScene


def draw(jobs: Iterable[Job]) -> None:
    """Draw pictures in this process. Raises OSError if one cannot be written."""
    from sim.report.draw_around import draw_around
    from sim.report.draw_episode import draw_course, draw_moments
    from sim.report.draw_flow import draw_flow, draw_frames
    from sim.report.draw_mesh import draw_mesh
    from sim.report.draw_section import draw_section

    for what, kind, path in jobs:
        if isinstance(what, MeshScene):
            draw_mesh(what, Path(path))
        elif isinstance(what, FlowScene):
            (draw_flow if kind == "flow" else draw_frames)(what, Path(path))
        elif isinstance(what, EpisodeScene):
            (draw_course if kind == "course" else draw_moments)(what, Path(path))
        elif kind == "section":
            draw_section(what, Path(path))
        else:
            draw_around(what, Path(path))


class Painter:
    """A second process that draws. As a context manager it leaves no process behind."""

    def __init__(self) -> None:
        self._jobs: list[Job] = []
        self._process: subprocess.Popen[bytes] | None = None
        if (os.cpu_count() or 1) > 1 and sys.executable:
            with suppress(OSError):
                self._process = subprocess.Popen(
                    command("sim.report.painter"),
                    stdin=subprocess.PIPE,
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                    env=environment(),
                )

    def __enter__(self) -> Painter:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def add(self, job: Job) -> None:
        """Hand a job over; it is begun at once where there is a second process."""
        self._jobs.append(job)
        if self._process is not None and self._process.stdin is not None:
            try:
                pickle.dump(job, self._process.stdin, protocol=pickle.HIGHEST_PROTOCOL)
                self._process.stdin.flush()
            except OSError:
                self.stop()

    def finish(self) -> None:
        """Wait until every picture is drawn. Raises OSError if one cannot be written."""
        jobs, process, self._jobs = self._jobs, self._process, []
        if process is not None and process.stdin is not None:
            with suppress(OSError):
                process.stdin.close()
            if process.wait() == 0:
                return
        draw(jobs)

    def stop(self) -> None:
        """End the second process, whatever it is doing."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            with suppress(OSError):
                if process.stdin is not None:
                    process.stdin.close()
            process.wait()


def main() -> None:
    """The second process: a thread takes the jobs in, so that the sender never waits for the imports."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    waiting: queue.SimpleQueue[Job | None] = queue.SimpleQueue()

    def take_in() -> None:
        with suppress(EOFError):
            while True:
                waiting.put(pickle.load(sys.stdin.buffer))
        waiting.put(None)

    threading.Thread(target=take_in, daemon=True).start()
    from sim.report import draw_around, draw_mesh, draw_section  # noqa: F401  ready before the first job

    gc.disable()
    draw(iter(waiting.get, None))


if __name__ == "__main__":
    main()
