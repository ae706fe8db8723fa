"""Where the time of `coldspot check CASE --out DIR` goes: one process of its own, each part timed from outside.

Run as a program with the case's path: prints the parts in processor seconds as JSON. Pictures are drawn by a process of
their own beside the solution.
"""

import json
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import process_time
from typing import Any

from sim.child import command, environment

RUNS = 3
PARTS = ("import", "read case", "mesh", "assembly", "solve", "judge", "report", "pictures", "the rest")


def split(case: Path, root: Path) -> dict[str, float]:
    """Processor seconds by part of the quickest of a few runs, `total` being the whole process and its own children."""
    best: dict[str, float] = {}
    for _ in range(RUNS):
        before = _children()
        words = command("validation.speed.split", str(case))
        done = subprocess.run(words, cwd=root, env=environment(), check=True, capture_output=True, text=True)
        total = _children() - before
        if not best or total < best["total"]:
            best = json.loads(done.stdout.splitlines()[-1]) | {"total": total}
    best["the rest"] = best["total"] - sum(best[p] for p in PARTS[:-1])
    return best


def _children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _run(case: Path) -> dict[str, float]:
    begin = process_time()
    import sim.judge.check as judging
    import sim.report.output as output
    import sim.report.page  # noqa: F401
    import sim.solve.at_rest as section
    from sim.case import load_case
    from sim.report.folder import written_folder
    from sim.report.painter import Painter

    spent = {"import": process_time() - begin, "mesh": 0.0, "assembly": 0.0, "solve": 0.0}

    def clocked(part: str, work: Callable[..., Any]) -> Callable[..., Any]:
        def timed(*args: Any, **more: Any) -> Any:
            start = process_time()
            try:
                return work(*args, **more)
            finally:
                spent[part] += process_time() - start

        return timed

    for part, name in (("mesh", "plan_mesh"), ("assembly", "network"), ("solve", "steady_states")):
        setattr(section, name, clocked(part, getattr(section, name)))
    begin = process_time()
    loaded = load_case(case)
    spent["read case"] = process_time() - begin
    with tempfile.TemporaryDirectory() as above:
        begin = process_time()
        with Painter() as painter, written_folder(Path(above) / "out") as work, painter:
            draw = output.drawn_while_solving(loaded, work, painter)
            opened = process_time() - begin
            begin = process_time()
            answer = judging.check(loaded, solved=draw)
            checked = process_time() - begin
            begin = process_time()
            output.write_all(answer, work, painter, drawn=True)
        spent["report"] = process_time() - begin + opened
    spent["pictures"] = _children()
    spent["judge"] = checked - spent["mesh"] - spent["assembly"] - spent["solve"]
    return spent


if __name__ == "__main__":
    print(json.dumps(_run(Path(sys.argv[1]))))
