"""The picture of the mesh: the whole section with its materials, and one enlarged detail."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.patches import Circle, Patch, Polygon, Rectangle, Wedge

from sim.report.scene import MeshScene
from sim.report.style import FAINT, INK, curves, drawable, figure, plane, save, scale_bar
from sim.section.layout import FlatBody, Layout, RoundBody

LAYERS = ("#f3e3b8", "#e9d295", "#dcc078", "#d0ad5b")
COLOURS = {
    "liquid": "#bcdcf0",
    "gas": "#eef5fa",
    "wall": "#9aa3ad",
    "tracer": "#e07a5f",
    "void": "#ffffff",
    "wet": "#8fb8a8",
}


def draw_mesh(scene: MeshScene, path: Path) -> None:
    """Write the picture."""
    made = figure(10.4, 5.5)
    whole, detail = made.add_axes((0.005, 0.09, 0.47, 0.82)), made.add_axes((0.515, 0.09, 0.47, 0.82))
    made.text(
        0.012, 0.955, f"Finest mesh: {scene.cells:,} cells", fontsize=11, fontweight="bold", va="center"
    )
    reach = 1e3 * (scene.layout.cover_radius + abs(scene.layout.drop))
    x, y, half = (1e3 * v for v in scene.closer)
    plane(whole, 1.03 * reach)
    plane(detail, half, x, y)
    for axes, width, outline in ((whole, 0.12, 0.6), (detail, 0.35, 1.3)):
        regions(axes, scene.layout)
        axes.add_collection(_faces(scene, width, (x, y, half) if axes is detail else None), autolim=False)
        curves(axes, scene.curves, outline)
    whole.add_patch(Rectangle((x - half, y - half), 2 * half, 2 * half, fill=False, ec="#b3261e", lw=1.1))
    detail.add_patch(Rectangle((x - half, y - half), 2 * half, 2 * half, fill=False, ec="#b3261e", lw=1.6))
    scale_bar(whole, reach, -reach, -1.01 * reach)
    made.text(0.515, 0.955, f"Enlarged: {2 * half:.3g} mm wide", fontsize=9, va="center", color=FAINT)
    made.legend(
        handles=_key(scene.layout), loc="lower center", ncols=6, frameon=False, fontsize=7.5, handlelength=1.2
    )
    save(made, path)


def _faces(scene: MeshScene, width: float, window: tuple[float, float, float] | None) -> LineCollection:
    faces = 1e3 * scene.faces
    if window is not None:
        x, y, half = window
        faces = faces[(np.abs(faces - np.array([x, y])) < 1.2 * half).all(axis=2).any(axis=1)]
    return LineCollection(faces, colors=INK, linewidths=width)  # type: ignore[arg-type]


def _colour(layout: Layout, number: int) -> str:
    region = layout.regions[number]
    return LAYERS[region.index % len(LAYERS)] if region.kind == "layer" else COLOURS[region.kind]


def regions(axes: Axes, layout: Layout) -> None:
    """Fill every region of a section with its material's colour, outermost first, in mm."""
    drop = -1e3 * layout.drop
    radii = [1e3 * r for r in layout.layer_radii]
    for i in range(len(radii) - 2, -1, -1):
        axes.add_patch(Circle((0, drop), radii[i + 1], fc=LAYERS[i % len(LAYERS)], lw=0))
        for layer, start, stop in layout.wet:
            if layer == i:
                first, sweep = 90 - np.degrees(stop), np.degrees(np.mod(stop - start, 2 * np.pi))
                axes.add_patch(Wedge((0, drop), radii[i + 1], first, first + sweep, fc=COLOURS["wet"], lw=0))
    if layout.oversize:
        axes.add_patch(Circle((0, drop), radii[0], fc=COLOURS["void"], lw=0))
    for hull in layout.hulls:
        if hull.void:
            axes.add_patch(Polygon(1e3 * hull.polygon, fc=COLOURS["void"], lw=0))
    for gap in layout.gaps:
        axes.add_patch(Polygon(_sector(gap), fc=COLOURS["void"], lw=0))
    for body in reversed(layout.bodies):
        if isinstance(body, RoundBody):
            axes.add_patch(
                Circle((1e3 * body.cx, 1e3 * body.cy), 1e3 * body.radius, fc=COLOURS["tracer"], lw=0)
            )
        else:
            axes.add_patch(Polygon(_sector(body), fc=COLOURS["tracer"], lw=0))
    axes.add_patch(Circle((0, 0), 1e3 * layout.outer_radius, fc=COLOURS["wall"], lw=0))
    inner = 1e3 * layout.inner_radius
    full, dry = layout.level == np.inf, layout.level == -np.inf
    axes.add_patch(Circle((0, 0), inner, fc=COLOURS["liquid" if full else "gas"], lw=0))
    if not full and not dry:
        half = np.arccos(np.clip(-layout.level / layout.inner_radius, -1, 1))
        angle = np.pi + np.linspace(-half, half, 91)
        outline = np.stack([inner * np.sin(angle), inner * np.cos(angle)], axis=-1)
        axes.add_patch(Polygon(outline, fc=COLOURS["liquid"], lw=0))


def _sector(body: FlatBody) -> np.ndarray:
    turn = body.clock_angle + np.linspace(-body.half_angle, body.half_angle, 25)
    ring = [
        np.stack([r * np.sin(a), r * np.cos(a)], -1)
        for r, a in ((body.inner, turn), (body.outer, turn[::-1]))
    ]
    return 1e3 * np.concatenate(ring)


def _key(layout: Layout) -> list[Patch]:
    full, dry = layout.level == np.inf, layout.level == -np.inf
    handles = []
    for number, region in enumerate(layout.regions):
        if (region.kind == "gas" and full) or (region.kind == "liquid" and dry):
            continue
        words = {
            "layer": region.name,
            "wet": region.name,
            "tracer": f"tracer {region.name}",
            "wall": "pipe wall",
        }
        label = drawable(words.get(region.kind, region.kind))[:40]
        handles.append(Patch(fc=_colour(layout, number), ec=FAINT, lw=0.5, label=label))
    return handles
