"""The speed page: every number on it comes from the run that writes it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from validation.speed.curves import Point, Reached, power, reached
from validation.speed.growth import Grown
from validation.speed.plane import Problem
from validation.speed.split import PARTS

WANTED = 0.5  # % of the span
BARS = {2: 5.0, 3: 10.0}
PEERS = ("FiPy", "scikit-fem + gmsh", "FreeFEM")


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
    freefem: bool


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
        f"| problem | coldspot at {WANTED} % | FiPy | scikit-fem + gmsh | FreeFEM | bar |",
        "|---|---:|---:|---:|---:|---|",
    ]
    short = []
    for p in m.problems:
        at = by_who(m.plane[p.name])
        cells, missed = [], []
        for who in PEERS:
            if who not in at:
                cells.append("–")
                continue
            text, met = _against(at["coldspot"], at[who], BARS[2])
            cells.append(text)
            if not met and who != "FreeFEM":
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
        f"| shoe in 3D, heat sink | {_time(at['coldspot'])} | {fipy} | {text} | – | {BARS[3]:g}: {outcome} |"
    )
    return lines


def page(m: Measured, pictures: Sequence[str]) -> str:
    """The whole page as Markdown."""
    lines = [
        "# Speed against peers, at equal error",
        "",
        "Made by `python -m validation.speed` in one run; not written by hand. Times are processor seconds of one core,"
        " the least of a few runs, mesh included: other work on the machine counts little, and ratios are what travels."
        " Bold: how many times longer than coldspot. The shoe and the linear sections are invented for the comparison.",
        "",
        *verdict(m),
        "",
        f"The error is that of the sheath's maximum as a part of the span, hottest less coldest; {WANTED} % must hold"
        " on that mesh and on every finer one of the same series, so that no mesh is right by luck; between two"
        " meshes the time is interpolated on logarithms. In 3D it is the error of the heat sink with the bore held.",
        "",
        *_short(m),
        "",
        *_how(m),
        "",
        f"![error over time]({pictures[0]})",
        "",
        "The grey band is where the reference itself is not sure.",
        "",
        "| problem | our fine solution | finite elements, fine | half their difference |",
        "|---|---:|---:|---:|",
        *(
            f"| {p.title} | {p.ours - 273.15:.4f} degC | {p.theirs - 273.15:.4f} degC |"
            f" {p.uncertainty:.4f} % of the span |"
            for p in m.problems
        ),
        "| shoe, heat sink | {ours:.4f} W | {theirs:.4f} W | {uncertainty:.3f} % of it |".format(
            **m.solid_reference
        ),
        "",
        "The reference is the mean of the two. Ours is extrapolated from two meshes far finer than any timed.",
        "",
        "## Where the time goes",
        "",
        f"`coldspot check cases/winter-brine.toml --out DIR`, three conditions on three meshes: "
        f"{m.command['total']:.2f} s of processor time in all its processes.",
        "",
        "| part | s | share |",
        "|---|---:|---:|",
        *(
            f"| {part} | {m.command[part]:.2f} | {100 * m.command[part] / m.command['total']:.0f} % |"
            for part in PARTS
        ),
        "",
        f"![split]({pictures[1]})",
        "",
        *_growth(m, pictures[2]),
        *_floor(m),
        "",
        *_measured(m),
    ]
    return "\n".join(lines) + "\n"


def _short(m: Measured) -> list[str]:
    """What of the bars is not met, and why."""
    rows = [line for line in verdict(m)[2:] if "**short**" in line]
    first = m.plane_growth[0]
    return [
        f"**{len(rows)} of {len(m.problems) + 1} problems fall short of their bar.** A section of a thousand cells"
        f" spends {100 * first.mesh / first.total:.0f} % of its time on its mesh, much of it in the triangulation;"
        " and on smooth linear sections curved quadratic elements need no more unknowns than we need cells.",
    ]


def _how(m: Measured) -> list[str]:
    return [
        "- **scikit-fem + gmsh**: a competent user's script (`plain_mesh.py`, `plain_elements.py`): sizes at gmsh's"
        " points, no callback, gmsh started once and not counted; linear and curved quadratic triangles, two sizes at"
        " the contact's ends; SuperLU with the same settings as ours; Picard rounds until the field moves by 2e-5 of"
        " its range, the self-regulating output exact in each. In 3D prisms cut into tetrahedra, pyamg under conjugate"
        " gradients (Ruge-Stuben on linear elements, smoothed aggregation on quadratic ones). The better series"
        " counts.",
        "- **FiPy**: our own cells, whose making is part of its time, with their sites as centres: the same discrete"
        " problem, hence the same error (the driver of the second opinion); in the plane its LU, in 3D its conjugate"
        " gradients, sweeps until no cell moves by 1e-7 K.",
        "- **FreeFEM**: compiled; only the problem without a contact resistance, since a jump is awkward in it; time of"
        " the whole process less that of an empty script."
        if m.freefem
        else "- **FreeFEM** (compiled) was not installed where this ran, so it is absent here.",
    ]


def _growth(m: Measured, picture: str) -> list[str]:
    solid = [g for g, _ in m.solid_growth]
    lines = [
        "## How it grows",
        "",
        f"![growth]({picture})",
        "",
        "| | cells or unknowns | mesh s | assembly s | factor or set-up s | solve s | peak of the process GB |",
        "|---|---:|---:|---:|---:|---:|---:|",
    ]
    for name, rows in (("section", m.plane_growth), ("support", solid)):
        lines += [
            f"| {name} | {r.cells:,} | {r.mesh:.3f} | {r.assembly:.3f} | {r.setup:.3f} | {r.solve:.4f} | {r.peak:.2f} |"
            for r in rows
        ]
    slopes = [
        f"{name}: cost goes as cells^{power([r.cells for r in rows], [r.total for r in rows]):.2f} over all,"
        f" ^{power([r.cells for r in rows[-3:]], [r.total for r in rows[-3:]]):.2f} over the three largest"
        for name, rows in (("section", m.plane_growth), ("support", solid))
    ]
    top, last = m.plane_growth[-1], solid[-1]
    largest = max(("mesh", "assembly", "setup", "solve"), key=lambda n: getattr(top, n))
    largest_3d = max(("assembly", "setup", "solve"), key=lambda n: getattr(last, n))
    return [
        *lines,
        "",
        f"Least squares on logarithms. {slopes[0]}; {slopes[1]}. At the largest section the {_called(largest)} takes"
        f" most, {100 * getattr(top, largest) / top.total:.0f} %; at the largest support the {_called(largest_3d)},"
        f" {100 * getattr(last, largest_3d) / last.total:.0f} %. A section needs a few thousand cells. Peak memory is"
        " that of the process so far, what its parent held when it began included; sections and supports ran in a"
        " process each. A support's assembly begins at the section's own field.",
        "",
    ]


def _called(part: str) -> str:
    return {"setup": "factor or multigrid set-up", "solve": "solution"}.get(part, part)


def _floor(m: Measured) -> list[str]:
    lines = [
        "## The physical floor",
        "",
        "Memory bandwidth of one core measured in this run by a triad on arrays far larger than the cache:"
        f" {m.bandwidth / 1e9:.1f} GB/s. No solution can be quicker than what it must read at that rate, as soon as"
        " that no longer fits a cache. 3D: the matrix once an iteration; and all that a cycle reads on all its levels"
        " (each matrix three times, transfers once). 2D: the factor, once down and once up.",
        "",
        "| | unknowns | iterations | measured s | matrix alone: floor s | measured / floor | all levels: floor s |"
        " measured / floor |",
        "|---|---:|---:|---:|---:|---:|---:|---:|",
    ]
    for r, alone in m.solid_growth:
        floors = alone / m.bandwidth, r.read / m.bandwidth
        lines.append(
            f"| support | {r.cells:,} | {r.iterations} | {r.solve:.3f} | {floors[0]:.4f} | {r.solve / floors[0]:.1f} |"
            f" {floors[1]:.4f} | {r.solve / floors[1]:.1f} |"
        )
    for r in m.plane_growth:
        floor = r.read / m.bandwidth
        lines.append(
            f"| section | {r.cells:,} | – | {r.solve:.4f} | {floor:.5f} | {r.solve / floor:.1f} | – | – |"
        )
    return lines


def _measured(m: Measured) -> list[str]:
    lines = [
        "## Everything measured",
        "",
        "| problem | solver | series | setting | unknowns | processor ms | wall ms | error % |",
        "|---|---|---|---:|---:|---:|---:|---:|",
    ]
    for name, points in {**m.plane, "shoe": m.solid}.items():
        lines += [
            f"| {name} | {p.who} | {p.series} | {p.setting:.3g} | {p.unknowns:,.0f} | {1e3 * p.seconds:,.1f} |"
            f" {1e3 * p.wall:,.1f} | {p.error:+.3f} |"
            for p in points
        ]
    f = m.fipy
    return [
        *lines,
        "",
        f"FiPy on the shoe's {f['cells']:,.0f} prisms: its mesh {f['fipy_mesh_seconds']:.2f} s, its solution"
        f" {f['fipy_solve_seconds']:.2f} s; ours in all {f['total']:.2f} s, of which set-up and solution of the same"
        f" linear problem {f['ours_seconds']:.2f} s ({f['fipy_solve_seconds'] / f['ours_seconds']:.1f} times less);"
        f" largest difference of a cell {f['largest_difference']:.1e} of the span.",
    ]
