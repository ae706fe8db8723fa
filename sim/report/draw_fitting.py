"""A fitting as it was understood, drawn to scale with its dimensions before anything is solved."""

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from sim.case import Case, Fitting
from sim.case.catalogue import fittings as families
from sim.report.glyphs import drawable
from sim.report.style import FAINT, INK, PALE, figure, save
from sim.section.bodies import AIR, CONTENTS, COVER, FIRST_BODY, GAS, Bodies, bodies_of
from sim.section.shapes import Array

BODIES = ("#5b6b7f", "#8a6d55", "#6f8a5b", "#8b5b76", "#a08c3c", "#4f8a8b")
NAMES = ("outside", "contents", "line's insulation", "cover", "gas", "pipe wall")
FILLS = ("#ffffff", "#b7d7ea", "#f3e6c4", "#ecd08f", "#eceff1", "#9aa4af")
POINTS = 520  # samples across each view


def _index(bodies: Bodies, x: Array, y: Array, z: Array) -> Array:
    """What is drawn at points: a number in NAMES, or beyond them a body's."""
    code = bodies.made_of(x, y, z)
    r = np.hypot(x, y)
    named = {AIR: 0, CONTENTS: 1, COVER: 3, GAS: 4}
    index = np.full(code.shape, 2)
    for value, number in named.items():
        index[code == value] = number
    index[(code == 0) & (r < bodies.outer)] = 5
    index[(code == 0) & (r < bodies.inner)] = 1
    own = code >= FIRST_BODY
    index[own] = len(NAMES) + code[own] - FIRST_BODY
    return index


def draw_fitting(case: Case, fitting: Fitting, path: Path | None) -> Figure:
    """Draw a cut along the pipe, in the plane of its first body across (else of 12 o'clock), and one across it."""
    bodies = bodies_of(case, fitting)
    across = bodies.across
    turn = across[0].clock_angle if across else 0.0
    high = 1.1 * max([bodies.cover, *(c.radius for c in bodies.along), *(c.high for c in across)])
    low = -1.1 * max([bodies.cover, *(c.radius for c in bodies.along)])
    long = 1.25 * bodies.half_length + 0.4 * bodies.cover
    fig = figure(11.0, 7.0)
    fig.text(
        0.02,
        0.965,
        drawable(f"{fitting.name} ({fitting.family}), as it was understood"),
        fontsize=11,
        weight="bold",
    )
    fig.text(
        0.02,
        0.94,
        "what it is made of, not its field; lengths in mm; bolts left out",
        fontsize=8,
        color=FAINT,
    )
    side, end = fig.add_axes((0.06, 0.33, 0.52, 0.56)), fig.add_axes((0.64, 0.33, 0.34, 0.56))
    z, s = np.meshgrid(np.linspace(-long, long, POINTS), np.linspace(low, high, POINTS))
    _view(
        side,
        _index(bodies, s * np.sin(turn), s * np.cos(turn), z),
        (-long, long, low, high),
        len(fitting.body),
    )
    side.set_xlabel("z, mm (0 is the middle; symmetric)")
    hour = turn / (2 * np.pi) * 12 or 12
    side.set_title(f"cut along the pipe; up is {hour:.3g} o'clock", fontsize=8, loc="left")
    reach = max(high, -low)
    x, y = np.meshgrid(np.linspace(-reach, reach, POINTS), np.linspace(-reach, reach, POINTS))
    _view(end, _index(bodies, x, y, np.zeros_like(x)), (-reach, reach, -reach, reach), len(fitting.body))
    end.set_title("cut across at z = 0; up is 12 o'clock", fontsize=8, loc="left")
    end.set_xlabel("mm")
    rows = dimensions(case, fitting)
    for number, row in enumerate(rows[:9]):
        fig.text(0.06, 0.235 - 0.024 * number, drawable(row), fontsize=8, family="monospace", color=INK)
    patches = [Patch(fc=c, ec=PALE, label=n) for c, n in zip(FILLS[1:], NAMES[1:], strict=True)]
    patches += [
        Patch(fc=BODIES[n % len(BODIES)], ec=PALE, label=f"body {n + 1}") for n in range(len(fitting.body))
    ]
    fig.legend(
        handles=patches, loc="lower right", fontsize=7.5, ncols=2, frameon=False, bbox_to_anchor=(0.99, 0.02)
    )
    return save(fig, path)


def _view(axes: Axes, index: Array, extent: tuple[float, float, float, float], count: int) -> None:
    colours = ListedColormap([*FILLS, *(BODIES[n % len(BODIES)] for n in range(count))])
    left, right, low, high = (1e3 * e for e in extent)
    millimetres = (left, right, low, high)
    axes.imshow(
        index, origin="lower", extent=millimetres, cmap=colours, vmin=-0.5, vmax=len(NAMES) + count - 0.5,
        interpolation="nearest", aspect="equal",
    )  # fmt: skip
    axes.contour(index, np.arange(0.5, len(NAMES) + count), extent=millimetres, colors=INK, linewidths=0.3)
    axes.tick_params(labelsize=7, length=2)


def dimensions(case: Case, fitting: Fitting) -> list[str]:
    """Each body in a line of text, with its lengths in mm, as it was understood."""
    rows = [
        f"pipe {1e3 * case.pipe.outer_diameter:.1f} x {1e3 * case.pipe.wall:.2f}, line insulation"
        f" {1e3 * case.insulation.thickness:.1f}"
    ]
    for number, body in enumerate(fitting.body, start=1):
        where = "along" if body.axis == "along" else f"across at {body.clock:g} o'clock"
        low, high = 1e3 * body.low, 1e3 * body.high
        both = ", on either side" if body.axis == "along" and body.low >= 0.0 else ""
        cover = f"cover {1e3 * body.cover_thickness:.1f}" if body.cover_thickness else "bare"
        start = f" from {1e3 * body.cover_from:.1f}" if body.cover_from is not None else ""
        size = f"diameter {1e3 * body.diameter:.1f}, {low:.1f} to {high:.1f}{both}"
        row = f"body {number}: {where}, {size}, {cover}{start}"
        if body.hollow is not None:
            h = body.hollow
            row += f", hollow {1e3 * h.diameter:.1f} to {1e3 * h.high:.1f} ({h.filled})"
        rows.append(f"{row}, {(body.material or fitting.material).name}")
    if fitting.allowance:
        on = ", ".join(f"body {n + 1}" for n in fitting.heated)
        rows.append(f"extra tracer {fitting.allowance:g} m of each, looped over {on}")
    return rows


def sources(fitting: Fitting) -> list[str]:
    """Where each body's lengths are from, a line of text each; one line where the case gives them all."""
    if "body" in fitting.model_fields_set:
        return ["lengths as the case gives them"]
    each = families.sources(fitting.family, len(fitting.body))
    return [f"lengths of body {number}: {text}" for number, text in enumerate(each, start=1)]
