"""Pictures of an episode: its course over time, and the section at some of its moments side by side."""

from pathlib import Path
from textwrap import fill
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle
from matplotlib.tri import Triangulation

from sim.report.glyphs import drawn_name
from sim.report.stage import EpisodeScene
from sim.report.style import (
    COLOURS,
    FAINT,
    FIELD,
    INK,
    PALE,
    colour_bar,
    curves,
    figure,
    heading,
    levels,
    plane,
    save,
    words,
)
from sim.section.triangles import triangulation

# kind of curve: colour, dashes
LOOKS = {
    "contents": (COLOURS["contents"], "solid"),
    "wall": ("#5b8db8", (0, (6, 2))),
    "sheath": (COLOURS["sheath"], (0, (4, 1, 1, 1))),
    "sensor": (COLOURS["sensor"], (0, (1, 1.2))),
    "ambient": (FAINT, (0, (2, 2))),
}
MARGIN = 42  # characters beside the curves
FAR = 1.0  # spans of the coldest curves by which a curve may lie apart and still share their scale
PANEL = 2.05  # inches, of one moment's section


def draw_course(scene: EpisodeScene, path: Path | None) -> Figure:
    """Temperatures, heat and ice of an episode over time."""
    rows = 3 if scene.frozen is not None and scene.frozen.max() > 0 else 2
    fig = figure(10.4, 4.1 + 1.25 * (rows - 1))
    height = fig.get_figheight()
    heading(fig, drawn_name(scene.name, "(named in the report)"), scene.words, 0.18)
    low = 0.55
    for row in reversed(range(1, rows)):
        axes = fig.add_axes((0.075, low / height, 0.69, 1.0 / height))
        (_heat if row == 1 else _ice)(axes, scene)
        _times(axes, scene, numbers=low < 0.6)
        low += 1.25
    axes = fig.add_axes((0.075, low / height, 0.69, 2.75 / height))
    _temperatures(axes, scene)
    _times(axes, scene, numbers=False)
    return save(fig, path)


def _times(axes: Axes, scene: EpisodeScene, numbers: bool) -> None:
    """The axis of time, with events across it."""
    axes.set_xlim(scene.hour[0], scene.hour[-1])
    axes.grid(True, color=PALE, lw=0.5)
    axes.set_axisbelow(True)
    axes.spines[["top", "right"]].set_visible(False)
    for hour, _ in scene.events:
        axes.axvline(hour, color=INK, lw=0.7, ls=(0, (1, 2)))
    if numbers:
        axes.set_xlabel("hours from the start of the episode")
    else:
        axes.tick_params(labelbottom=False)


def _temperatures(axes: Axes, scene: EpisodeScene) -> None:
    near = [c for c in scene.curves if c.kind in ("contents", "wall", "sensor")]
    low = min(float(np.nanmin(c.value - c.band)) for c in near)
    high = max(float(np.nanmax(c.value + c.band)) for c in near)
    shown = [value for _, value in scene.limits]
    span = max(high - low, 1.0)
    for value in shown:
        if low - FAR * span <= value <= high + FAR * span:
            low, high = min(low, value), max(high, value)
    away = []
    for curve in scene.curves:
        colour, dashes = LOOKS[curve.kind]
        least, most = float(np.nanmin(curve.value)), float(np.nanmax(curve.value))
        if curve not in near and (least > high + FAR * span or most < low - FAR * span):
            away.append(f"{curve.words}: {least:.1f} to {most:.1f} degC, off this scale")
            continue
        axes.fill_between(
            scene.hour, curve.value - curve.band, curve.value + curve.band, color=colour, alpha=0.18, lw=0
        )
        axes.plot(scene.hour, curve.value, color=colour, ls=dashes, lw=1.3, label=curve.words)
    for named, value in scene.limits:
        if low - 0.01 * span <= value <= high + 0.01 * span:
            axes.axhline(value, color=COLOURS["sheath"], lw=0.9, ls=(0, (5, 3)))
            label, at = f"{named} {value:g} degC", (scene.hour[-1], value)
            look: dict[str, Any] = {"side": "right", "edge": "bottom", "offset": (-3, 2), "halo_width": 2.0}
            words(axes, label, at, 7, COLOURS["sheath"], **look)
        else:
            away.append(f"limit: {named} {value:g} degC, off this scale")
    top = axes.get_ylim()[1]
    for number, (hour, event) in enumerate(scene.events):
        offset = (3, -3 - 10 * (number % 3))
        side: dict[str, Any] = {"side": "left", "edge": "top", "annotation_clip": True}
        words(axes, event, (hour, top), 7, offset=offset, halo_width=2.0, **side)
    for start, stop in scene.on[:500]:
        axes.axvspan(start, stop, ymin=0.0, ymax=0.025, color=COLOURS["sheath"], lw=0)
    axes.set_ylabel("degC")
    axes.legend(loc="upper left", bbox_to_anchor=(1.01, 1.0), frameon=False, fontsize=7.5, handlelength=3.2)
    away += ["bar at the foot: a control has its tracers on"] * bool(scene.on)
    under = "\n".join(fill(one, MARGIN) for one in away)
    axes.text(1.02, 0.0, under, transform=axes.transAxes, fontsize=7, va="bottom", color=FAINT)


