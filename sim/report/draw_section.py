"""The picture of a section: its regions to scale, the field with isotherms, and where it is coldest and hottest."""

from collections import Counter
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Polygon
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from sim.report.glyphs import drawable, drawn_name
from sim.report.stage import Array, Mark, Scene
from sim.report.style import (
    COLOURS,
    FIELD,
    INK,
    MARKERS,
    PALE,
    colour_bar,
    curves,
    figure,
    halo,
    heading,
    hours,
    levels,
    on_circle,
    plane,
    save,
    scale_bar,
    words,
)
from sim.section.triangles import triangulation

COLUMNS = 3  # of the legend

LEAST_SPAN = 1e-3
"""A narrower range of temperature is drawn as if it were this wide, K."""


def draw_section(scene: Scene, path: Path | None) -> Figure:
    """Draw the picture of one condition: the whole section, and the pipe with its own scale."""
    rows = -(-len(scene.marks) // COLUMNS)
    bottom, height = 0.18 * rows + 0.12, 4.75
    fig = figure(10.4, bottom + height + 0.4)
    size = fig.get_figheight()
    whole = fig.add_axes((0.005, bottom / size, 0.445, height / size))
    pipe = fig.add_axes((0.515, bottom / size, 0.41, height / size))
    heading(fig, drawn_name(scene.name, "(named in the report)"), scene.weather, 0.16)
    fig.text(0.515, 1 - 0.16 / size, "Pipe and contents, on their own scale", fontsize=9, va="center")
    _whole(fig, whole, scene)
    _pipe(fig, pipe, scene)
    _legend(fig, scene)
    return save(fig, path)


def _triangles(point: Array, hollow: float) -> Triangulation:
    """Triangles between the points, in mm; none across a bore that has no temperature."""
    grid = Triangulation(1e3 * point[:, 0], 1e3 * point[:, 1], _simplices(point.tobytes()))
    if hollow > 0:
        grid.set_mask(np.hypot(*point[grid.triangles].mean(axis=1).T) < hollow)
    return grid


@lru_cache(maxsize=8)
def _simplices(point: bytes) -> NDArray[np.int64]:
    """Triangles between points; conditions of one mesh share them."""
    triangles: NDArray[np.int64] = triangulation(np.frombuffer(point).reshape(-1, 2))[0]
    return triangles


def _hollow(scene: Scene) -> float:
    return 0.0 if scene.bore_known else scene.outline.inner_radius


def _inside(scene: Scene) -> tuple[Array, Array]:
    """Points and values of contents and wall, with the wall's own outside temperatures on its edge."""
    angle, rim = scene.wall
    radius = scene.outline.outer_radius
    edge = radius * np.stack([np.sin(angle), np.cos(angle)], axis=-1)
    return np.concatenate([scene.point[scene.inner], edge]), np.concatenate([scene.value[scene.inner], rim])


def _range(values: Array) -> tuple[float, float]:
    low, high = float(values.min()), float(values.max())
    return (low, high) if high - low > LEAST_SPAN else (low - LEAST_SPAN, high + LEAST_SPAN)


def _whole(fig: Figure, axes: Axes, scene: Scene) -> None:
    outline = scene.outline
    shell, drop = 1e3 * outline.cover_radius, 1e3 * outline.drop
    reach = (1.3 if scene.wind_from is not None else 1.13) * shell
    plane(axes, reach, 0.0, -drop)
    triangles = _triangles(scene.point, _hollow(scene))
    low, high = _range(scene.value)
    axes.tripcolor(triangles, scene.value, shading="gouraud", cmap=FIELD, vmin=low, vmax=high)
    lines = levels(low, high, 11)
    axes.tricontour(
        triangles, scene.value, levels=lines, colors="white", linewidths=0.55, linestyles="solid", alpha=0.85
    )
    _label_isotherms(axes, scene, lines)
    _bore(axes, scene)
    _wet(axes, scene)
    curves(axes, scene.curves, 0.7)
    hours(axes, 1.02 * shell, drop)
    _marks(axes, scene, 5.5, sensors=False)
    _wind(axes, scene, shell, drop)
    scale_bar(axes, shell, -0.98 * reach, -drop - 0.98 * reach)
    colour_bar(fig, low, high, 0.452, 0.26, 0.5)


def _label_isotherms(axes: Axes, scene: Scene, lines: Array) -> None:
    """Numbers along two rays through the insulation, away from the tracers."""
    outline = scene.outline
    angle = _quiet_angle(scene)
    radius = 1e3 * np.hypot(scene.point[:, 0], scene.point[:, 1] + outline.drop)
    turn = np.arctan2(scene.point[:, 0], scene.point[:, 1] + outline.drop)
    room = 1e3 * (outline.cover_radius - outline.outer_radius)
    last = np.inf
    for side, start in ((0, angle - 0.13), (1, angle + 0.13)):
        near = (np.abs(np.mod(turn - start + np.pi, 2 * np.pi) - np.pi) < 0.06) & (
            radius > 1e3 * outline.outer_radius
        )
        order = np.argsort(radius[near])
        r, t = radius[near][order], scene.value[near][order]
        if len(r) < 4:
            continue
        last = np.inf
        for level in lines[side::2]:
            crossing = np.flatnonzero((t[:-1] - level) * (t[1:] - level) <= 0)
            if not len(crossing):
                continue
            at = float(r[crossing[0]])
            if abs(at - last) < 0.07 * room:
                continue
            last = at
            place = (at * np.sin(start), at * np.cos(start) - 1e3 * outline.drop)
            words(axes, f"{level:g}", place, 6.3, halo_width=1.8)


def _quiet_angle(scene: Scene) -> float:
    """A direction far from tracers and wet sectors, rad."""
    trial = np.linspace(0, 2 * np.pi, 48, endpoint=False) + 0.13
    busy = [a for _, a, _ in scene.tracers]
    for start, stop, _, _ in scene.wet:
        busy += list(start + np.linspace(0, 1, 7) * np.mod(stop - start, 2 * np.pi))
    if not busy:
        return 0.8
    apart = np.abs(np.mod(trial[:, None] - np.array(busy)[None] + np.pi, 2 * np.pi) - np.pi).min(axis=1)
    return float(trial[np.argmax(np.minimum(apart, 1.3) - 0.05 * np.abs(np.sin(trial - 0.8)))])


def _pipe(fig: Figure, axes: Axes, scene: Scene) -> None:
    outline = scene.outline
    far = 1e3 * outline.tracer_reach
    plane(axes, 1.3 * far)
    point, value = _inside(scene)
    triangles = _triangles(point, _hollow(scene))
    low, high = _range(value)
    axes.tripcolor(triangles, value, shading="gouraud", cmap=FIELD, vmin=low, vmax=high)
    lines = levels(low, high, 9)
    drawn = axes.tricontour(
        triangles, value, levels=lines, colors="white", linewidths=0.7, linestyles="solid"
    )
    _bore(axes, scene)
    around = [c for c in scene.curves if np.hypot(*c.T).max() < 1.02e-3 * far]
    curves(axes, tuple(around), 0.8)
    for text in axes.clabel(drawn, fontsize=6.5, inline_spacing=2, fmt="%g", colors=INK):
        text.set_path_effects(halo(1.8))
    hours(axes, 1.03 * far, 0.0, 7.0, 0.055)
    _marks(axes, scene, 7.0, sensors=True)
    for n, (name, angle, _) in enumerate(scene.tracers, start=1):
        _name(axes, drawn_name(name, f"tracer {n}"), angle, 1.2 * far, COLOURS["sheath"])
    for mark, n in _counted(scene):
        if mark.kind == "sensor":
            angle = float(np.arctan2(mark.x, mark.y))
            taken = any(abs((angle - a + np.pi) % (2 * np.pi) - np.pi) < 0.12 for _, a, _ in scene.tracers)
            shown = drawn_name(mark.short, f"sensor {n}")
            _name(axes, shown, angle, (1.29 if taken else 1.18) * far, COLOURS["sensor"])
    colour_bar(fig, low, high, 0.935, 0.26, 0.5)


def _counted(scene: Scene) -> list[tuple[Mark, int]]:
    """Each mark with its number among those of its kind, from 1."""
    count: Counter[str] = Counter()
    numbered = []
    for mark in scene.marks:
        count[mark.kind] += 1
        numbered.append((mark, count[mark.kind]))
    return numbered


def _name(axes: Axes, shown: str, angle: float, radius: float, colour: str) -> None:
    x, y = radius * float(np.sin(angle)), radius * float(np.cos(angle))
    side = "left" if x > 0.3 * radius else "right" if x < -0.3 * radius else "center"
    words(axes, shown if len(shown) < 14 else shown[:12] + "…", (x, y), 8, colour, side=side)


def _bore(axes: Axes, scene: Scene) -> None:
    if not scene.bore_known:
        bore = 1e3 * scene.outline.inner_radius
        axes.add_patch(Circle((0, 0), bore, fc="white", ec=PALE, hatch="///", lw=0, zorder=1.5))


def _wet(axes: Axes, scene: Scene) -> None:
    drop = 1e3 * scene.outline.drop
    for start, stop, inner, outer in scene.wet:
        turn = start + np.linspace(0.0, 1.0, 61) * np.mod(stop - start, 2 * np.pi)
        rays = 1e3 * np.stack([np.sin(turn), np.cos(turn)], axis=-1)
        edge = np.concatenate([inner * rays, outer * rays[::-1]]) - [0.0, drop]
        # a hatch takes the colour of the edge, whose own line would hide the interface
        axes.add_patch(Polygon(edge, fc="none", ec=(1.0, 1.0, 1.0, 0.55), hatch="xxx", lw=0.0, zorder=3))
        middle = turn[len(turn) // 5]
        radius = 500 * (inner + outer)
        place = (radius * float(np.sin(middle)), radius * float(np.cos(middle)) - drop)
        words(axes, "wet", place, 8, halo_width=2.4, zorder=7)


def _marks(axes: Axes, scene: Scene, size: float, *, sensors: bool) -> None:
    for mark in scene.marks:
        if mark.kind == "sensor" and not sensors:
            continue
        colour, hollow = COLOURS[mark.kind], mark.kind in ("sensor", "wall")
        face, line, width, share = ("white", colour, 1.2, 0.75) if hollow else (colour, "white", 0.8, 1.0)
        look: dict[str, Any] = {"ms": size * share, "mfc": face, "mec": line, "mew": width}
        axes.plot([1e3 * mark.x], [1e3 * mark.y], MARKERS[mark.kind], zorder=6, **look)


def _wind(axes: Axes, scene: Scene, shell: float, drop: float) -> None:
    if scene.wind_from is None:
        return
    axes.annotate(
        "",
        xy=on_circle(scene.wind_from, 1.13 * shell, drop),
        xytext=on_circle(scene.wind_from, 1.29 * shell, drop),
        arrowprops={"arrowstyle": "-|>", "color": COLOURS["contents"], "lw": 1.8, "shrinkA": 0, "shrinkB": 0},
        annotation_clip=False,
        zorder=7,
    )
    words(axes, "wind", on_circle(scene.wind_from + 0.12, 1.2 * shell, drop), 7.5, COLOURS["contents"])


def _legend(fig: Figure, scene: Scene) -> None:
    handles = []
    for mark, n in _counted(scene):
        number = f"tracer {n}" if mark.kind == "sheath" else str(n)
        label = mark.label
        if mark.short:
            label = label.replace(mark.short, drawn_name(mark.short, number, among_numbers=True))
        edge = COLOURS[mark.kind]
        look: dict[str, Any] = {"mfc": "white" if mark.kind in ("sensor", "wall") else edge, "mec": edge}
        marker = MARKERS[mark.kind]
        handles.append(Line2D([], [], ls="", marker=marker, ms=5.5, label=drawable(label), **look))
    space: dict[str, Any] = {"handletextpad": 0.3, "columnspacing": 1.4, "labelspacing": 0.35}
    place: dict[str, Any] = {"loc": "lower left", "bbox_to_anchor": (0.005, 0.0), "ncols": COLUMNS}
    fig.legend(handles=handles, frameon=False, fontsize=7.4, **place, **space)
