"""One planted fault tried: the quick checks, then the tests, as far as they reach the function that it is in.

Everything of `sim` is imported in children forked for one job each, so that a fault lives in the modules of a process
and in no file. What starts them must not have imported `sim`.
"""

import hashlib
import importlib
import importlib.util
import io
import json
import multiprocessing
import os
import re
import signal
import sys
import threading
from collections.abc import Callable, Sequence
from contextlib import redirect_stdout
from dataclasses import dataclass, field
from functools import partial
from importlib.machinery import ModuleSpec, PathFinder, SourceFileLoader
from multiprocessing.connection import Connection
from pathlib import Path
from time import perf_counter
from types import CodeType, FrameType, ModuleType
from typing import Any

from validation.faults.fault import Fault

ROOT = Path(__file__).parents[2]
ROOMS = ("section", "heat", "solve", "judge", "case", "study", "validation", "property")
MACHINERY = {
    "test_pool.py",
    "test_dask.py",
    "test_kill.py",
    "test_command.py",
    "test_faults.py",
}  # not of numbers
LIMIT = 1800.0  # s, beyond which a job counts as a hang
LIBRARIES = (  # imported once, before any fork
    *(
        "numpy",
        "scipy.sparse.linalg",
        "scipy.sparse.csgraph",
        "scipy.spatial",
        "scipy.optimize",
        "scipy.stats",
    ),
    *("scipy.special", "scipy.constants", "pydantic", "pint", "tomli_w", "fluids", "ht", "iapws", "pyamg"),
    *("pytest", "hypothesis", "typer"),
)
ENDING = re.compile(r"^(?:FAILED|ERROR) (.+?)(?: - .*)?$", re.MULTILINE)
Calls = set[tuple[str, int]]  # functions of the program: file and first line


def check(name: str) -> str:
    """Run one quick check, module.function; the first row that fails, "" where none does."""
    module, rows = name.rsplit(".", 1)
    for row in getattr(importlib.import_module(f"validation.checks.{module}"), rows)():
        if not row.passed:
            return f"{row.check}: {row.quantity}"
    return ""


def tests(files: Sequence[str]) -> str:
    """Run files of tests in their order; the first test that fails, "" where none does."""
    import pytest

    output = io.StringIO()
    with redirect_stdout(output):
        options = ["-x", "-q", "-m", "not slow", "-p", "no:cacheprovider", "--tb=no", "-rfE"]
        options += [
            "-n",
            "0",
            "-W",
            "ignore::pytest.PytestAssertRewriteWarning",
        ]  # hypothesis is imported already
        status = int(pytest.main([*options, *files]))
    if status in (0, 5):  # 5: nothing but slow tests
        return ""
    named = ENDING.search(output.getvalue())
    return named[1] if named else f"pytest ended with {status}"


def quick_checks() -> list[str]:
    """The quick checks as module.function."""
    from validation.published.run import CHECKS, checks_of

    modules = {c.name: importlib.import_module(f"validation.checks.{c.name}") for c in CHECKS if c.quick}
    return [f"{name}.{rows.__name__}" for name, of in modules.items() for rows in checks_of(of, False)]


def test_files() -> list[str]:
    """The files of tests of the rooms that compute, from the root of the tree."""
    files = (p for room in ROOMS for p in (ROOT / "tests" / room).rglob("test_*.py"))
    return sorted(p.relative_to(ROOT).as_posix() for p in files if p.name not in MACHINERY)


