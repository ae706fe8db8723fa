"""How every picture looks: sizes, colours, and writing the file. Imports matplotlib."""

from collections.abc import Sequence
from functools import lru_cache, partial
from itertools import pairwise
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PathCollection
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.path import Path as Line
from matplotlib.transforms import IdentityTransform, Transform

from sim.case.clock_face import clock_to_angle
from sim.report.glyphs import FONT
from sim.report.stage import Array
from sim.study.cells import replace

INK, FAINT, PALE = "#1d2733", "#6a7480", "#d5dade"
DOTS = 125
COLOURS = {"contents": "#00639c", "wall": "#00639c", "sheath": "#b3261e", "sensor": "#111111"}
MARKERS = {"contents": "v", "wall": "s", "sheath": "^", "sensor": "o"}
FIELD = "cividis"

matplotlib.rcParams.update(
    {
        "font.family": [FONT],
        "font.size": 8.0,
        "text.parse_math": False,
        "text.color": INK,
        "axes.edgecolor": FAINT,
        "axes.labelcolor": INK,
        "axes.linewidth": 0.6,
        "xtick.color": INK,
        "ytick.color": INK,
        "xtick.major.width": 0.6,
        "ytick.major.width": 0.6,
    }
)


def figure(width: float, height: float) -> Figure:
    """A figure in inches that draws without a display."""
    return Figure(figsize=(width, height), dpi=DOTS, facecolor="white")


def save(fig: Figure, path: Path | None) -> Figure:
    """Write a PNG of at most 256 colours: a fifth of the size, and quicker to write; nothing without a path.

    Raises OSError.
    """
    if path is None:
        return fig
    from PIL import Image

    canvas = FigureCanvasAgg(fig)
    canvas.draw()
    picture = Image.fromarray(np.asarray(canvas.buffer_rgba())[..., :3])
    plain = picture.quantize(256, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    plain.save(path, format="PNG", compress_level=4, dpi=(DOTS, DOTS))
    return fig


def save_svg(fig: Figure, path: Path) -> None:
    """Write an SVG, the same file for the same figure. Raises OSError."""
    with matplotlib.rc_context({"svg.hashsalt": path.stem}):
        replace(path, partial(fig.savefig, format="svg", metadata={"Date": None}))


def heading(fig: Figure, title: str, below: str = "", top: float = 0.2) -> None:
    """A picture's title and a quieter line below it; top: of the title's middle from the upper edge, inches."""
    size = fig.get_figheight()
    fig.text(0.012, 1 - top / size, title, fontsize=11, fontweight="bold", va="center")
    fig.text(0.012, 1 - (top + 0.22) / size, below, fontsize=8, color=FAINT, va="center")


def words(
    axes: Any,
    text: str,
    place: Sequence[float],
    size: float = 7.5,
    colour: str = INK,
    *,
    side: str = "center",
    edge: str = "center",
    offset: tuple[float, float] | None = None,
    halo_width: float = 0.0,
    **more: Any,
) -> None:
    """Text in axes or a figure whose `side` (left, center, right) and `edge` (bottom, center, top) lie at a place.

    offset: some points right and up of it.
    """
    look = {"fontsize": size, "color": colour, "ha": side, "va": edge, **more}
    if halo_width:
        look["path_effects"] = halo(halo_width)
    if offset is None:
        axes.text(*place, text, **look)
    else:
        axes.annotate(text, place, xytext=offset, textcoords="offset points", **look)


def plane(axes: Axes, reach: float, x: float = 0.0, y: float = 0.0) -> None:
    """A section plane without axes: equal scales, a square of half width `reach` in mm about (x, y)."""
    axes.set_xlim(x - reach, x + reach)
    axes.set_ylim(y - reach, y + reach)
    axes.set_aspect("equal")
    axes.set_axis_off()


def hours(axes: Axes, radius: float, drop: float = 0.0, size: float = 7.5, reach: float = 0.07) -> None:
    """Twelve ticks and numbers in the directions of the hours from the pipe's axis.

    They stand on a circle of a radius in mm whose centre lies `drop` mm below the axis.
    """
    ticks, far = [], []
    for hour in range(1, 13):
        a = clock_to_angle(hour)
        ticks.append([on_circle(a, radius, drop), on_circle(a, radius * (1 + 0.28 * reach), drop)])
        far.append(on_circle(a, radius * (1 + reach), drop))
    axes.add_collection(
        numbers([str(hour) for hour in range(1, 13)], far, size, FAINT, axes.transData), autolim=False
    )
    curves(axes, tuple(1e-3 * np.array(ticks)), 0.7, FAINT)


@lru_cache(maxsize=512)
def _letters(text: str, size: float) -> tuple[Array, Any]:
    """Outlines of a text's letters: points (n, 2) and what each is to the pen."""
    from matplotlib.textpath import TextPath

    outline = TextPath((0.0, 0.0), text, size=size, prop=FontProperties(family=FONT))
    return np.asarray(outline.vertices, dtype=float), outline.codes


def numbers(
    texts: list[str],
    place: Sequence[tuple[float, float]],
    size: float,
    colour: str,
    by: Transform,
    side: str = "center",
    shift: tuple[float, float] = (0.0, 0.0),
) -> PathCollection:
    """Numbers at places (n, 2) of a transform, as one artist: texts one by one cost a picture half of its time.

    size: of the letters, points; side: "left", "center" or "right" of each is at its place; shift: right, up.
    """
    paths = []
    for text in texts:
        outline, pen = _letters(text, size)
        low, high = outline.min(axis=0), outline.max(axis=0)
        middle = 0.5 * (low + high)
        at = {"left": 0.0, "center": middle[0], "right": high[0]}[side], middle[1]
        paths.append(Line(outline - at + shift, pen))
    artist = PathCollection(paths, [1.0], facecolors=colour, linewidths=0, offsets=place, offset_transform=by)
    artist.set_transform(IdentityTransform())  # a size of 1 scales points to the picture's dots
    artist.set_zorder(4)
    artist.set_clip_on(False)
    return artist


def on_circle(angle: float, radius: float, drop: float) -> tuple[float, float]:
    """Where a ray from the pipe's axis at an angle from 12 o'clock meets a circle centred `drop` below it."""
    ux, uy = float(np.sin(angle)), float(np.cos(angle))
    along = -uy * drop + float(np.sqrt(radius**2 - (ux * drop) ** 2))
    return along * ux, along * uy


def scale_bar(axes: Axes, reach: float, x: float, y: float) -> None:
    """A scale bar of a round length near a fifth of the width, its left end at (x, y) in mm."""
    length = nice(0.4 * reach)
    axes.plot([x, x + length], [y, y], color=INK, lw=1.4, solid_capstyle="butt")
    axes.text(x + length / 2, y + 0.025 * reach, f"{length:g} mm", ha="center", va="bottom", fontsize=7)


def nice(value: float) -> float:
    """The nearest of 1, 2, 5 times a power of ten at or below a positive value."""
    power = 10.0 ** np.floor(np.log10(value))
    return float(power * max(m for m in (1, 2, 5) if m <= value / power * (1 + 1e-9)))


def levels(low: float, high: float, about: int) -> Array:
    """Round temperatures between two values, about so many; never empty."""
    if not high - low > 1e-9:
        return np.array([low])
    step = nice((high - low) / about * 1.4)
    inside = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step + 0.0
    return inside[(inside > low) & (inside < high)] if len(inside) else np.array([0.5 * (low + high)])


def curves(axes: Axes, lines: tuple[Array, ...], width: float, colour: str = INK) -> None:
    """Interfaces, given in m, drawn in mm."""
    from matplotlib.collections import LineCollection

    axes.add_collection(
        LineCollection([1e3 * c for c in lines], colors=colour, linewidths=width), autolim=False
    )


def halo(width: float = 1.6) -> list[Any]:
    """A light edge around text or lines over a field."""
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=width, foreground="white")]


