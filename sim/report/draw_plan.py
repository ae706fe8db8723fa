"""The section that a study starts from: regions by colour, tracers and sensors by name."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.patches import Patch, Polygon

from sim.case import Case, case_for
from sim.case.clock_face import clock_to_angle
from sim.report.draw_mesh import colour_of
from sim.report.fills import fills
from sim.report.glyphs import drawn_name
from sim.report.style import FAINT, figure, plane, save_svg
from sim.section.layout import place

WORDS = {"layer": "insulation", "wet": "wet insulation", "wall": "pipe wall", "void": "air or compound"}


def draw_plan(case: Case, condition: str, path: Path) -> None:
    """Write the section of a case in one condition as SVG. Raises ValueError if it cannot be drawn."""
    narrowed = case_for(case, condition)
    layout = place(narrowed)
    made = figure(4.2, 4.6)
    axes = made.add_axes((0.02, 0.12, 0.96, 0.86))
    plane(axes, 1.03e3 * layout.cover_radius, 0.0, -1e3 * layout.drop)
    painted = fills(layout)
    for kind, number, corners in painted:
        axes.add_patch(Polygon(1e3 * corners, fc=colour_of(kind, number), ec=FAINT, lw=0.4))
    places = [(t.clock, drawn_name(t.name, f"tracer {n}")) for n, t in enumerate(narrowed.tracers, start=1)]
    places += [(s.clock, drawn_name(s.name, f"sensor {n}")) for n, s in enumerate(narrowed.sensors, start=1)]
    for clock, name in places:
        angle = clock_to_angle(clock)
        across, up = (1e3 * layout.outer_radius * float(f(angle)) for f in (np.sin, np.cos))
        box = {"facecolor": "white", "alpha": 0.85, "pad": 1.5, "edgecolor": "none"}
        line = {"arrowstyle": "-", "linewidth": 0.8}
        axes.annotate(
            name,
            (across, up),
            (0.62 * across, 0.62 * up),
            ha="center",
            va="center",
            bbox=box,
            arrowprops=line,
        )
    first = {kind: colour_of(kind, number) for kind, number, _ in reversed(painted)}
    patches = [Patch(fc=colour, ec=FAINT, label=WORDS.get(kind, kind)) for kind, colour in first.items()]
    made.legend(handles=patches, loc="lower center", ncols=3, frameon=False)
    save_svg(made, path)
