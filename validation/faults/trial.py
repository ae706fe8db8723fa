"""One planted fault tried in a copy of the tree: the quick checks, then the tests, as far as they reach it."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from dataclasses import asdict, dataclass, field
from importlib import import_module
from pathlib import Path
from time import perf_counter
from typing import Any

from validation.faults.listing import Fault

ROOT = Path(__file__).parents[2]
PROBE = Path(__file__).with_name("probe.py")
ROOMS = ("section", "heat", "solve", "judge", "case", "study", "verify", "property")
MACHINERY = (
    "test_pool.py",
    "test_dask.py",
    "test_kill.py",
    "test_command.py",
)  # of processes, not of numbers
COPIED = ("sim", "tests", "cases", "validation", "pyproject.toml", "README.md")
CHECK_LIMIT, TESTS_LIMIT = 600.0, 3600.0  # s, beyond which a run counts as a hang


class Bench:
    """A copy of the tree with a server for checks and tests in it; see `probe.py`."""

    def __init__(self, tree: Path) -> None:
        self.tree = tree
        tree.mkdir(parents=True)
        for name in COPIED:
            source = ROOT / name
            if source.is_dir():
                shutil.copytree(source, tree / name, ignore=shutil.ignore_patterns("__pycache__"))
            elif source.exists():
                shutil.copy(source, tree / name)
        threads = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
        # no compiled files: an edit within a second of the last must not go unseen
        self.server = subprocess.Popen(
            [sys.executable, str(PROBE)],
            cwd=tree,
            env=os.environ | threads | {"PYTHONDONTWRITEBYTECODE": "1"},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def ask(self, **job: Any) -> dict[str, Any]:
        """What the server says to one job."""
        assert self.server.stdin is not None
        assert self.server.stdout is not None
        self.server.stdin.write(json.dumps(job) + "\n")
        self.server.stdin.flush()
        answer: dict[str, Any] = json.loads(self.server.stdout.readline())
        return answer

    def close(self) -> None:
        """End the server."""
        assert self.server.stdin is not None
        self.server.stdin.close()
        self.server.wait()


@dataclass(frozen=True)
class Reach:
    """The functions of sim that each set of checks calls, and the seconds it takes: quick checks and files of tests."""

    calls: dict[str, frozenset[tuple[str, int]]]
    seconds: dict[str, float]

    def _of(self, fault: Fault, text: str, tests: bool) -> list[str]:
        line = fault.function(text)
        every = (name for name in self.calls if name.startswith("tests/") is tests)
        if line is None:  # outside any function anything may depend on it; the checks know nothing of studies
            return [n for n in every if tests or not fault.file.startswith("sim/study")]
        return [n for n in every if (fault.file, line) in self.calls[n]]

    def checks_of(self, fault: Fault, text: str) -> list[str]:
        """Quick checks that call the function the fault is in, the shortest first."""
        return sorted(self._of(fault, text, False), key=lambda name: self.seconds[name])

    def tests_of(self, fault: Fault, text: str) -> list[str]:
        """Files of tests that do (all of them where it is in no function), the likeliest first."""
        room, stem = Path(fault.file).parts[1], Path(fault.file).stem

        def last(name: str) -> tuple[bool, bool, float]:
            path = Path(name)
            return path.stem != f"test_{stem}", room not in path.parts, self.seconds[name]

        return sorted(self._of(fault, text, True), key=last)


@dataclass(frozen=True)
class Outcome:
    """What became of one fault. by: "verify", "tests" or "" (survived); what: the row or test that noticed."""

    name: str
    key: str
    by: str
    what: str
    seconds: float
    tried: list[str] = field(default_factory=list)


def quick_checks() -> list[str]:
    """The quick checks as module.function."""
    from validation.published.run import CHECKS, checks_of

    modules = {c.name: import_module(f"validation.checks.{c.name}") for c in CHECKS if c.quick}
    return [
        f"{name}.{rows.__name__}" for name, module in modules.items() for rows in checks_of(module, False)
    ]


def test_files() -> list[str]:
    """The files of tests of the rooms that compute."""
    found = (p for room in ROOMS for p in (ROOT / "tests" / room).glob("test_*.py"))
    names = (p.relative_to(ROOT).as_posix() for p in (*found, ROOT / "tests" / "test_clock.py"))
    return sorted(name for name in names if Path(name).name not in MACHINERY)


def _job(name: str) -> dict[str, Any]:
    if name.startswith("tests/"):
        return _job_of([name])
    return {"what": "check", "name": name, "limit": CHECK_LIMIT}


def _job_of(files: list[str]) -> dict[str, Any]:
    return {"what": "tests", "files": files, "limit": TESTS_LIMIT}


def measure_reach(bench: Bench, keep: Path) -> Reach:
    """Run every set of checks once, without any fault, and note what it calls; kept in a file, and read from it."""
    known: dict[str, Any] = json.loads(keep.read_text(encoding="utf-8")) if keep.exists() else {}
    names = [*quick_checks(), *test_files()]
    clash = bench.ask(**_job_of(test_files()), collect=True)
    if clash:
        raise RuntimeError(f"the tests cannot be collected in one run: {clash}")
    sources = b"".join(p.read_bytes() for p in sorted((ROOT / "sim").rglob("*.py")))
    for name in names:
        own = (ROOT / name).read_bytes() if name.startswith("tests/") else b""
        stamp = hashlib.sha256(sources + own).hexdigest()
        if known.get(name, {}).get("stamp") == stamp:
            continue
        begin = perf_counter()
        answer = bench.ask(**_job(name), reach=True)
        calls = answer.pop("calls", [])
        if answer:
            raise RuntimeError(f"{name} fails without any fault: {answer}")
        known[name] = {"calls": calls, "seconds": perf_counter() - begin, "stamp": stamp}
        keep.write_text(json.dumps(known), encoding="utf-8")
        print(f"reach: {name} {perf_counter() - begin:.0f} s", flush=True)
    calls_of = {n: frozenset((str(f), int(line)) for f, line in known[n]["calls"]) for n in names}
    return Reach(calls_of, {n: float(known[n]["seconds"]) for n in names})


def attempt(fault: Fault, bench: Bench, reach: Reach) -> Outcome:
    """Plant a fault in the bench's tree, run what may notice it, and take it out again."""
    path = bench.tree / fault.file
    text = path.read_text(encoding="utf-8")
    path.write_text(fault.planted(text), encoding="utf-8")
    begin = perf_counter()
    tried: list[str] = []
    what = ""
    steps = [("verify", [name]) for name in reach.checks_of(fault, text)]
    files = reach.tests_of(fault, text)
    # what the checks hardly look at is tried by its own tests first
    steps.insert(0 if Path(fault.file).parts[1] == "case" else len(steps), ("tests", files))
    try:
        for by, names in steps:
            if not names:
                continue
            tried += names
            what = _said(bench.ask(**(_job(names[0]) if by == "verify" else _job_of(names))))
            if what:
                what = what if by == "tests" or ": " in what else f"{names[0]}: {what}"
                break
        else:
            by = ""
    finally:
        path.write_text(text, encoding="utf-8")
    return Outcome(fault.name, fault.key, by, what, round(perf_counter() - begin, 1), tried)


def as_line(outcome: Outcome) -> str:
    """One line of the record."""
    return json.dumps(asdict(outcome), ensure_ascii=False)


def _said(answer: dict[str, Any]) -> str:
    """The answer in words, "" where nothing was noticed."""
    if "hang" in answer:
        return f"it hangs ({answer['hang']})"
    if "crash" in answer:
        return f"it crashes: {answer['crash']}"
    return str(answer.get("row") or answer.get("test") or "")
