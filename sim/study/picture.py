"""The section that a study starts from, as a picture: regions by colour, tracers and sensors by name."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sim.case import Case, case_for
from sim.case.clock_face import clock_to_angle
from sim.section.layout import place
from sim.section.mesh import plan_mesh

from .glyphs import drawn_name
from .tables import replace

PIXELS, FINENESS = 420, 1.5
COLOURS = {
    "liquid": "#a9c9e8",
    "gas": "#eef3f7",
    "wall": "#59636e",
    "tracer": "#c43b3b",
    "void": "#ffffff",
    "layer": "#efd9a7",
    "wet": "#7fb39b",
}


def draw_case(case: Case, condition: str, path: Path) -> None:
    """Write the section of a case in one condition as SVG. Raises ValueError if it cannot be meshed."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt
    from matplotlib.colors import to_rgb
    from matplotlib.patches import Patch
    from scipy.spatial import cKDTree

    narrowed = case_for(case, condition)
    mesh = plan_mesh(place(narrowed), FINENESS)
    reach = float(np.hypot(*mesh.site.T).max())
    at = np.linspace(-reach, reach, PIXELS)
    x, y = np.meshgrid(at, at)
    nearest = cKDTree(mesh.site).query(np.stack([x.ravel(), y.ravel()], axis=-1))[1]
    kinds = [region.kind for region in mesh.layout.regions]
    colour = np.array([to_rgb(COLOURS.get(kind, "#d8c7e8")) for kind in kinds])
    image = np.concatenate([colour[mesh.cell_region[nearest]], np.ones((nearest.size, 1))], axis=1)
    outside = np.hypot(x.ravel(), y.ravel() + mesh.layout.drop) > mesh.layout.cover_radius
    image[outside] = (1.0, 1.0, 1.0, 0.0)
    figure, ax = plt.subplots(figsize=(4.2, 4.6), layout="constrained")
    mm = 1e3 * reach
    ax.imshow(
        image.reshape(PIXELS, PIXELS, 4), origin="lower", extent=(-mm, mm, -mm, mm), interpolation="nearest"
    )
    radius = 1e3 * mesh.layout.outer_radius
    places = [(t.clock, drawn_name(t.name, f"tracer {n}")) for n, t in enumerate(narrowed.tracers, start=1)]
    places += [(s.clock, drawn_name(s.name, f"sensor {n}")) for n, s in enumerate(narrowed.sensors, start=1)]
    for clock, name in places:
        angle = clock_to_angle(clock)
        across, up = radius * float(np.sin(angle)), radius * float(np.cos(angle))
        ax.annotate(
            name,
            (across, up),
            (0.62 * across, 0.62 * up),
            ha="center",
            va="center",
            fontsize=8,
            bbox={"facecolor": "white", "alpha": 0.85, "pad": 1.5, "edgecolor": "none"},
            arrowprops={"arrowstyle": "-", "linewidth": 0.8},
        )
    there = [kind for kind in COLOURS if kind in {kinds[region] for region in np.unique(mesh.cell_region)}]
    names = {"layer": "insulation", "wet": "wet insulation", "wall": "pipe wall", "void": "air or compound"}
    patches = [Patch(facecolor=COLOURS[k], edgecolor="#777777", label=names.get(k, k)) for k in there]
    figure.legend(handles=patches, loc="outside lower center", ncols=3, fontsize=8, frameon=False)
    ax.set_xlabel("mm, 12 o'clock on top")
    ax.tick_params(labelsize=8)
    replace(path, lambda beside: figure.savefig(beside, format="svg", metadata={"Date": None}))
    plt.close(figure)
