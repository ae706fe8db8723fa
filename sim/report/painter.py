"""Draws pictures, here or in a second process that starts while the fields are still being solved.

The second process runs this module (`python -m sim.report.painter`), reads one pickled list of jobs from its
standard input, draws them, and ends with code 0. Whatever it did not do is drawn here.
"""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from sim.report.scene import MeshScene, Scene

Job = tuple[str, Scene | MeshScene, str]
"""("section" | "around" | "mesh", what to draw, path of the picture)."""


def draw(jobs: Sequence[Job]) -> None:
    """Draw pictures in this process. Raises OSError if one cannot be written."""
    from sim.report.draw_around import draw_around
    from sim.report.draw_mesh import draw_mesh
    from sim.report.draw_section import draw_section

    for kind, what, path in jobs:
        if isinstance(what, MeshScene):
            draw_mesh(what, Path(path))
        elif kind == "section":
            draw_section(what, Path(path))
        else:
            draw_around(what, Path(path))


@dataclass
class Painter:
    """A second process that is warming up; a context manager that never leaves it behind."""

    process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Painter:
        if (os.cpu_count() or 1) > 1 and sys.executable:
            command = [sys.executable, "-m", "sim.report.painter"]
            path = [str(Path(__file__).parents[2]), *filter(None, [os.environ.get("PYTHONPATH")])]
            environment = {**os.environ, "PYTHONPATH": os.pathsep.join(path), "OPENBLAS_NUM_THREADS": "1"}
            quiet = subprocess.DEVNULL
            try:
                self.process = subprocess.Popen(
                    command, stdin=subprocess.PIPE, stdout=quiet, stderr=quiet, env=environment
                )
            except OSError:
                self.process = None
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.process is not None:
            if self.process.stdin is not None:
                with suppress(OSError):
                    self.process.stdin.close()
            if self.process.poll() is None:
                self.process.kill()
            self.process.wait()

    def begin(self, jobs: Sequence[Job]) -> bool:
        """Hand jobs over; False if there is no second process to take them."""
        if self.process is None or self.process.stdin is None:
            return False
        try:
            pickle.dump(list(jobs), self.process.stdin, protocol=pickle.HIGHEST_PROTOCOL)
            self.process.stdin.close()
        except OSError:
            return False
        return True

    def finish(self, jobs: Sequence[Job]) -> None:
        """Wait for the jobs that were handed over; draw here what was not drawn."""
        if self.process is not None and self.process.wait() == 0:
            return
        draw(jobs)


def main() -> None:
    """The second process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from sim.report import draw_around, draw_mesh, draw_section  # noqa: F401  warm before the jobs arrive

    data = sys.stdin.buffer.read()
    if data:
        draw(pickle.loads(data))


if __name__ == "__main__":
    main()
