"""Other solvers at work, each in a process of its own: started together, timed, and never left behind."""

import os
import pickle
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from sim.child import command, end_when, environment

POLL = 0.05  # s
INSTALL = "pip install 'coldspot[validation]'"
LIBRARIES = "a library of the system is missing (on Debian: apt install libglu1-mesa libxrender1 libxcursor1)"


@dataclass(frozen=True)
class Job:
    """What a peer is asked: the module that is run, the packages it needs, and what it is given (pickled)."""

    module: str
    packages: tuple[str, ...]
    given: dict[str, Any]


@dataclass(frozen=True)
class Reply:
    """What came back: `answer`, or why nothing did; seconds of its process, import included."""

    answer: dict[str, Any] | None = None
    failure: str = ""
    seconds: float = 0.0


@dataclass
class _Running:
    process: subprocess.Popen[bytes]
    target: Path
    errors: Path
    begin: float = field(default_factory=time.perf_counter)


def ask(jobs: Mapping[str, Job], seconds: float) -> dict[str, Reply]:
    """Run the jobs side by side; each is ended after so many seconds. Whatever happens, none is left running."""
    replies: dict[str, Reply] = {}
    running: dict[str, _Running] = {}
    with tempfile.TemporaryDirectory(prefix="coldspot-") as folder:
        try:
            for name, job in jobs.items():
                absent = [package for package in job.packages if find_spec(package) is None]
                if absent:
                    replies[name] = Reply(failure=f"{', '.join(absent)} not installed: {INSTALL}")
                else:
                    running[name] = _start(job, Path(folder) / name)
            while running:
                for name, run in list(running.items()):
                    spent = time.perf_counter() - run.begin
                    if run.process.poll() is not None:
                        replies[name] = _reply(run, spent)
                    elif spent > seconds:
                        replies[name] = Reply(failure=f"no answer within {seconds:g} s", seconds=spent)
                    else:
                        continue
                    _end(running.pop(name).process)
                time.sleep(POLL if running else 0.0)
        finally:
            for run in running.values():
                _end(run.process)
    return replies


def _start(job: Job, stem: Path) -> _Running:
    source, target = stem.with_suffix(".in"), stem.with_suffix(".out")
    source.write_bytes(pickle.dumps(job.given))
    errors = stem.with_suffix(".err")
    with errors.open("wb") as stream:
        process = subprocess.Popen(
            command(job.module, str(source), str(target), str(os.getpid())),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=stream,
            env=environment(FIPY_SOLVERS="scipy"),
            start_new_session=True,
        )
    return _Running(process, target, errors)


def _end(process: subprocess.Popen[bytes]) -> None:
    """End a process with all it started."""
    if process.poll() is None:
        try:
            os.killpg(process.pid, signal.SIGKILL)
        except (ProcessLookupError, PermissionError):
            process.kill()
    process.wait()


def _reply(run: _Running, seconds: float) -> Reply:
    if run.target.exists():
        answer = pickle.loads(run.target.read_bytes())
        return Reply(answer.get("answer"), answer.get("failure", ""), seconds)
    last = run.errors.read_text(errors="replace").strip().splitlines()[-1:]
    reason = last[0] if last else f"exit code {run.process.returncode}"
    return Reply(failure=f"ended without an answer: {reason[:200]}", seconds=seconds)


def serve(work: Callable[[dict[str, Any]], dict[str, Any]]) -> None:
    """The peer's side: read what is given, work, and write the answer, or the reason why not."""
    source, target, parent = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
    sys.argv = sys.argv[:1]  # FiPy would read them
    end_when(partial(_gone, parent))
    answer: dict[str, Any]
    try:
        answer = {"answer": work(pickle.loads(source.read_bytes()))}
    except (ImportError, OSError) as error:
        answer = {"failure": f"cannot be imported: {error}; {LIBRARIES}, or: {INSTALL}"}
    except (RuntimeError, ValueError, ArithmeticError, MemoryError) as error:
        answer = {"failure": str(error) or type(error).__name__}
    beside = target.with_suffix(".part")
    beside.write_bytes(pickle.dumps(answer))
    beside.replace(target)


def _gone(parent: int) -> None:
    """Return when the process that started this one has ended, however it did."""
    while os.getppid() == parent:
        time.sleep(0.5)