BAR_STEPS = 96


def colour_bar(
    fig: Figure, low: float, high: float, left: float, bottom: float, height: float, unit: str = "degC"
) -> None:
    """The scale of a field, in parts of the figure: steps of colour and numbers, without the axes that a
    library's colour bar needs, which cost as much as the field itself."""
    from matplotlib import colormaps
    from matplotlib.collections import LineCollection, PolyCollection

    width = 0.011
    edge = bottom + height * np.linspace(0.0, 1.0, BAR_STEPS + 1)
    right = left + width
    steps = [[(left, a), (right, a), (right, b), (left, b)] for a, b in pairwise(edge)]
    colour = colormaps[FIELD]((np.arange(BAR_STEPS) + 0.5) / BAR_STEPS)
    place = fig.transFigure
    fig.add_artist(
        PolyCollection(steps, facecolors=colour, edgecolors=colour, linewidths=0.3, transform=place)
    )
    shown = levels(low, high, 9)
    at = bottom + height * (shown - low) / (high - low)
    fig.add_artist(
        LineCollection(
            [[(right, y), (right + 0.002, y)] for y in at], colors=FAINT, linewidths=0.6, transform=place
        )
    )
    fig.add_artist(
        numbers([f"{v:g}" for v in shown], [(right + 0.0035, y) for y in at], 7, INK, place, side="left")
    )
    fig.text(left + width / 2, bottom + height + 0.012, unit, fontsize=7.5, ha="center", va="bottom")


def around_the_clock(axes: Axes, label: str, named: bool = True) -> None:
    """Hours along the foot, 12 at both ends, and a named scale within the limits that the axes have by now.

    Lines and numbers of their own: a library's ticks cost more than the curves.
    """
    from matplotlib.collections import LineCollection

    foot, edge = axes.get_xaxis_transform(), axes.get_yaxis_transform()
    at = levels(*axes.get_ylim(), 6)
    digits = max(0, int(np.ceil(-np.log10(at[1] - at[0]) - 1e-6))) if len(at) > 1 else 1
    values = [f"{v:.{digits}f}" for v in at]
    for ends, by in (([[(h, 0), (h, 1)] for h in range(13)], foot), ([[(0, v), (1, v)] for v in at], edge)):
        lines = LineCollection(ends, colors=PALE, linewidths=0.5, transform=by)
        lines.set_zorder(0.5)
        axes.add_collection(lines, autolim=False)
    axes.set_xticks([])
    axes.set_yticks([])
    if named:
        words, below = [str(h or 12) for h in range(13)], [(h, 0) for h in range(13)]
        axes.add_artist(numbers(words, below, 7.5, INK, foot, shift=(0.0, -7.0)))
    axes.add_artist(numbers(values, [(0, v) for v in at], 7.5, INK, edge, side="right", shift=(-5.0, 0.0)))
    widest = max(float(np.ptp(_letters(text, 7.5)[0][:, 0])) for text in values)
    axes.set_ylabel(label, fontsize=8, labelpad=widest + 8)
    axes.spines[["top", "right"]].set_visible(False)
