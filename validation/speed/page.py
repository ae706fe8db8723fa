"""The speed page: every number on it comes from the run that writes it."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

from validation.pages import rendered
from validation.speed.curves import Point, Reached, power, reached
from validation.speed.growth import Grown
from validation.speed.plane import Problem
from validation.speed.split import PARTS

WANTED = 0.5  # % of the span
BARS = {2: 5.0, 3: 10.0}
PEERS = ("FiPy", "scikit-fem + gmsh")


@dataclass(frozen=True)
class Measured:
    """All that one run measured."""

    problems: Sequence[Problem]
    plane: dict[str, list[Point]]
    solid: list[Point]
    solid_reference: dict[str, float]
    fipy: dict[str, float]
    command: dict[str, float]
    plane_growth: list[Grown]
    solid_growth: list[tuple[Grown, float]]
    bandwidth: float


def by_who(points: Sequence[Point]) -> dict[str, Reached]:
    """When each solver stays below the wanted error."""
    return {
        who: reached([p for p in points if p.who == who], WANTED)
        for who in dict.fromkeys(p.who for p in points)
    }


def _time(r: Reached) -> str:
    if not isfinite(r.seconds):
        return "not reached"
    return f"{'<= ' if r.bound else ''}{1e3 * r.seconds:,.0f} ms"


def _against(ours: Reached, theirs: Reached, bar: float) -> tuple[str, bool]:
    ratio = theirs.seconds / ours.seconds
    if not isfinite(ratio):
        return f"{_time(theirs)}", True
    return f"{_time(theirs)} ({theirs.series}): **{ratio:.1f}**", ratio >= bar


def verdict(m: Measured) -> list[str]:
    """The table of times at equal error, and what of the bars is met."""
    lines = [
        f"| problem | coldspot at {WANTED} % | FiPy | scikit-fem + gmsh | bar |",
        "|---|---:|---:|---:|---|",
    ]
    short = []
    for p in m.problems:
        at = by_who(m.plane[p.name])
        cells, missed = [], []
        for who in PEERS:
            text, met = _against(at["coldspot"], at[who], BARS[2])
            cells.append(text)
            if not met:
                missed.append(who)
        outcome = "met" if not missed else f"**short** against {' and '.join(missed)}"
        short += missed
        lines.append(
            f"| {p.title} | {_time(at['coldspot'])} | {' | '.join(cells)} | {BARS[2]:g}: {outcome} |"
        )
    at = by_who(m.solid)
    text, met = _against(at["coldspot"], at["scikit-fem + gmsh"], BARS[3])
    theirs = m.fipy["fipy_mesh_seconds"] + m.fipy["fipy_solve_seconds"]
    ratio = theirs / m.fipy["total"]
    fipy = f"{1e3 * theirs:,.0f} ms on the same {m.fipy['cells']:,.0f} cells: **{ratio:.1f}**"
    missed = [n for n, ok in (("FiPy", ratio >= BARS[3]), ("scikit-fem + gmsh", met)) if not ok]
    outcome = "met" if not missed else f"**short** against {' and '.join(missed)}"
    lines.append(
        f"| shoe in 3D, heat sink | {_time(at['coldspot'])} | {fipy} | {text} | {BARS[3]:g}: {outcome} |"
    )
    return lines


def page(m: Measured, pictures: Sequence[str]) -> str:
    """The whole page as Markdown."""
    growth = {"section": m.plane_growth, "support": [grown for grown, _ in m.solid_growth]}
    table = verdict(m)
    return rendered(
        Path(__file__).with_name("page.md.jinja"),
        m=m,
        verdict=table,
        short=sum("**short**" in line for line in table),
        wanted=WANTED,
        parts=PARTS,
        pictures=pictures,
        growth=growth,
        power=lambda rows: power([r.cells for r in rows], [r.total for r in rows]),
        most={name: _largest(rows[-1], ("mesh",) * (name == "section")) for name, rows in growth.items()},
    )


def _largest(grown: Grown, more: tuple[str, ...]) -> tuple[str, float]:
    """The part that takes most of a problem's time, in words, and its share in %."""
    part = max((*more, "assembly", "setup", "solve"), key=lambda name: float(getattr(grown, name)))
    words = {"setup": "factor or multigrid set-up", "solve": "solution"}.get(part, part)
    return words, 100 * getattr(grown, part) / grown.total
