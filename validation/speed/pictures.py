"""The pictures of the speed page: error over time, growth, and where the command's time goes."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from sim.report.style import FAINT, INK, figure, save
from validation.speed.curves import Point
from validation.speed.growth import Grown
from validation.speed.split import PARTS

WHO = {
    "coldspot": ("#b3261e", "o"),
    "scikit-fem + gmsh": ("#00639c", "s"),
    "FiPy": ("#6b7f1e", "^"),
}
STYLES = ("-", "--", ":", "-.")
LEGEND = {"frameon": False, "fontsize": 6}
SMALLEST = 3e-3  # % of the span; what lies lower is drawn here


def draw_errors(panels: Sequence[tuple[str, Sequence[Point], float, float]], path: Path) -> None:
    """Panels (title, points, wanted error, reference's own uncertainty): error over time, one line a series."""
    made = figure(11.0, 3.0 * ((len(panels) + 1) // 2))
    grid = made.subplots((len(panels) + 1) // 2, 2, squeeze=False).ravel()
    for axes, (title, points, target, unsure) in zip(grid, panels, strict=False):
        for who, (colour, marker) in WHO.items():
            mine = [p for p in points if p.who == who]
            for style, series in zip(STYLES, dict.fromkeys(p.series for p in mine), strict=False):
                line = sorted((p for p in mine if p.series == series), key=lambda p: p.unknowns)
                axes.loglog(
                    [1e3 * p.seconds for p in line],
                    [max(abs(p.error), SMALLEST) for p in line],
                    style,
                    marker=marker,
                    color=colour,
                    ms=3,
                    lw=0.9,
                    label=f"{who}, {series}",
                )
        axes.axhline(target, color=INK, lw=0.7)
        axes.set_ylim(bottom=SMALLEST)
        axes.axhspan(SMALLEST, max(unsure, SMALLEST), color=FAINT, alpha=0.25, lw=0)
        axes.set_title(title, fontsize=8)
        axes.set_xlabel("processor time, ms")
        axes.set_ylabel("error, %")
        _plain(axes)
        axes.legend(**LEGEND, loc="upper left", bbox_to_anchor=(1.0, 1.0))
    for axes in grid[len(panels) :]:
        axes.set_axis_off()
    made.tight_layout()
    save(made, path)


def draw_growth(plane: Sequence[Grown], solid: Sequence[Grown], path: Path) -> None:
    """Time of each part over the number of cells, both axes logarithmic."""
    made = figure(9.0, 3.4)
    for axes, rows, title in zip(
        made.subplots(1, 2), (plane, solid), ("section (2D)", "support (3D)"), strict=True
    ):
        size = [r.cells for r in rows]
        for part, marker in (("mesh", "o"), ("assembly", "s"), ("setup", "^"), ("solve", "D")):
            cost = [getattr(r, part) for r in rows]
            if max(cost) > 1e-3:
                label = {"setup": "factor" if title.startswith("section") else "multigrid set-up"}.get(
                    part, part
                )
                axes.loglog(size, np.maximum(cost, 1e-5), marker=marker, ms=3, lw=0.9, label=label)
        axes.loglog(size, [r.total for r in rows], color=INK, lw=1.4, label="all")
        first = rows[0]
        axes.loglog(
            size, [first.total * n / first.cells for n in size], ":", color=FAINT, label="in proportion"
        )
        axes.set_title(title, fontsize=8)
        axes.set_xlabel("cells" if title.startswith("section") else "unknowns")
        axes.set_ylabel("processor time, s")
        _plain(axes)
        axes.legend(**LEGEND)
    made.tight_layout()
    save(made, path)


def _plain(axes: Any) -> None:
    """Plain numbers at the decades of two logarithmic axes."""
    from matplotlib.ticker import LogLocator, NullFormatter

    for side in (axes.xaxis, axes.yaxis):
        low, high = side.get_view_interval()
        steps = (1.0,) if high / low > 1e3 else (1.0, 3.0) if high / low > 20 else (1.0, 2.0, 5.0)
        side.set_major_locator(LogLocator(subs=steps))
        side.set_major_formatter("{x:,.10g}")
        side.set_minor_formatter(NullFormatter())


def draw_split(command: dict[str, float], plane: Sequence[Grown], solid: Sequence[Grown], path: Path) -> None:
    """Stacked bars: the command's parts, and the shares of mesh, assembly and solution as the mesh grows."""
    made = figure(9.0, 3.6)
    left, middle, right = made.subplots(1, 3, width_ratios=(0.9, 1.3, 1.3))
    bottom = 0.0
    for i, part in enumerate(PARTS):
        left.bar([0], [command[part]], bottom=bottom, color=_shade(i, len(PARTS)), width=0.5, label=part)
        bottom += command[part]
    left.set_xlim(-0.4, 1.6)
    left.set_xticks([])
    left.set_ylabel("processor time, s")
    left.set_title("coldspot check, winter case", fontsize=8)
    left.legend(frameon=False, fontsize=6.5, loc="upper right", reverse=True)
    for axes, rows, title in ((middle, plane, "one section"), (right, solid, "one support")):
        _shares(axes, rows)
        axes.set_title(f"{title}: share of the time", fontsize=8)
    made.tight_layout()
    save(made, path)


def _shares(axes: Any, rows: Sequence[Grown]) -> None:
    bottom = np.zeros(len(rows))
    for i, part in enumerate(("mesh", "assembly", "setup", "solve")):
        share = np.array([getattr(r, part) / r.total for r in rows])
        if share.any():
            label = {"setup": "factor or set-up"}.get(part, part)
            axes.bar(range(len(rows)), share, bottom=bottom, color=_shade(i, 4), label=label)
            bottom += share
    axes.set_xticks(range(len(rows)), [f"{r.cells:,}" for r in rows], rotation=60, fontsize=6)
    axes.legend(frameon=True, fontsize=6.5, loc="lower right")


def _shade(i: int, count: int) -> Any:
    from matplotlib import colormaps

    return colormaps["cividis"](i / max(count - 1, 1))
