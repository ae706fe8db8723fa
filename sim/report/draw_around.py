"""The picture around the clock: pipe wall and outside surface, with tracers, sensors and limits."""

from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.case.clock_face import HOUR, angle_to_clock
from sim.report.glyphs import drawn_name
from sim.report.stage import Array, Scene
from sim.report.style import COLOURS, INK, PALE, around_the_clock, figure, heading, save, words

NEAR = 1.2
"""A limit within this many ranges of the curve is drawn; one farther away is named at the edge."""


def draw_around(scene: Scene, path: Path | None) -> Figure:
    """Draw the picture of one condition."""
    fig = figure(10.4, 4.6)
    heading(fig, drawn_name(scene.name, "(named in the report)"), f"{scene.weather}; around the clock")
    wall = fig.add_axes((0.075, 0.50, 0.90, 0.34))
    cover = fig.add_axes((0.075, 0.10, 0.90, 0.30))
    _panel(wall, scene, scene.wall, scene.wall_band, "wall", "pipe's outside, degC")
    _panel(cover, scene, scene.cover, scene.cover_band, "cover", "outside surface, degC")
    cover.set_xlabel("clock position, o'clock (12 at the top, 6 at the bottom)", labelpad=13)
    return save(fig, path)


def _panel(axes: Axes, scene: Scene, curve: tuple[Array, Array], band: float, which: str, label: str) -> None:
    hours = angle_to_clock(curve[0])
    order = np.argsort(hours)
    x, y = hours[order], curve[1][order]
    x = np.concatenate([x[-1:] - 12, x, x[:1] + 12])
    y = np.concatenate([y[-1:], y, y[:1]])
    low, high = float(y.min()), float(y.max())
    if np.isfinite(band):
        axes.fill_between(x, y - band, y + band, color=COLOURS["contents"], alpha=0.22, lw=0)
        low, high = low - band, high + band
    axes.plot(x, y, color=COLOURS["contents"], lw=1.4)
    span = max(high - low, 0.05)
    far_limits = []
    bottom, top = low, high
    for value, named in _by_value(scene, which).items():
        if not low - NEAR * span <= value <= high + NEAR * span:
            far_limits.append(f"{named} {value:g}")
            continue
        below = value <= 0.5 * (low + high)
        axes.axhline(value, color=COLOURS["sheath"], lw=0.9, ls=(0, (5, 3)))
        edge, lift = ("top", -2) if below else ("bottom", 2)
        look: dict[str, Any] = {"side": "right", "edge": edge, "offset": (0, lift), "halo_width": 2.0}
        words(axes, f"{named} {value:g}", (11.95, value), 7, COLOURS["sheath"], **look)
        bottom = min(bottom, value - 0.12 * span if below else value)
        top = max(top, value if below else value + 0.12 * span)
    room = top - bottom if top - bottom > 0.05 else 0.05
    axes.set_xlim(0, 12)
    axes.set_ylim(bottom - 0.12 * room, top + (0.34 if which == "wall" else 0.14) * room)
    if far_limits:
        text = "limits off this scale: " + "; ".join(far_limits) + " degC"
        inside: dict[str, Any] = {"transform": axes.transAxes}
        words(axes, text, (0.995, 1.03), 7, COLOURS["sheath"], side="right", edge="bottom", **inside)
    _tracers(axes, scene, named=which == "wall")
    if which == "cover":
        _wet(axes, scene)
    if which == "wall":
        _sensors(axes, scene)
    around_the_clock(axes, label, named=which == "cover")


def _by_value(scene: Scene, which: str) -> dict[float, str]:
    """Limits of a curve by their temperature; those of one temperature share their named."""
    by_value: dict[float, list[str]] = {}
    for named, curve, value in scene.limits:
        if curve == which:
            by_value.setdefault(value, []).append(named)
    return {value: ", ".join(named) for value, named in by_value.items()}


def _wet(axes: Axes, scene: Scene) -> None:
    for start, stop, _, _ in scene.wet:
        middle, half = _hours_of(start, stop)
        for shift in (-12.0, 0.0, 12.0):
            if middle + shift + half < 0 or middle + shift - half > 12:
                continue
            left, right = middle + shift - half, middle + shift + half
            axes.axvspan(left, right, fc="none", ec=PALE, hatch="xx", lw=0, zorder=0)
            place = (min(max(left, 0.0), 11.5) + 0.06, 0.04)
            foot: dict[str, Any] = {"transform": axes.get_xaxis_transform()}
            words(axes, "wet insulation", place, side="left", edge="bottom", halo_width=2.0, **foot)


def _hours_of(start: float, stop: float) -> tuple[float, float]:
    """Middle and half of a sector, in hours."""
    half = float(np.mod(stop - start, 2 * np.pi)) / 2
    return float(angle_to_clock(start + half)), half / HOUR


def _tracers(axes: Axes, scene: Scene, *, named: bool) -> None:
    taken: list[float] = []
    for n, (name, angle, half) in enumerate(scene.tracers, start=1):
        middle, width = float(angle_to_clock(angle)), half / HOUR
        for shift in (-12.0, 0.0, 12.0):
            if middle + shift + width < 0 or middle + shift - width > 12:
                continue
            left, right = middle + shift - width, middle + shift + width
            axes.axvspan(left, right, color=COLOURS["sheath"], alpha=0.13, lw=0)
        if named:
            crowd = sum(abs((middle - t + 6) % 12 - 6) < 1.3 for t in taken)
            taken.append(middle)
            place = min(max(middle, 0.02), 11.98), 0.985 - 0.11 * crowd
            side = "left" if middle < 0.4 else "right" if middle > 11.6 else "center"
            shown = drawn_name(name, f"tracer {n}")[:16]
            foot: dict[str, Any] = {"transform": axes.get_xaxis_transform()}
            words(axes, shown, place, 7.5, COLOURS["sheath"], side=side, edge="top", **foot)


def _sensors(axes: Axes, scene: Scene) -> None:
    for n, (name, angle, value) in enumerate(scene.sensors, start=1):
        hour = float(angle_to_clock(angle))
        axes.plot([hour], [value], "o", ms=4.5, mfc="white", mec=INK, mew=1.1, clip_on=False, zorder=5)
        side = "right" if hour > 11.4 else "left"
        offset = (5 if side == "left" else -5, 5)
        words(
            axes, drawn_name(name, f"sensor {n}")[:16], (hour, value), side=side, edge="bottom", offset=offset
        )
