"""Pictures of a run of the checks, drawn from the rows of that run alone. Imports matplotlib."""

from collections.abc import Callable, Sequence
from pathlib import Path
from textwrap import shorten

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.report.glyphs import drawable
from sim.report.style import FAINT, INK, PALE, figure, save
from validation.published.pictures_order import drawn_order
from validation.published.rows import Profile, Row
from validation.published.run import Outcome

OURS, BAD = "#00639c", "#b3261e"
BEYOND = 1.25
"""Where a difference larger than its tolerance is drawn at the most, in tolerances."""


def draw(outcome: Outcome, folder: Path) -> list[tuple[str, str]]:
    """Write every picture that the run has rows for; returns (file name, caption). Raises OSError."""
    drawn = []
    for name, caption, make in PICTURES:
        made = make(outcome)
        if made is not None:
            save(made, folder / name)
            drawn.append((name, caption))
    return drawn


def differences(outcome: Outcome) -> Figure | None:
    """Difference over tolerance of every row, a line a check."""
    groups = [group for group in outcome.groups if group.rows or group.crash]
    if not groups:
        return None
    high = 0.215 * len(groups) + 0.6
    made = figure(9.4, high)
    axes = made.add_axes((0.51, 0.5 / high, 0.47, 1 - 0.6 / high))
    axes.axvspan(-1, 1, color=PALE, alpha=0.45, lw=0)
    for edge in (-1.0, 1.0):
        axes.axvline(edge, color=BAD, lw=0.9)
    axes.axvline(0.0, color=FAINT, lw=0.6)
    for line, group in enumerate(groups):
        bad = group.verdict == "FAIL"
        if group.crash:
            axes.text(
                0.0, line, "stopped", color=BAD, ha="center", va="center", fontweight="bold", fontsize=7
            )
        for row in group.rows:
            _dot(axes, row, line)
        _line_name(axes, group.title, line, bad)
    axes.set_yticks([])
    axes.set_ylim(len(groups) - 0.4, -0.6)
    axes.set_xlim(-BEYOND - 0.1, BEYOND + 0.1)
    axes.set_xlabel(
        "difference / tolerance; a bar is the band, a cross lies outside its tolerance", fontsize=7.5
    )
    _bare(axes)
    return made


def _dot(axes: Axes, row: Row, line: int) -> None:
    # nothing allowed and nothing off is in the middle
    share = row.difference / row.tolerance if row.tolerance > 0 else 0.0 if row.passed else np.nan
    if not row.passed:
        at = float(np.clip(np.nan_to_num(share, nan=BEYOND, posinf=BEYOND, neginf=-BEYOND), -BEYOND, BEYOND))
        axes.plot([at], [line], marker="x", color=BAD, ms=6, mew=1.8)
        return
    if row.band is not None and np.isfinite(row.band) and row.tolerance > 0:
        ends = np.clip(share + row.band / row.tolerance * np.array([-1, 1]), -BEYOND, BEYOND)
        axes.plot(ends, [line, line], color=OURS, lw=1.0, alpha=0.35, solid_capstyle="butt")
    axes.plot([share], [line], marker="o", color=OURS, ms=3.2, mew=0, alpha=0.75)


def _line_name(axes: Axes, title: str, line: int, bad: bool) -> None:
    words = drawable(shorten(title, 78, placeholder=" …"))
    axes.annotate(
        words,
        (0, line),
        xycoords=("axes fraction", "data"),
        xytext=(-6, 0),
        textcoords="offset points",
        ha="right",
        va="center",
        fontsize=7,
        color=BAD if bad else INK,
        fontweight="bold" if bad else "normal",
        annotation_clip=False,
    )


def around(outcome: Outcome) -> Figure | None:
    """The wall's temperature around the pipe beside its closed form, and the difference beneath."""
    kinds = (
        ("conduction.closed_forms.annulus", "heated arc on an annulus"),
        ("conduction.closed_forms.fin", "thin wall as a fin"),
    )
    shown = [(name, _of(outcome, group)) for group, name in kinds]
    shown = [(name, rows) for name, rows in shown if any(row.profile for row in rows)]
    if not shown:
        return None
    made = figure(8.6, 4.3)
    panels = made.subplots(2, len(shown), sharex=True, squeeze=False, height_ratios=(2.3, 1))
    for column, (name, rows) in enumerate(shown):
        top, below = panels[0, column], panels[1, column]
        for row, shade in zip((r for r in rows if r.profile), (OURS, "#8a5a00", FAINT), strict=False):
            assert row.profile is not None
            _profile(top, below, row, row.profile, shade)
        top.set_title(name, fontsize=8.5)
        top.legend(fontsize=7, frameon=False)
        below.set_xlabel("degrees from the middle of the heat, clockwise", fontsize=7.5)
        below.set_xticks([-180, -90, 0, 90, 180])
    panels[0, 0].set_ylabel("rise of the pipe's outside, K", fontsize=7.5)
    panels[1, 0].set_ylabel("difference, K", fontsize=7.5)
    _finish(made, panels)
    return made


