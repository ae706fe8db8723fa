"""Run the checks and write the page: `python -m validation [--quick] [--page FILE]`.

Exit code 0 if every check passed, 1 if one failed, 3 if a check could not be run.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from sim import __version__
from sim.verify.rows import Row
from sim.verify.run import run

HEAD = """# What the field was checked against

Made by `python -m validation --page validation/README.md` from a real run of version {version}; not written by hand.
Each line names its source; `from memory` marks a value recalled and not seen. The band is our own numerical
uncertainty (three meshes). A check of a model is no certificate of a line: local codes, the standard in force and
licensed practice decide.

{summary}

| check | quantity | published | computed | difference | band | tolerance, why | |
|---|---|---:|---:|---:|---:|---|---|
"""


def _line(row: Row) -> str:
    band = "" if row.band is None else f"{row.band:.2g}"
    cells = (
        row.check,
        f"{row.quantity} ({row.unit})",
        f"{row.published:.5g}",
        f"{row.computed:.5g}",
        f"{row.difference:+.2g}",
        band,
        f"{row.tolerance:.2g}: {row.reason}",
        "pass" if row.passed else "**FAIL**",
    )
    return "| " + " | ".join(cells) + " |"


def _page(rows: list[Row], seconds: dict[str, float]) -> str:
    failed = sum(not r.passed for r in rows)
    ran = ", ".join(f"{name} {s:.0f} s" for name, s in seconds.items())
    summary = f"**{len(rows) - failed} of {len(rows)} pass.** Run: {ran}."
    sources: dict[str, list[str]] = {}
    for row in rows:
        names = sources.setdefault(row.source, [])
        if row.check not in names:
            names.append(row.check)
    lines = [HEAD.format(version=__version__, summary=summary) + "\n".join(map(_line, rows))]
    lines += ["", "## Sources", ""] + [f"- {source}: {', '.join(names)}" for source, names in sources.items()]
    return "\n".join(lines) + "\n"


def main(arguments: list[str] | None = None) -> int:
    """Run, print, and write the page if asked; returns the exit code."""
    parser = argparse.ArgumentParser(prog="python -m validation", description=__doc__)
    parser.add_argument(
        "--quick", action="store_true", help="closed forms, films and the simplified method only"
    )
    parser.add_argument("--page", type=Path, help="write the table to this file")
    options = parser.parse_args(arguments)

    def tell(row: Row) -> None:
        mark = "pass" if row.passed else "FAIL"
        numbers = f"{row.published:10.4g} {row.computed:10.4g} {row.unit}"
        print(f"{mark}  {row.check:45s} {row.quantity:40s} {numbers}", flush=True)

    outcome = run(full=not options.quick, tell=tell)
    print(f"{len(outcome.rows) - len(outcome.failed)} of {len(outcome.rows)} checks pass")
    for text in outcome.missing:
        print(f"not run: {text}", file=sys.stderr)
    if options.page is not None and not outcome.missing:
        options.page.write_text(_page(outcome.rows, outcome.seconds), encoding="utf-8")
    return outcome.exit_code


if __name__ == "__main__":
    sys.exit(main())
