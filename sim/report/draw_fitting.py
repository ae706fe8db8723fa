"""A fitting as it was understood, drawn to scale with its dimensions before anything is solved."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

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
from sim.section.mesh import IntArray
from sim.section.shapes import Array

BODIES = ("#5b6b7f", "#8a6d55", "#6f8a5b", "#8b5b76", "#a08c3c", "#4f8a8b")
NAMES = ("outside", "contents", "line's insulation", "cover", "gas", "pipe wall")
FILLS = ("#ffffff", "#b7d7ea", "#f3e6c4", "#ecd08f", "#eceff1", "#9aa4af")
POINTS = 520  # samples across each view


def _index(bodies: Bodies, x: Array, y: Array, z: Array) -> Array:
    """What is drawn at points: a number in NAMES, or beyond them a body's."""
    code, r = bodies.made_of(x, y, z), np.hypot(x, y)
    named = {AIR: 0, CONTENTS: 1, COVER: 3, GAS: 4}
    index = np.full(code.shape, 2)
    for value, number in named.items():
        index[code == value] = number
    index[(code == 0) & (r < bodies.outer)] = 5
    index[(code == 0) & (r < bodies.inner)] = 1
    in_body = code >= FIRST_BODY
    index[in_body] = len(NAMES) + code[in_body] - FIRST_BODY
    return index


@dataclass(frozen=True)
class Cut:
    """A plane that is drawn: points (n, n, 3) m, and its edges left, right, low, high, mm."""

    point: Array
    edges: tuple[float, float, float, float]

    def of(self, bodies: Bodies) -> IntArray:
        """What lies at its points (n, n): as `Bodies.made_of`."""
        return bodies.made_of(*np.moveaxis(self.point, -1, 0))

    def show(
        self, axes: Axes, value: Array, outlines: Array | IntArray, edges: Array, width: float, **look: Any
    ) -> None:
        """Values (n, n) at its points, and lines at the edges between the numbers `outlines` (n, n)."""
        whole: dict[str, Any] = {"extent": self.edges, "interpolation": "nearest", "aspect": "equal"}
        axes.imshow(value, origin="lower", **whole, **look)
        axes.contour(outlines, edges, extent=self.edges, colors=INK, linewidths=width)
        axes.tick_params(labelsize=7, length=2)


def cuts_of(bodies: Bodies, samples: int, along: Axes, across: Axes) -> tuple[Cut, Cut]:
    """A cut along the pipe, in the plane of the first body across (else of 12 o'clock), and one across it at z = 0.

    along, across: their axes, which are named.
    """
    turn = bodies.across[0].clock_angle if bodies.across else 0.0
    low = -1.1 * max([bodies.cover, *(c.radius for c in bodies.along)])
    high = 1.1 * max([bodies.cover, *(c.radius for c in bodies.along), *(c.high for c in bodies.across)])
    long = 1.25 * bodies.half_length + 0.4 * bodies.cover
    z, s = np.meshgrid(np.linspace(-long, long, samples), np.linspace(low, high, samples))
    x, y = np.meshgrid(np.linspace(-high, high, samples), np.linspace(-high, high, samples))
    hour = turn / (2 * np.pi) * 12 or 12
    along.set_title(f"cut along the pipe; up is {hour:.3g} o'clock", fontsize=8, loc="left")
    along.set_xlabel("z, mm (0 is the middle; symmetric)", fontsize=8)
    across.set_title("cut across at z = 0; up is 12 o'clock", fontsize=8, loc="left")
    return (
        Cut(
            np.stack([s * np.sin(turn), s * np.cos(turn), np.abs(z)], axis=-1),
            _millimetres(-long, long, low, high),
        ),
        Cut(np.stack([x, y, np.zeros_like(x)], axis=-1), _millimetres(-high, high, -high, high)),
    )


def _millimetres(left: float, right: float, low: float, high: float) -> tuple[float, float, float, float]:
    return 1e3 * left, 1e3 * right, 1e3 * low, 1e3 * high


def draw_fitting(case: Case, fitting: Fitting, path: Path | None) -> Figure:
    """Draw a fitting's bodies in both cuts, with its dimensions."""
    bodies = bodies_of(case, fitting)
    fig = figure(11.0, 7.0)
    title = drawable(f"{fitting.name} ({fitting.family}), as it was understood")
    below = "what it is made of, not its field; lengths in mm; bolts left out"
    fig.text(0.02, 0.965, title, fontsize=11, weight="bold")
    fig.text(0.02, 0.94, below, fontsize=8, color=FAINT)
    side, end = fig.add_axes((0.06, 0.33, 0.52, 0.56)), fig.add_axes((0.64, 0.33, 0.34, 0.56))
    colours = [BODIES[n % len(BODIES)] for n in range(len(fitting.body))]
    count = len(NAMES) + len(colours)
    for cut, axes in zip(cuts_of(bodies, POINTS, side, end), (side, end), strict=True):
        index = _index(bodies, *np.moveaxis(cut.point, -1, 0))
        look: dict[str, Any] = {"cmap": ListedColormap([*FILLS, *colours]), "vmin": -0.5, "vmax": count - 0.5}
        cut.show(axes, index, index, np.arange(0.5, count), 0.3, **look)
    end.set_xlabel("mm", fontsize=8)
    for number, row in enumerate(dimensions(case, fitting)[:9]):
        fig.text(0.06, 0.235 - 0.024 * number, drawable(row), fontsize=8, family="monospace", color=INK)
    named = [
        *zip(FILLS[1:], NAMES[1:], strict=True),
        *((c, f"body {n}") for n, c in enumerate(colours, start=1)),
    ]
    patches = [Patch(fc=colour, ec=PALE, label=name) for colour, name in named]
    place: dict[str, Any] = {"loc": "lower right", "bbox_to_anchor": (0.99, 0.02)}
    fig.legend(handles=patches, fontsize=7.5, ncols=2, frameon=False, **place)
    return save(fig, path)


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
