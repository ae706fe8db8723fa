"""Plant faults in the numerics of `sim`, one at a time, and see what notices.

    python -m validation.faults [--processes N] [--only TEXT] [--again survived|all] [--page]

Every fault is one small edit (`*.toml` here). It is planted in a copy of the tree; then the quick checks run
(`coldspot verify`) up to the first row that fails, and where none does, the tests of the rooms that compute, as far as
they call the function the fault is in. A crash counts as caught, a hang too. The record grows as the faults are tried,
so that a run can be stopped and taken up again; the page `validation/faults/README.md` is made from it.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import SimpleQueue
from threading import Lock

from validation.faults.listing import Fault, faults
from validation.faults.page import page
from validation.faults.trial import ROOT, Bench, Outcome, as_line, attempt, measure_reach


def read_record(path: Path) -> dict[str, Outcome]:
    """Last outcome of each fault that is still what it was, by its key."""
    if not path.exists():
        return {}
    lines = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    return {line["key"]: Outcome(**line) for line in lines}


def wanted(every: tuple[Fault, ...], known: dict[str, Outcome], only: str, again: str) -> list[Fault]:
    """The faults still to be tried: one of each effect, then a second of each, so that a run cut short covers all."""
    chosen = [f for f in every if only.casefold() in f"{f.name} {f.effect} {f.file}".casefold()]
    fresh = {"": set(known), "survived": {k for k, o in known.items() if o.by}, "all": set()}[again]
    rank = Counter[str]()
    turn: dict[str, int] = {}
    for fault in chosen:
        turn[fault.key] = rank[fault.effect]
        rank[fault.effect] += 1
    return sorted((f for f in chosen if f.key not in fresh), key=lambda f: turn[f.key])


def main(arguments: list[str] | None = None) -> int:
    """Try the faults, write the record and the page; 0 if all but explained ones were caught."""
    parser = argparse.ArgumentParser(prog="python -m validation.faults", description=__doc__)
    parser.add_argument("--processes", type=int, default=1, help="faults tried at once")
    parser.add_argument("--only", default="", help="faults whose name, effect or file has this text")
    parser.add_argument("--again", choices=("", "survived", "all"), default="", help="try known ones anew")
    parser.add_argument("--record", type=Path, default=ROOT / "out" / "faults.jsonl")
    parser.add_argument(
        "--page", action="store_true", help="write validation/faults/README.md from the record"
    )
    options = parser.parse_args(arguments)
    every = faults()
    options.record.parent.mkdir(parents=True, exist_ok=True)
    known = read_record(options.record)
    todo = wanted(every, known, options.only, options.again)
    with tempfile.TemporaryDirectory(prefix="faults-") as folder:
        benches = [Bench(Path(folder) / str(n)) for n in range(options.processes if todo else 0)]
        free: SimpleQueue[Bench] = SimpleQueue()
        for bench in benches:
            free.put(bench)
        lock = Lock()
        reach = measure_reach(benches[0], options.record.with_suffix(".reach.json")) if todo else None

        def one(fault: Fault) -> None:
            assert reach is not None
            bench = free.get()
            try:
                outcome = attempt(fault, bench, reach)
            finally:
                free.put(bench)
            with lock, options.record.open("a", encoding="utf-8") as record:
                record.write(as_line(outcome) + "\n")
                known[fault.key] = outcome
                told = f"{outcome.by or 'SURVIVED':9s}{outcome.seconds:6.0f} s"
                print(f"{told}  {fault.name}: {outcome.what}", flush=True)

        with ThreadPoolExecutor(options.processes) as pool:
            list(pool.map(one, todo))
        for bench in benches:
            bench.close()
    if options.page:
        (ROOT / "validation" / "faults" / "README.md").write_text(page(every, known), encoding="utf-8")
    left = [f for f in every if f.key in known and not known[f.key].by]
    print(f"{len(every)} faults, {len(known)} tried, {len(left)} survived")
    return 1 if any(not f.why for f in left) else 0


if __name__ == "__main__":
    sys.exit(main())