class _Planter(PathFinder):
    """Finds one module of the program, and makes it of a changed syntax tree."""

    fault: Fault

    @classmethod
    def find_spec(
        cls, fullname: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        if fullname != cls.fault.module:
            return None
        spec = PathFinder.find_spec(fullname, path, target)
        if spec is not None and spec.origin is not None:
            spec.loader = _Changed(fullname, spec.origin)
        return spec


class _Changed(SourceFileLoader):
    def get_code(self, fullname: str) -> CodeType:
        text = Path(self.path).read_text(encoding="utf-8")
        code: CodeType = compile(_Planter.fault.planted(text), self.path, "exec", dont_inherit=True)
        return code


def plant(fault: Fault) -> None:
    """From now on this process imports the program with the fault. Raises NoFit where there is no place for it."""
    if fault.module in sys.modules:
        raise RuntimeError(f"{fault.module} is imported already")
    fault.planted(fault.source())
    _Planter.fault = fault
    sys.meta_path.insert(0, _Planter)


def in_child(work: Callable[[], Any], limit: float = LIMIT) -> Any:
    """What work gives in a forked child of this process; a text that says how it ended if it gives nothing."""
    context = multiprocessing.get_context("fork")
    receive, send = context.Pipe(duplex=False)
    child = context.Process(target=_answer, args=(work, send))
    child.start()
    send.close()
    try:
        if not receive.poll(limit):
            return f"it hangs (over {limit:.0f} s)"
        return receive.recv()
    except EOFError:
        return "it crashes: the process died"
    finally:
        try:
            os.killpg(child.pid or 0, signal.SIGKILL)
        except ProcessLookupError:
            child.kill()
        child.join()


def _answer(work: Callable[[], Any], send: Connection) -> None:
    os.setpgid(0, 0)
    null = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(null, stream)
    try:
        send.send(work())
    except BaseException as error:
        send.send(f"it crashes: {type(error).__name__}: {error}"[:200])


def run(name: str, *more: str) -> str:
    """One check by its name, or tests of one or more files."""
    return tests([name, *more]) if name.startswith("tests/") else check(name)


def traced(name: str) -> tuple[str, Calls]:
    """What `run` says, and the functions of the program that were called."""
    called: dict[int, CodeType] = {}

    def note(frame: FrameType, event: str, _: object) -> None:
        called.setdefault(id(frame.f_code), frame.f_code)

    threading.settrace(note)
    sys.settrace(note)
    output = run(name)
    sys.settrace(None)
    paths = ((Path(code.co_filename), code.co_firstlineno) for code in called.values())
    return output, {(p.relative_to(ROOT).as_posix(), n) for p, n in paths if p.is_relative_to(ROOT / "sim")}


@dataclass(frozen=True)
class Reach:
    """The functions of the program that each quick check and each file of tests calls, and the seconds it takes."""

    calls: dict[str, Calls]
    seconds: dict[str, float]

    def steps(self, fault: Fault) -> list[tuple[str, ...]]:
        """What may notice a fault, in the order to try it: the checks, the shortest first, then the tests.

        What the checks hardly look at, the reading of a case, is tried by its own tests first. Outside any function
        everything may depend on a fault, but no check on what is of studies.
        """
        import ast

        node = fault.function(ast.parse(fault.source()))
        if node is None:
            names = [n for n in self.calls if fault.room != "study" or n.startswith("tests/")]
        else:
            line = min([node.lineno, *(d.lineno for d in node.decorator_list)])
            place = (fault.module.replace(".", "/") + ".py", line)
            names = [n for n, calls in self.calls.items() if place in calls]
        names.sort(key=lambda name: self.seconds[name])
        checks = [(name,) for name in names if not name.startswith("tests/")]
        files = tuple(name for name in names if name.startswith("tests/"))
        own = tuple(name for name in files if fault.room in Path(name).parts)
        files = (*own, *(name for name in files if name not in own))
        steps = [*checks, files] if fault.room != "case" else [files, *checks]
        return [step for step in steps if step]


def measure_reach(keep: Path) -> Reach:
    """Run every set of checks once, without any fault, and note what it calls; kept in a file, and read from it."""
    known: dict[str, Any] = json.loads(keep.read_text(encoding="utf-8")) if keep.exists() else {}
    names = [*in_child(quick_checks), *test_files()]
    sources = b"".join(p.read_bytes() for p in sorted((ROOT / "sim").rglob("*.py")))
    for name in names:
        own = (ROOT / name).read_bytes() if name.startswith("tests/") else b""
        stamp = hashlib.sha256(sources + own).hexdigest()
        if known.get(name, {}).get("stamp") == stamp:
            continue
        begin = perf_counter()
        answer = in_child(partial(traced, name))
        if isinstance(answer, str) or answer[0]:
            raise RuntimeError(f"{name} fails without any fault: {answer}")
        known[name] = {"calls": sorted(answer[1]), "seconds": perf_counter() - begin, "stamp": stamp}
        keep.write_text(json.dumps(known), encoding="utf-8")
        print(f"reach: {name} {perf_counter() - begin:.0f} s", flush=True)
    calls_of = {n: {(str(f), int(line)) for f, line in known[n]["calls"]} for n in names}
    return Reach(calls_of, {n: float(known[n]["seconds"]) for n in names})


@dataclass(frozen=True)
class Outcome:
    """What became of one fault: the row or test that noticed ("" where none did), and by which step; its date."""

    name: str
    key: str
    what: str
    by: str
    seconds: float
    day: str
    tried: list[str] = field(default_factory=list)


def _planted(fault: Fault, step: tuple[str, ...]) -> str:
    plant(fault)
    return run(*step)


def attempt(fault: Fault, steps: list[tuple[str, ...]], day: str) -> Outcome:
    """Try a fault step by step until something notices it."""
    begin, tried = perf_counter(), list[str]()

    for step in steps:
        tried += step
        if what := in_child(partial(_planted, fault, step)):
            by = "test" if step[0].startswith("tests/") else step[0]
            return Outcome(fault.name, fault.key, what, by, round(perf_counter() - begin, 1), day, tried)
    return Outcome(fault.name, fault.key, "", "", round(perf_counter() - begin, 1), day, tried)


def warm() -> None:
    """Import the libraries that every child needs."""
    for name in LIBRARIES:
        importlib.import_module(name)
