"""Plant faults in the program, one at a time, and see what notices: python -m validation.faults [--sample N] [--page].

A fault (`faults.toml`) is a change of one function's syntax tree, made as the module is imported; no file is touched.
With it in place the quick checks run (`coldspot verify`) up to the first row that fails, and where none does, the tests
of the rooms that compute, as far as they call the function that the fault is in. A crash counts as caught, a hang too.
The record grows as faults are tried, so that a run can be stopped and taken up again, and two runs (`--only`) can go
side by side; the page `validation/faults/README.md` is made from it. All of the list takes hours; a sample goes through
the rooms in turn.
"""

import argparse
import json
import sys
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

from validation.faults.fault import Fault, NoFit, faults
from validation.faults.page import page
from validation.faults.trial import ROOT, Outcome, attempt, measure_reach, warm


def sample(every: tuple[Fault, ...], count: int) -> list[Fault]:
    """So many faults, from each room in turn, in each room in the order of their keys, which is as good as chance."""
    rooms: dict[str, list[Fault]] = {}
    for fault in sorted(every, key=lambda f: f.key):
        rooms.setdefault(fault.room, []).append(fault)
    turns = max(map(len, rooms.values()), default=0)
    return [of[i] for i in range(turns) for of in rooms.values() if i < len(of)][:count]


def misfits(every: tuple[Fault, ...]) -> dict[str, str]:
    """Why a fault no longer has a place in the program, by its name."""
    places = {}
    for fault in every:
        try:
            fault.planted(fault.source())
        except NoFit as error:
            places[fault.name] = str(error)
    return places


def main(arguments: list[str] | None = None) -> int:
    """Try the faults, write the record and the page; 0 if all that were tried were caught."""
    parser = argparse.ArgumentParser(prog="python -m validation.faults", description=__doc__)
    parser.add_argument("--only", default="", help="faults whose name, effect or place has this text")
    parser.add_argument(
        "--sample", type=int, default=0, metavar="N", help="so many, from all rooms; all without it"
    )
    parser.add_argument("--again", action="store_true", help="try those in the record anew")
    parser.add_argument("--list", action="store_true", help="only say which faults no longer have a place")
    parser.add_argument("--record", type=Path, default=ROOT / "out" / "faults.jsonl")
    parser.add_argument(
        "--page", action="store_true", help="write validation/faults/README.md from the record"
    )
    options = parser.parse_args(arguments)
    every, absent = faults(), misfits(faults())
    for name, why in absent.items():
        print(f"no place   {name}: {why}")
    known = read_record(options.record)
    fit = tuple(f for f in every if f.name not in absent)
    text = options.only.casefold()
    chosen = [f for f in fit if text in f"{f.name} {f.effect} {f.place}".casefold()]
    chosen = sample(tuple(chosen), options.sample or len(chosen))
    todo = [f for f in chosen if (options.again or f.key not in known) and not (options.list or options.page)]
    if todo:
        warm()
        options.record.parent.mkdir(parents=True, exist_ok=True)
        reach = measure_reach(options.record.with_suffix(".reach.json"))
    for fault in todo:
        outcome = attempt(fault, reach.steps(fault), f"{datetime.now(UTC):%Y-%m-%d}")
        known[fault.key] = outcome
        with options.record.open("a", encoding="utf-8") as record:
            record.write(json.dumps(asdict(outcome), ensure_ascii=False) + "\n")
        print(
            f"{'caught' if outcome.what else 'SURVIVED':9s}{outcome.seconds:6.0f} s  {fault.name}: {outcome.what}"
        )
    if options.page:
        text = page(fit, absent, known)
        (ROOT / "validation" / "faults" / "README.md").write_text(text, encoding="utf-8")
    left = [f.name for f in fit if f.key in known and not known[f.key].what]
    tried = sum(f.key in known for f in fit)
    print(f"{len(every)} faults, {len(absent)} without a place, {tried} tried, {len(left)} survived: {left}")
    return 1 if left else 0


def read_record(path: Path) -> dict[str, Outcome]:
    """Last outcome of each fault, by its key."""
    if not path.exists():
        return {}
    lines = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    return {line["key"]: Outcome(**line) for line in lines}


if __name__ == "__main__":
    sys.exit(main())
