"""A peer's mesh: one traced section by gmsh's own geometry and point sizes, as a competent user would script it.

One tracer, round in snug insulation or flat in snug or bridged insulation; contents inside the bore. Along the contact
pipe and tracer have curves of their own on the same points, so that a contact resistance can stand between them.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.section.layout import Layout, RoundBody

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]
MILLI = 1e-3  # gmsh works in millimetres, far above its own tolerance


@dataclass(frozen=True)
class Sizes:
    """Element sizes, m: at the ends of the contact, on the tracer, on pipe and bore far from it, on the cover."""

    corner: float
    tracer: float
    pipe: float
    cover: float

    def finer(self, by: float) -> Sizes:
        return Sizes(self.corner / by, self.tracer / by, self.pipe / by, self.cover / by)


@dataclass(frozen=True)
class PlainMesh:
    """point (2, n) m; triangle (3, m); region (m,) index into NAMES; lines by name (k, 2) nodes; circles by name:
    centre and radius of what the lines lie on, None where they are straight."""

    point: Array
    triangle: IntArray
    region: IntArray
    lines: dict[str, IntArray]
    circles: dict[str, tuple[complex, float] | None]


NAMES = (
    "liquid",
    "wall",
    "tracer:0",
    "void",
    "layer:0",
)  # as the finite elements of the second opinion have them


class _Drawing:
    """Points and curves given to gmsh once each, with what they are kept by name."""

    def __init__(self, geo: Any) -> None:
        self.geo = geo
        self.points: dict[tuple[float, float], int] = {}
        self.curves: list[tuple[str, int, tuple[complex, float] | None]] = []

    def point(self, z: complex, size: float) -> int:
        key = (round(z.real, 10), round(z.imag, 10))
        if key not in self.points:
            self.points[key] = self.geo.addPoint(z.real / MILLI, z.imag / MILLI, 0.0, size / MILLI)
        return self.points[key]

    def path(self, name: str, corners: list[tuple[complex, float]], circle: complex | None) -> list[int]:
        """Curves through points (place, size), straight or about a centre."""
        tags = []
        for (a, at_a), (b, at_b) in pairwise(corners):
            ends = self.point(a, at_a), self.point(b, at_b)
            if circle is None:
                tag = self.geo.addLine(*ends)
                self.curves.append((name, tag, None))
            else:
                tag = self.geo.addCircleArc(ends[0], self.point(circle, at_a), ends[1])
                self.curves.append((name, tag, (circle, abs(a - circle))))
            tags.append(tag)
        return tags

    def surface(self, outer: list[int], *holes: list[int]) -> int:
        return int(self.geo.addPlaneSurface([self.geo.addCurveLoop(loop) for loop in (outer, *holes)]))


def _arc(radius: float, start: float, stop: float, sizes: list[float], centre: complex = 0j) -> list[Any]:
    """Evenly spaced points of an arc, one for each size."""
    at = centre + radius * np.exp(1j * np.linspace(start, stop, len(sizes)))
    return [(complex(z), s) for z, s in zip(at, sizes, strict=True)]


def _draw(geo: Any, layout: Layout, s: Sizes) -> tuple[_Drawing, list[tuple[str, int]]]:
    """All surfaces with their names."""
    d, body = _Drawing(geo), layout.bodies[0]
    turn = np.pi / 2 - body.clock_angle
    ro, wall = layout.outer_radius, layout.outer_radius - layout.inner_radius
    near = min(s.pipe, max(s.corner, wall))
    if isinstance(body, RoundBody):
        reach = abs(complex(body.cx, body.cy))
        half = float(np.arccos((reach**2 + ro**2 - body.radius**2) / (2 * reach * ro)))
    else:
        half = body.half_angle
    ends = [(ro * np.exp(1j * (turn + sign * half)), s.corner) for sign in (1, -1)]
    contact = [ends[1], ends[0]]
    seat, foot = d.path("contact:0", contact, 0j), d.path("body:0", contact, 0j)
    if isinstance(body, RoundBody):
        centre = complex(body.cx, body.cy)
        first = float(np.angle((ends[0][0] - centre) / np.exp(1j * turn)))
        around = _arc(body.radius, turn + first, turn - first, [s.corner, *[s.tracer] * 3, s.corner], centre)
        around[0], around[-1] = ends
        hat = d.path("outline", around, centre)
        top: list[int] = hat
    else:
        crown = _arc(body.outer, turn + half, turn - half, [s.corner, s.tracer, s.corner])
        sides = d.path("outline", [ends[0], crown[0]], None), d.path("outline", [crown[-1], ends[1]], None)
        top = d.path("outline", crown, 0j)
        hat = sides[0] + top + sides[1]
    named = [("tracer:0", d.surface(foot + hat))]
    if layout.hulls and layout.hulls[0].void:
        hull = layout.hulls[0]
        foot_angle = max(float(np.angle(complex(*f) / np.exp(1j * turn))) for f in hull.feet)
        small = s.tracer
        left = d.path("pipe", _arc(ro, turn + half, turn + foot_angle, [s.corner, small]), 0j)
        right = d.path("pipe", _arc(ro, turn - foot_angle, turn - half, [small, s.corner]), 0j)
        feet = [(complex(ro * np.exp(1j * (turn + sign * foot_angle))), small) for sign in (1, -1)]
        rest = d.path("pipe", _arc(ro, turn + foot_angle, turn - foot_angle + 2 * np.pi, _rest(s, small)), 0j)
        up = d.path("tent", [feet[1], crown[-1]], None)
        down = d.path("tent", [crown[0], feet[0]], None)
        named.append(("void", d.surface([*left, *(-t for t in reversed(down)), *(-t for t in sides[0])])))
        named.append(("void", d.surface([*right, *(-t for t in sides[1]), *(-t for t in reversed(up))])))
        inside = [*rest, *up, *(-t for t in reversed(top)), *down]
        pipe = seat + left + rest + right
    else:
        rest = d.path("pipe", _arc(ro, turn + half, turn - half + 2 * np.pi, _rest(s, s.corner)), 0j)
        inside = rest + [-t for t in reversed(hat)]
        pipe = seat + rest
    bore = d.path(
        "bore",
        _arc(layout.inner_radius, turn, turn + 2 * np.pi, [near, s.pipe, s.pipe, s.pipe, near]),
        0j,
    )
    cover = d.path("outer", _arc(layout.cover_radius, turn, turn + 2 * np.pi, [s.cover] * 5), 0j)
    named += [("liquid", d.surface(bore)), ("wall", d.surface(pipe, bore))]
    named.append(("layer:0", d.surface(cover, inside)))
    return d, named


def _rest(s: Sizes, near: float) -> list[float]:
    return [near, s.pipe, s.pipe, s.pipe, near]


def plain_mesh(layout: Layout, sizes: Sizes) -> PlainMesh:
    """Mesh a section with straight triangles; gmsh is left running for the next one."""
    import gmsh

    if not gmsh.isInitialized():
        gmsh.initialize(interruptible=False)
        gmsh.option.setNumber("General.Terminal", 0)
    gmsh.clear()
    drawing, named = _draw(gmsh.model.geo, layout, sizes)
    gmsh.model.geo.synchronize()
    gmsh.model.mesh.generate(2)
    tags, xyz, _ = gmsh.model.mesh.getNodes()
    number = np.zeros(int(tags.max()) + 1, np.int64)
    number[tags] = np.arange(len(tags))
    triangles, regions = [], []
    for name, surface in named:
        _, _, node = gmsh.model.mesh.getElements(2, surface)
        triangles.append(number[node[0]].reshape(-1, 3))
        regions.append(np.full(len(triangles[-1]), NAMES.index(name)))
    lines: dict[str, list[IntArray]] = {}
    circles = {}
    for name, curve, circle in drawing.curves:
        _, _, node = gmsh.model.mesh.getElements(1, curve)
        key = f"outline {curve}" if name == "outline" else name
        lines.setdefault(key, []).append(number[node[0]].reshape(-1, 2))
        circles[key] = circle
    triangle = np.concatenate(triangles)
    used, compact = np.unique(triangle, return_inverse=True)
    renumber = np.full(len(tags), -1, np.int64)
    renumber[used] = np.arange(len(used))
    return PlainMesh(
        np.ascontiguousarray(xyz.reshape(-1, 3)[used, :2].T) * MILLI,
        np.ascontiguousarray(compact.reshape(-1, 3).T),
        np.concatenate(regions),
        {name: renumber[np.concatenate(parts)] for name, parts in lines.items()},
        circles,
    )
