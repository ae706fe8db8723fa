"""Draws the figures of the model page from the program's own layout: `python docs/figures.py`. Sizes are invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon, Rectangle

from sim.case import parse_case
from sim.report.draw_mesh import COLOURS, LAYERS
from sim.report.scene import fills
from sim.report.style import FAINT, INK, curves, figure, hours, plane, save
from sim.section.layout import Layout, RoundBody, place
from sim.section.mesh import plan_mesh
from sim.section.pieces import interfaces
from sim.section.support_plan import place_support

FOLDER = Path(__file__).parent / "figures"
METAL = "#6d7782"

ROUND = {"name": "T1", "clock": 4.5, "shape": "round", "diameter": "14 mm", "output": "10 W/m"}
FLAT = {"name": "T1", "clock": 4.5, "shape": "flat", "width": "14 mm", "height": "6 mm", "output": "10 W/m"}


def case(tracers: list[dict[str, Any]], fit: str, **more: Any) -> Any:
    """An invented line of 60.3 mm with these tracers."""
    insulation = {"fit": fit, "layer": [{"conductivity": "0.04 W/m/K", "thickness": "25 mm"}]}
    return parse_case(
        {
            "title": "figure (invented)",
            "pipe": {"outer_diameter": "60.3 mm", "wall": "3.9 mm", "material": "carbon steel"},
            "contents": {"state": "still"} | more.pop("contents", {}),
            "tracer": tracers,
            "insulation": insulation | more.pop("insulation", {}),
            "condition": [{"name": "one", "ambient": "0 degC"}],
        }
        | more
    )


def paint(axes: Axes, layout: Layout) -> None:
    """Regions as filled outlines, and the interfaces between them."""
    for kind, number, corners in fills(layout):
        colour = LAYERS[number % len(LAYERS)] if kind == "layer" else COLOURS[kind]
        axes.add_patch(Polygon(1e3 * corners, fc=colour, lw=0))
    pieces, along = interfaces(layout), np.linspace(0.0, 1.0, 91)
    curves(axes, tuple(p.curve.point(along) for p in pieces), 0.7)
    curves(axes, tuple(p.curve.point(along) for p in pieces if p.foil), 2.2, "#b3261e")


def sections() -> None:
    """The ways in which a tracer lies beside the insulation."""
    lifted = ROUND | {"standoff": "3 mm"}
    second = ROUND | {"name": "T2", "over": "T1", "diameter": "9 mm"}
    drawn = (
        ("round, snug: a corner of insulation", case([ROUND], "snug")),
        (
            "round, bridged, foil (red) on the tangents",
            case([ROUND], "bridged", foil={"thickness": "0.1 mm"}),
        ),
        ("flat, bridged: tangents from its corners", case([FLAT], "bridged")),
        (
            "oversize: the shell hangs; half-full bore",
            case(
                [FLAT | {"clock": 6}],
                "oversize",
                insulation={"bore": "84 mm"},
                contents={"state": "still", "fill": 0.5},
            ),
        ),
        ("lifted by a gap of air, bridged", case([lifted], "bridged")),
        ("one tracer on another, snug", case([ROUND, second], "snug")),
    )
    made = figure(10.4, 7.4)
    for number, (words, one) in enumerate(drawn):
        row, column = divmod(number, 3)
        axes = made.add_axes((0.01 + 0.33 * column, 0.5 - 0.495 * row, 0.32, 0.46))
        layout = place(one)
        paint(axes, layout)
        reach = 1e3 * layout.cover_radius
        plane(axes, 1.14 * reach, 0.0, -1e3 * layout.drop)
        hours(axes, reach, 1e3 * layout.drop)
        made.text(0.17 + 0.33 * column, 0.975 - 0.495 * row, words, fontsize=9, ha="center", va="center")
    save(made, FOLDER / "sections.png")


def support() -> None:
    """A bare shoe across and along the pipe."""
    shoe = {
        "name": "S1",
        "family": "parts",
        "material": "carbon steel",
        "pad": {"clock": 6, "arc": "70 deg", "thickness": "6 mm", "length": "120 mm"},
        "leg": {"clock": 6, "width": "10 mm", "length": "90 mm", "exposed": "40 mm"},
    }
    barrier = {"material": "aluminium", "thickness": "0.6 mm"}
    one = case([FLAT | {"clock": 3}], "snug", support=[shoe], barrier=barrier)
    layout = place_support(one, one.supports[0])
    made = figure(10.4, 4.9)
    across, along = made.add_axes((0.01, 0.01, 0.42, 0.92)), made.add_axes((0.46, 0.01, 0.53, 0.92))
    paint(across, place(one))
    pad, leg = layout.pad, layout.leg
    assert pad is not None
    assert leg is not None
    bore, pipe, cover, exposed = (
        1e3 * v for v in (layout.inner_radius, layout.outer_radius, layout.cover_radius, 0.04)
    )
    turn = pad.clock_angle + np.linspace(-pad.half_angle, pad.half_angle, 61)
    ring = [
        1e3 * r * np.stack([np.sin(t), np.cos(t)], -1)
        for r, t in ((pad.inner, turn), (pad.outer, turn[::-1]))
    ]
    across.add_patch(Polygon(np.concatenate(ring), fc=METAL, ec=INK, lw=0.7, zorder=3))
    half, under, foot = 1e3 * leg.half_width, 1e3 * pad.outer, -cover - exposed
    across.add_patch(Rectangle((-half, foot), 2 * half, -under - foot, fc=METAL, ec=INK, lw=0.7, zorder=3))
    hours(across, cover)
    long, pad_half, leg_half = 115.0, 1e3 * pad.half_length, 1e3 * leg.half_length
    for outer, colour in ((cover, LAYERS[0]), (pipe, COLOURS["wall"]), (bore, COLOURS["liquid"])):
        along.add_patch(Rectangle((-long, -outer), 2 * long, 2 * outer, fc=colour, ec=INK, lw=0.6))
    along.add_patch(
        Rectangle((-pad_half, -under), 2 * pad_half, under - pipe, fc=METAL, ec=INK, lw=0.7, zorder=3)
    )
    along.add_patch(
        Rectangle((-leg_half, foot), 2 * leg_half, -under - foot, fc=METAL, ec=INK, lw=0.7, zorder=3)
    )
    along.plot([0.0, 0.0], [foot, cover + 4], color=FAINT, lw=0.8, ls=(0, (6, 4)))
    words = (
        (2, cover + 2, "z = 0, plane of symmetry"),
        (pad_half + 2, -under + 1, "pad"),
        (leg_half + 2, -cover + 4, "leg through the insulation"),
        (leg_half + 2, 0.5 * (foot - cover), "exposed: a fin in the wind"),
        (-long + 3, -2, "contents"),
        (-long + 3, pipe + 8, "insulation"),
    )
    for x, y, text in words:
        along.text(x, y, text, fontsize=8)
    for axes, reach in ((across, 1.2 * cover), (along, 1.02 * long)):
        axes.set_xlim(-reach, reach)
        axes.set_ylim(foot - 2, 1.2 * cover)
        axes.set_aspect("equal")
        axes.set_axis_off()
    for x, text in ((0.22, "across, at z = 0"), (0.725, "along the pipe")):
        made.text(x, 0.965, text, fontsize=9, ha="center", va="center")
    save(made, FOLDER / "support.png")


def mesh() -> None:
    """Cells beside a round tracer, and beside the void's end."""
    meshed = plan_mesh(place(case([ROUND], "bridged", foil={"thickness": "0.1 mm"})), 2.0)
    layout = meshed.layout
    body = layout.bodies[0]
    assert isinstance(body, RoundBody)
    middle = 1e3 * np.array([body.cx, body.cy])
    touch = layout.outer_radius / np.hypot(body.cx, body.cy) * middle
    made = figure(10.4, 4.9)
    windows = ((middle, 15.0, "round tracer, void, foil"), (touch, 2.0, "the contact and its wedges"))
    ends = 1e3 * meshed.vertex[np.concatenate([meshed.face_ends, meshed.cover_ends]).astype(int)]
    for number, (centre, reach, words) in enumerate(windows):
        axes = made.add_axes((0.02 + 0.5 * number, 0.01, 0.46, 0.92))
        paint(axes, layout)
        near = (np.abs(ends - centre) < 1.2 * reach).all(axis=2).any(axis=1)
        curves(axes, tuple(1e-3 * ends[near]), 0.35)
        plane(axes, reach, *centre)
        made.text(
            0.25 + 0.5 * number,
            0.965,
            f"{words}, {2 * reach:g} mm wide",
            fontsize=9,
            ha="center",
            va="center",
        )
    save(made, FOLDER / "mesh.png")


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    sections()
    support()
    mesh()
