"""The picture of the mesh: the whole section with its materials, and one enlarged detail."""

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch, PathPatch, Polygon, Rectangle
from matplotlib.path import Path as Line

from sim.report.glyphs import drawable
from sim.report.stage import MeshScene
from sim.report.style import FAINT, INK, curves, figure, heading, plane, save, scale_bar

LAYERS = ("#f3e3b8", "#e9d295", "#dcc078", "#d0ad5b")
COLOURS = {
    "liquid": "#bcdcf0",
    "gas": "#eef5fa",
    "wall": "#9aa3ad",
    "tracer": "#e07a5f",
    "void": "#ffffff",
    "wet": "#8fb8a8",
}
DETAIL = "#b3261e"


def draw_mesh(scene: MeshScene, path: Path | None) -> Figure:
    """Draw the picture."""
    fig = figure(10.4, 5.5)
    whole, detail = fig.add_axes((0.005, 0.09, 0.47, 0.82)), fig.add_axes((0.515, 0.09, 0.47, 0.82))
    heading(fig, f"Finest mesh: {scene.cells:,} cells")
    reach, drop = 1e3 * scene.outline.cover_radius, 1e3 * scene.outline.drop
    x, y, half = (1e3 * v for v in scene.closer)
    plane(whole, 1.03 * reach, 0.0, -drop)
    plane(detail, half, x, y)
    for axes, width, outline in ((whole, 0.12, 0.6), (detail, 0.35, 1.3)):
        for kind, number, corners in scene.fills:
            axes.add_patch(Polygon(1e3 * corners, fc=colour_of(kind, number), lw=0))
        _faces(axes, scene, width, (x, y, half) if axes is detail else None)
        curves(axes, scene.curves, outline)
    for axes, width in ((whole, 1.1), (detail, 1.6)):
        axes.add_patch(Rectangle((x - half, y - half), 2 * half, 2 * half, fill=False, ec=DETAIL, lw=width))
    scale_bar(whole, reach, -reach, -drop - 1.01 * reach)
    fig.text(0.515, 0.955, f"Enlarged: {2 * half:.3g} mm wide", fontsize=9, va="center", color=FAINT)
    fig.legend(
        handles=_key(scene), loc="lower center", ncols=6, frameon=False, fontsize=7.5, handlelength=1.2
    )
    return save(fig, path)


def _faces(axes: Axes, scene: MeshScene, width: float, window: tuple[float, float, float] | None) -> None:
    """All faces as one path, added without a search for its limits: much quicker than one line each."""
    faces = 1e3 * scene.faces
    if window is not None:
        x, y, half = window
        faces = faces[(np.abs(faces - np.array([x, y])) < 1.2 * half).all(axis=2).any(axis=1)]
    codes = np.tile([Line.MOVETO, Line.LINETO], len(faces)).astype(Line.code_type)
    axes.add_artist(PathPatch(Line(faces.reshape(-1, 2), codes), fill=False, ec=INK, lw=width))


def colour_of(kind: str, number: int) -> str:
    """Colour of a region, of insulation by the number of its layer."""
    return LAYERS[number % len(LAYERS)] if kind == "layer" else COLOURS[kind]


def _key(scene: MeshScene) -> list[Patch]:
    words = {"wall": "pipe wall", "layer": "{}", "wet": "{}", "tracer": "tracer {}"}
    handles = []
    for kind, number, name in scene.names:
        label = drawable(words.get(kind, kind).replace("{}", name))[:40]
        handles.append(Patch(fc=colour_of(kind, number), ec=FAINT, lw=0.5, label=label))
    return handles