def _profile(top: Axes, below: Axes, row: Row, profile: Profile, shade: str) -> None:
    words = row.check.rpartition(", ")[2]
    top.plot(profile.x, profile.published, color=shade, lw=1.0, label=f"{words}: closed form")
    some = slice(None, None, max(1, len(profile.x) // 60))
    top.plot(
        profile.x[some], profile.computed[some], "o", color=shade, ms=2.8, mew=0, label=f"{words}: coldspot"
    )
    below.plot(profile.x, profile.computed - profile.published, color=shade, lw=1.0)
    for edge in (-row.tolerance, row.tolerance):
        below.axhline(edge, color=BAD, lw=0.7, ls="--")


def flow(outcome: Outcome) -> Figure | None:
    """Nusselt numbers and peak speeds over the Rayleigh number."""
    rows = [
        row for group in outcome.groups if group.name.startswith("bore.convection.") for row in group.rows
    ]
    kinds = {"mean Nu": "cavity, mean Nu", "u_max": "cavity, u_max", "v_max": "cavity, v_max"}
    kinds |= {"k_eq / k": "annulus, k_eq / k"}
    lines = [(words, [r for r in rows if r.quantity == quantity]) for quantity, words in kinds.items()]
    return _beside(lines, "Rayleigh number", "value", logarithmic=True)


def films(outcome: Outcome) -> Figure | None:
    """Loss of bare pipes per kelvin over their diameter."""
    rows = _of(outcome, "films.handbook.bare_pipes")
    kinds = list(dict.fromkeys(row.quantity.split(", ")[-1] for row in rows))
    lines = [(words, [r for r in rows if r.quantity.endswith(words)]) for words in kinds]
    return _beside(lines, "outside diameter, mm", "Btu/(h ft degF)", logarithmic=False)


def accuracy(outcome: Outcome) -> Figure | None:
    """Error over cell size of the manufactured solutions, at the deepest levels that ran."""
    levels = {row.levels.name: row.levels for row in outcome.rows if row.levels is not None}
    return drawn_order(list(levels.values())) if levels else None


def _beside(
    lines: Sequence[tuple[str, Sequence[Row]]], over: str, what: str, *, logarithmic: bool
) -> Figure | None:
    """Published rings and computed dots over `at`; beside them the difference in percent with its tolerance."""
    lines = [(words, [r for r in rows if r.at is not None]) for words, rows in lines]
    lines = [(words, rows) for words, rows in lines if rows]
    if not lines:
        return None
    made = figure(8.6, 3.4)
    panels = made.subplots(1, 2)
    shades = (OURS, "#8a5a00", "#3c7a3c", "#7a3c7a")
    for (words, rows), shade in zip(lines, shades, strict=False):
        at = np.array([r.at for r in rows], dtype=float)
        published, computed = (np.array([getattr(r, n) for r in rows]) for n in ("published", "computed"))
        order = np.argsort(at, kind="stable")
        panels[0].plot(at[order], computed[order], "-", color=shade, lw=0.7, alpha=0.6)
        panels[0].plot(at, published, "o", mfc="none", color=shade, ms=6.5, mew=0.9)
        panels[0].plot(at, computed, "o", color=shade, ms=2.6, mew=0, label=drawable(words))
        share = 100 * (computed - published) / published
        allowed = 100 * np.array([r.tolerance for r in rows]) / np.abs(published)
        panels[1].plot(at[order], share[order], "o-", color=shade, lw=0.7, ms=3.2, mew=0)
        panels[1].plot(at[order], allowed[order], "--", color=shade, lw=0.7)
        panels[1].plot(at[order], -allowed[order], "--", color=shade, lw=0.7)
    for axes in panels:
        axes.set_xlabel(over, fontsize=7.5)
        if logarithmic:
            axes.set_xscale("log")
    if logarithmic:
        panels[0].set_yscale("log")
        for axis in (panels[0].xaxis, panels[1].xaxis, panels[0].yaxis):
            axis.set_major_formatter(
                lambda number, _: f"{number:g}" if number < 1e3 else f"1e{np.log10(number):.0f}"
            )
            axis.set_minor_formatter("")
    panels[0].set_ylabel(what, fontsize=7.5)
    panels[0].legend(fontsize=7, frameon=False, title="ring published, dot computed", title_fontsize=7)
    panels[1].set_ylabel("difference, % of the published", fontsize=7.5)
    panels[1].axhline(0.0, color=FAINT, lw=0.6)
    panels[1].set_title("dashed: the tolerance", fontsize=7.5, color=FAINT)
    _finish(made, panels)
    return made


def _of(outcome: Outcome, name: str) -> list[Row]:
    return [row for group in outcome.groups if group.name == name for row in group.rows]


def _bare(axes: Axes) -> None:
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.tick_params(labelsize=7.5)


def _finish(made: Figure, panels: np.ndarray) -> None:
    for axes in panels.flat:
        axes.grid(color=PALE, lw=0.4)
        axes.tick_params(labelsize=7.5)
        axes.spines[["top", "right"]].set_visible(False)
    made.tight_layout()


PICTURES: tuple[tuple[str, str, Callable[[Outcome], Figure | None]], ...] = (
    (
        "checks-differences.png",
        "Every number of this run: its difference as a share of its tolerance, one line a check. Passed numbers are "
        "dots between the two red lines, their bands the bars.",
        differences,
    ),
    (
        "checks-around.png",
        "A heated arc and a line source on a pipe, temperatures around the pipe: closed form (lines), coldspot on its "
        "finest mesh (dots), their difference beneath, the tolerance dashed.",
        around,
    ),
    (
        "checks-order.png",
        "Manufactured solutions with a jump in conductivity: error of temperature over the size of the cells, on "
        "uniform, graded and random cells, on sections with real circles, and on lines in three dimensions.",
        accuracy,
    ),
    (
        "checks-flow.png",
        "Natural convection in the square cavity and the horizontal annulus, published beside computed.",
        flow,
    ),
    (
        "checks-films.png",
        "Heat of bare steel pipes in still air, the measured table of 1941 beside the outside films; names are the "
        "differences of temperature.",
        films,
    ),
)
