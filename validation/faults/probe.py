"""Run by path in a copy of the tree: a server that runs checks and tests in children that fork from it.

The libraries are imported once, before any fork; `sim` and the tests are imported in each child, with whatever fault
is planted then. Each line read is a job in JSON, each line written its answer:

    {"what": "check", "name": "films.examples"}               {} , {"row": ...}, {"crash": ...} or {"hang": ...}
    {"what": "tests", "files": [...]}                  {} , {"test": ...}, {"crash": ...} or {"hang": ...}

With "reach": true the answer also has "calls": the functions of sim that were called.
"""

from __future__ import annotations

import importlib
import io
import json
import os
import re
import select
import signal
import sys
import threading
from collections.abc import Callable
from contextlib import redirect_stdout
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

sys.path.insert(0, os.getcwd())
# fmt: off
LIBRARIES = (
    "numpy", "scipy.sparse.linalg", "scipy.sparse.csgraph", "scipy.spatial", "scipy.optimize", "scipy.stats",
    "scipy.special", "scipy.constants", "pydantic", "pint", "tomli_w", "fluids", "fluids.piping", "fluids.atmosphere",
    "ht", "ht.conv_internal", "ht.conduction", "iapws", "pyamg", "pytest", "hypothesis",
)
# fmt: on
ENDING = re.compile(r"^(?:FAILED|ERROR) (.+?)(?: - .*)?$", re.MULTILINE)
Answer = dict[str, Any]


def check(name: str) -> Answer:
    """Run one quick check, module.function; the first row that fails."""
    module, rows = name.rsplit(".", 1)
    for row in getattr(importlib.import_module(f"validation.checks.{module}"), rows)():
        if not row.passed:
            return {"row": f"{row.check}: {row.quantity}"}
    return {}


def tests(files: list[str], only_collect: bool) -> Answer:
    """Run files of tests in their order, or only collect them; the first test that fails."""
    import pytest

    options = ["-x", "-q", "-m", "not slow", "-p", "no:cacheprovider", "--tb=no", "-rfE"]
    options += ["--collect-only"] if only_collect else []
    said = io.StringIO()
    with redirect_stdout(said):
        status = int(pytest.main([*options, *files]))
    if status in (0, 5):  # 5: nothing but slow tests
        return {}
    named = ENDING.search(said.getvalue())
    return {"test": named[1] if named else f"pytest ended with {status}"}


def run(job: Answer) -> Answer:
    """Do one job, here."""
    if job["what"] == "check":
        return check(job["name"])
    return tests(job["files"], bool(job.get("collect")))


def reached(job: Answer) -> Answer:
    """Do one job and say which functions of sim were called: [file, first line] each."""
    called: dict[int, CodeType] = {}

    def note(frame: FrameType, event: str, _: object) -> None:
        called.setdefault(id(frame.f_code), frame.f_code)

    threading.settrace(note)
    sys.settrace(note)
    answer = run(job)
    sys.settrace(None)
    root = Path.cwd()
    paths = [(Path(code.co_filename), code.co_firstlineno) for code in called.values()]
    own = {(p.relative_to(root).as_posix(), n) for p, n in paths if p.is_relative_to(root / "sim")}
    return answer | {"calls": sorted(own)}


def in_child(job: Answer, do: Callable[[Answer], Answer]) -> Answer:
    """Do a job in a forked child, at most job["limit"] seconds."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.setpgid(0, 0)
        os.close(read)
        null = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(null, stream)
        try:
            answer = do(job)
        except BaseException as error:
            answer = {"crash": f"{type(error).__name__}: {error}"[:200]}
        with os.fdopen(write, "w") as out:
            out.write(json.dumps(answer))
        os._exit(0)
    os.close(write)
    text = b""
    while select.select([read], [], [], job["limit"])[0]:
        part = os.read(read, 1 << 16)
        if not part:
            break
        text += part
    else:
        os.killpg(child, signal.SIGKILL)
        text = json.dumps({"hang": f"over {job['limit']:.0f} s"}).encode()
    os.close(read)
    os.waitpid(child, 0)
    return json.loads(text) if text else {"crash": "the process died"}


def main() -> None:
    """Serve until the input ends."""
    for name in LIBRARIES:
        importlib.import_module(name)
    for line in sys.stdin:
        job = json.loads(line)
        print(json.dumps(in_child(job, reached if job.get("reach") else run)), flush=True)


if __name__ == "__main__":
    main()
