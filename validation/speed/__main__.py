"""Measure speed against peers and write the page: `python -m validation.speed [--page FILE]` (15 to 30 minutes).

Peers: FiPy and scikit-fem on gmsh (the extra `validation`).
"""

import argparse
import json
import multiprocessing
from pathlib import Path
from time import perf_counter
from typing import Any

from validation.speed import growth, pictures, solid
from validation.speed.curves import timed
from validation.speed.page import WANTED, Measured, page, verdict
from validation.speed.plane import ROOT, SOLVERS, problems
from validation.speed.split import split

FIPY_FINENESS = 0.8  # of the shoe on which FiPy is asked


def _apart(work: Any) -> Any:
    """What a function gives, found in a process of its own, so that its memory is its own."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(work)


def _tell(what: str, begin: float) -> None:
    print(f"{perf_counter() - begin:6.0f} s  {what}", flush=True)


def measure() -> Measured:
    """Run everything."""
    begin = perf_counter()
    wide = growth.bandwidth()
    _tell(f"bandwidth {wide / 1e9:.1f} GB/s", begin)
    command = split(ROOT / "cases" / "winter-brine.toml", ROOT)
    _tell(f"the command {json.dumps(command)}", begin)
    measured = problems()
    _tell("references", begin)
    plane = {}
    for p in measured:
        plane[p.name] = [point for solver in SOLVERS for point in solver(p)]
        _tell(f"section, {p.name}", begin)
    points, reference = solid.solid()
    _tell("shoe", begin)
    by_fipy = solid.fipy(FIPY_FINENESS)
    by_fipy["total"] = timed(lambda: solid.ours(*solid.the_case(), FIPY_FINENESS), 2)[0]
    _tell("shoe by FiPy", begin)
    plane_growth = _apart(growth.plane)
    _tell("growth of sections", begin)
    solid_growth = _apart(growth.solid)
    _tell("growth of supports", begin)
    return Measured(measured, plane, points, reference, by_fipy, command, plane_growth, solid_growth, wide)


def main() -> None:
    """Print the verdict; write page and pictures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--page", type=Path, default=ROOT / "validation" / "speed" / "README.md")
    to = parser.parse_args().page
    m = measure()
    print("\n".join(verdict(m)))
    write(m, to)


def write(m: Measured, to: Path) -> None:
    """The page and its pictures beside it."""
    names = [f"{what}.png" for what in ("error", "split", "growth")]
    panels = [(p.title, m.plane[p.name], WANTED, p.uncertainty) for p in m.problems]
    panels.append(("shoe in 3D: heat sink", m.solid, WANTED, m.solid_reference["uncertainty"]))
    pictures.draw_errors(panels, to.with_name(names[0]))
    solids = [row for row, _ in m.solid_growth]
    pictures.draw_split(m.command, m.plane_growth, solids, to.with_name(names[1]))
    pictures.draw_growth(m.plane_growth, solids, to.with_name(names[2]))
    to.write_text(page(m, names), encoding="utf-8")


if __name__ == "__main__":
    main()
