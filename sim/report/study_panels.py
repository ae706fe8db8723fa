"""What every chart shares: colours, panels, labels of an axis."""

import re
from textwrap import fill
from typing import Any

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from sim.report.glyphs import drawable
from sim.study.axes import Line
from sim.study.words import spoken, unit

COLOURS = ("#1b6ca8", "#d1495b", "#2e8b57", "#b8860b", "#6a4c93", "#444444", "#00838f", "#a0522d")
DASHES, MARKERS = ("-", "--", "-.", ":"), ("o", "s", "^", "D", "v")
STYLES = tuple(
    (colour, DASHES[n % len(DASHES)], MARKERS[n % len(MARKERS)]) for n, colour in enumerate(COLOURS)
)
MOST_PANELS, MOST_LINES = 6, 8


def stem(text: str) -> str:
    """A file name of a text."""
    return re.sub(r"[^A-Za-z0-9]+", "-", text).strip("-").lower()[:80] or "chart"


def label_of(name: str) -> str:
    """A name in a legend, which leaves out what begins with an underscore."""
    return f" {name}" if name.startswith("_") else name


def with_unit(path: str) -> str:
    """A result with its unit, for an axis."""
    of = unit(path)
    return fill(spoken(path), 34) + (f" [{of}]" if of else "")


def columns_of(n: int) -> int:
    """Panels beside each other, of n."""
    return 1 if n == 1 else 2 if n in (2, 4) else 3


def grid_of(n: int, *, tall: float = 3.6) -> tuple[Any, list[Any]]:
    """A figure of n panels."""
    wide = columns_of(n)
    high = -(-n // wide)
    size = (5.8 if wide == 1 else 4.4 * wide, tall * high if n > 1 else 3.6)
    figure = Figure(figsize=size, layout="constrained")
    FigureCanvasAgg(figure)
    grid = figure.subplots(high, wide, sharey=True, squeeze=False)
    every = [ax for line in grid for ax in line]
    for ax in every[n:]:
        ax.set_visible(False)
    return figure, every[:n]


def axis_labels(ax: Any, axis: Line, title: str = "") -> None:
    """Grid, ticks and name of the horizontal axis, and a panel's title."""
    ax.grid(alpha=0.25)
    if axis.numeric:
        ax.set_xlabel(f"{axis.name} [o'clock]" if axis.is_clock else axis.label)
        numbers = [p.number for p in axis.points if p.number is not None]
        whole = [v for v in numbers if float(v).is_integer()]
        if whole and (axis.is_clock or len(whole) == len(numbers) <= 13):
            ax.set_xticks(whole)
    else:
        words = [fill(drawable(point.text), 18) for point in axis.points]
        crowded = len(words) > 4
        ax.set_xticks(range(len(words)), words, rotation=30 if crowded else 0, fontsize=8)
        ax.set_xlim(-0.5, len(axis.points) - 0.5)
        ax.set_xlabel(axis.name)
    if title:
        ax.set_title(fill(title, 40), fontsize=9)