def _heat(axes: Axes, scene: EpisodeScene) -> None:
    axes.plot(scene.heat_hour, scene.output, color=COLOURS["sheath"], lw=1.1, label="heat in")
    axes.plot(
        scene.heat_hour, scene.loss, color=COLOURS["contents"], lw=1.1, ls=(0, (5, 2)), label="heat out"
    )
    axes.set_ylabel("W/m")
    # the first moments of a line that is warm in the cold would squeeze all the rest
    both = np.concatenate([scene.output, np.percentile(scene.loss, [3, 97])])
    low, high = float(both.min()), float(both.max())
    room = 0.15 * max(high - low, 0.1 * abs(high), 1.0)
    axes.set_ylim(low - room, high + room)
    least, most = float(scene.loss.min()), float(scene.loss.max())
    if least < low - room or most > high + room:
        text = fill(f"heat out {least:.1f} to {most:.1f} W/m, in part off this scale", MARGIN)
        axes.text(1.02, 0.0, text, transform=axes.transAxes, fontsize=7, va="bottom", color=FAINT)
    axes.legend(loc="upper left", bbox_to_anchor=(1.01, 1.05), frameon=False, fontsize=7.5, handlelength=3.2)


def _ice(axes: Axes, scene: EpisodeScene) -> None:
    assert scene.frozen is not None
    axes.plot(scene.hour, 100 * scene.frozen, color=INK, lw=1.1)
    axes.set_ylim(0, 100)
    axes.set_ylabel("frozen, %")


def draw_moments(scene: EpisodeScene, path: Path | None) -> Figure:
    """The section at the moments kept, side by side on one scale; ice in the bore white."""
    count = len(scene.stills)
    fig = figure(PANEL * count + 0.55, PANEL + 0.42)
    width, height = fig.get_figwidth(), fig.get_figheight()
    values = np.concatenate([still.value for still in scene.stills])
    low, high = float(values.min()), float(values.max())
    high = max(high, low + 0.1)
    simplices = triangulation(scene.point)[0]
    triangles = Triangulation(1e3 * scene.point[:, 0], 1e3 * scene.point[:, 1], simplices)
    shell, drop = 1e3 * scene.outline.cover_radius, 1e3 * scene.outline.drop
    for number, still in enumerate(scene.stills):
        axes = fig.add_axes((PANEL * number / width, 0.02, PANEL / width, PANEL / height))
        plane(axes, 1.03 * shell, 0.0, -drop)
        axes.tripcolor(triangles, still.value, shading="gouraud", cmap=FIELD, vmin=low, vmax=high)
        look: dict[str, Any] = {"colors": "white", "linewidths": 0.45, "linestyles": "solid"}
        axes.tricontour(triangles, still.value, levels=levels(low, high, 9), **look)
        if still.frozen.max() > 0.01 and still.ring >= scene.outline.inner_radius:
            axes.tricontourf(triangles, still.frozen, levels=[0.5, 1.01], colors=["white"], alpha=0.85)
        elif still.ring < scene.outline.inner_radius:
            bore, free = 1e3 * scene.outline.inner_radius, 1e3 * still.ring
            axes.add_patch(Circle((0, 0), bore, fc="white", ec="none", alpha=0.85))
            axes.add_patch(Circle((0, 0), free, fc=COLOURS["contents"], ec=INK, lw=0.5, alpha=0.7))
        curves(axes, scene.lines, 0.5)
        words(fig, f"{still.hour:.1f} h", (PANEL * (number + 0.5) / width, 1 - 0.16 / height), 9)
    colour_bar(fig, low, high, PANEL * count / width + 0.005, 0.12, 0.66)
    return save(fig, path)
