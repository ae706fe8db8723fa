"""Run the checks and write the page: `python -m validation [--quick] [--page FILE]`.

Exit code 0 if every check passed, 1 if one failed, 3 if a check could not be run.
"""

from __future__ import annotations

import argparse
import importlib
import sys
from importlib.util import find_spec
from pathlib import Path
from time import perf_counter

from sim import __version__
from validation.rows import Row

QUICK = ("check_conduction", "check_closed_forms", "check_films", "check_simplified")
FULL = (
    *QUICK,
    "check_convection",
    "check_support",
    "check_support_elements",
    "check_fipy",
    "check_shipped",
    "check_sections",
)
NEEDS = {
    "check_support_elements": ("skfem", "gmsh", "fipy"),
    "check_fipy": ("fipy",),
    "check_shipped": ("skfem", "gmsh"),
    "check_sections": ("skfem", "gmsh"),
}
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
    ran = ", ".join(f"{name.removeprefix('check_')} {s:.0f} s" for name, s in seconds.items())
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
    rows: list[Row] = []
    seconds: dict[str, float] = {}
    missing = []
    for name in QUICK if options.quick else FULL:
        absent = [p for p in NEEDS.get(name, ()) if find_spec(p) is None]
        if absent:
            missing.append(f"{name} needs {', '.join(absent)}: pip install '.[validation]'")
            continue
        begin = perf_counter()
        found = importlib.import_module(f"validation.{name}").rows()
        seconds[name] = perf_counter() - begin
        for row in found:
            mark = "pass" if row.passed else "FAIL"
            print(
                f"{mark}  {row.check:45s} {row.quantity:40s} {row.published:10.4g} {row.computed:10.4g} {row.unit}"
            )
        rows += found
    failed = [r for r in rows if not r.passed]
    print(f"{len(rows) - len(failed)} of {len(rows)} checks pass")
    for text in missing:
        print(f"not run: {text}", file=sys.stderr)
    if options.page is not None and not missing:
        options.page.write_text(_page(rows, seconds), encoding="utf-8")
    return 1 if failed else 3 if missing else 0


if __name__ == "__main__":
    sys.exit(main())
