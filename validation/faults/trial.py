"""One planted fault tried in a copy of the tree: first the quick checks, then the tests that reach it."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from time import perf_counter

from validation.faults.listing import Fault

ROOT = Path(__file__).parents[2]
PROBE = Path(__file__).with_name("probe.py")
ROOMS = ("section", "heat", "solve", "judge", "case", "study", "verify")
OWN = "tests/verify/test_fault_list.py"  # it pins the list itself, so it would notice every fault
COPIED = ("sim", "tests", "cases", "validation", "pyproject.toml", "README.md")
VERIFY_LIMIT, TESTS_LIMIT = 300.0, 1200.0  # s, beyond which a run counts as a hang
ENDING = re.compile(r"^(?:FAILED|ERROR) (\S+?)(?: - (.*))?$", re.MULTILINE)


@dataclass(frozen=True)
class Reach:
    """What each set of checks calls: functions by "verify" or the file of tests; seconds each took."""

    functions: dict[str, frozenset[tuple[str, int]]]
    seconds: dict[str, float]

    def tests_of(self, fault: Fault, text: str) -> list[str]:
        """Files of tests that call the function the fault is in (all, outside any function): likeliest first."""
        line = fault.function(text)
        files = [
            name
            for name, calls in self.functions.items()
            if name != "verify" and (line is None or (fault.file, line) in calls)
        ]
        room, stem = Path(fault.file).parts[1], Path(fault.file).stem
        return sorted(
            files,
            key=lambda name: (
                Path(name).stem != f"test_{stem}",
                Path(name).parts[1] != room,
                self.seconds[name],
            ),
        )

    def verify_reaches(self, fault: Fault, text: str) -> bool:
        """Whether the quick checks call the function the fault is in, or might depend on a line outside any."""
        line = fault.function(text)
        calls = self.functions["verify"]
        if line is None:
            return any(file == fault.file for file, _ in calls) or not fault.file.startswith("sim/study")
        return (fault.file, line) in calls


@dataclass(frozen=True)
class Outcome:
    """What became of one fault. by: "verify", "tests" or "" (survived); what: the row or test that noticed."""

    name: str
    key: str
    by: str
    what: str
    seconds: float
    tried: list[str] = field(default_factory=list)


def copy_tree(into: Path) -> Path:
    """A copy of what the checks need, without compiled files."""
    into.mkdir(parents=True, exist_ok=True)
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(
                source, into / name, ignore=shutil.ignore_patterns("__pycache__"), dirs_exist_ok=True
            )
        elif source.exists():
            shutil.copy(source, into / name)
    return into


def environment() -> dict[str, str]:
    """One thread each, and no compiled files: an edit within a second of the last must not go unseen."""
    threads = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    return os.environ | threads | {"PYTHONDONTWRITEBYTECODE": "1"}


def test_files(tree: Path) -> list[str]:
    """The files of tests of the rooms that compute, without the one that pins the list of faults."""
    found = [
        p.relative_to(tree).as_posix() for room in ROOMS for p in (tree / "tests" / room).glob("test_*.py")
    ]
    return sorted(name for name in found if name != OWN)


def measure_reach(tree: Path, names: Iterable[str], keep: Path) -> Reach:
    """Run every set of checks once and note what it calls; kept in a file, read back where it is there."""
    known: dict[str, dict[str, object]] = json.loads(keep.read_text()) if keep.exists() else {}
    for name in names:
        if name in known:
            continue
        out = tree / "reach.json"
        begin = perf_counter()
        done = subprocess.run(
            [sys.executable, str(PROBE), "reach", str(out), name],
            cwd=tree,
            env=environment(),
            capture_output=True,
            text=True,
        )
        if done.returncode:
            raise RuntimeError(f"{name} fails without any fault:\n{done.stdout[-3000:]}{done.stderr[-2000:]}")
        known[name] = {"calls": json.loads(out.read_text()), "seconds": perf_counter() - begin}
        keep.write_text(json.dumps(known), encoding="utf-8")
        print(f"reach: {name} {perf_counter() - begin:.0f} s", flush=True)
    functions = {n: frozenset((f, line) for f, line in known[n]["calls"]) for n in names}  # type: ignore[attr-defined]
    return Reach(functions, {n: float(known[n]["seconds"]) for n in names})  # type: ignore[arg-type]


def attempt(fault: Fault, tree: Path, reach: Reach) -> Outcome:
    """Plant a fault in the tree, run what may notice it, and take it out again."""
    path = tree / fault.file
    text = path.read_text(encoding="utf-8")
    path.write_text(fault.planted(text), encoding="utf-8")
    begin = perf_counter()
    tried: list[str] = []
    try:
        by, what = "", ""
        if reach.verify_reaches(fault, text):
            tried.append("verify")
            what = _verify(tree)
            by = "verify" if what else ""
        files = reach.tests_of(fault, text)
        if not what and files:
            tried += files
            what = _tests(tree, files)
            by = "tests" if what else ""
    finally:
        path.write_text(text, encoding="utf-8")
    return Outcome(fault.name, fault.key, by, what, round(perf_counter() - begin, 1), tried)


def as_line(outcome: Outcome) -> str:
    """One line of the record."""
    return json.dumps(asdict(outcome), ensure_ascii=False)


def _verify(tree: Path) -> str:
    try:
        done = _run([str(PROBE), "verify"], tree, VERIFY_LIMIT)
    except subprocess.TimeoutExpired:
        return f"hangs (over {VERIFY_LIMIT:.0f} s)"
    try:
        found = json.loads(done.stdout.strip().splitlines()[-1])
    except (IndexError, ValueError):
        return f"the process died ({done.returncode})"
    return found.get("row") or found.get("crash", "")


def _tests(tree: Path, files: list[str]) -> str:
    options = ["-x", "-q", "-m", "not slow", "-p", "no:cacheprovider", "--tb=no", "-rfE"]
    try:
        done = _run(["-m", "pytest", *options, *files], tree, TESTS_LIMIT)
    except subprocess.TimeoutExpired:
        return f"hangs (over {TESTS_LIMIT:.0f} s)"
    if done.returncode in (0, 5):
        return ""
    named = ENDING.search(done.stdout)
    return named[1] if named else f"pytest ended with {done.returncode}: {done.stderr[-150:]}"


def _run(arguments: list[str], tree: Path, limit: float) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *arguments],
        cwd=tree,
        env=environment(),
        capture_output=True,
        text=True,
        timeout=limit,
    )
