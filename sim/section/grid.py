"""The polar grid behind the plan mesh: zones between neighbouring circles, halved where the size field asks.

Every circle is followed by the angle about the pipe's axis, on one dyadic set of angles, so the cells on both
sides of a thin wall or layer face each other.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from sim.section.layout import Layout
from sim.section.shapes import Array
from sim.section.sizing import RADIAL_CELLS, SizeField, root_count

CORE = 0.6  # radius, as a part of the bore's, within which rings replace the polar grid
FACING = 0.7  # a circle whose neighbour is nearer than size / FACING takes the neighbour's angles
MOST_ROWS = 5 * RADIAL_CELLS  # rows through any zone at fineness 1, however thin the insulation beside it
MAX_HALVINGS = 24
PART_ROWS = 2.5  # rows in each zone of a section with a pad, at fineness 1
SLACK = 1 + 1e-6  # so that rounding does not halve a cell of just the target size


@dataclass(frozen=True)
class Circle:
    """A circle about (0, -drop), followed by the angle about the origin."""

    radius: float
    drop: float = 0.0

    def reach(self, angle: Array) -> Array:
        """Distance from the origin at clock angles, m."""
        if self.drop == 0.0:
            return np.full(np.shape(angle), self.radius)
        along = -self.drop * np.cos(angle)
        return along + np.sqrt(self.radius**2 - (self.drop * np.sin(angle)) ** 2)

    def at(self, angle: Array) -> Array:
        """Points at clock angles, shape (n, 2)."""
        r = self.reach(angle)
        return np.stack([r * np.sin(angle), r * np.cos(angle)], axis=-1)


@dataclass(frozen=True)
class Zone:
    """The area between two circles, with the number of rows before refinement."""

    inner: Circle
    outer: Circle
    rows: int

    def thickness(self, angle: Array) -> Array:
        return self.outer.reach(angle) - self.inner.reach(angle)


@dataclass(frozen=True)
class Grid:
    """circles: inside out, from the bore; zones[i] lies inside circles[i]; pipe: index of the pipe's outside."""

    circles: tuple[Circle, ...]
    zones: tuple[Zone, ...]
    size: SizeField
    roots: int
    pipe: int = 1

    def spacing(self, k: int, angle: Array) -> Array:
        """Target angle between samples of circle k at the given angles, rad."""
        wanted = self.size(self.circles[k].at(angle)) / self.circles[k].reach(angle)
        if k == self.pipe:
            return wanted
        towards_pipe = k + 1 if k < self.pipe else k - 1
        master = self.spacing(towards_pipe, angle)
        reach = self.circles[k].reach(angle)
        gap = np.abs(reach - self.circles[towards_pipe].reach(angle))
        return np.maximum(master, np.minimum(FACING * gap / reach, wanted))

    @cached_property
    def _angles(self) -> dict[int, Array]:
        return {}

    def angles(self, k: int) -> Array:
        """Dyadic sample angles of circle k in [0, 2 pi], increasing, both ends given."""
        if k not in self._angles:
            self._angles[k] = self.halved(lambda angle: self.spacing(k, angle))
        return self._angles[k]

    def halved(self, spacing: Callable[[Array], Array]) -> Array:
        """The roots' angles halved until none is wider than the spacing wanted there, rad."""
        step = 2 * np.pi / self.roots
        start: Array = np.arange(self.roots, dtype=float) * step
        done: list[Array] = []
        for _ in range(MAX_HALVINGS):
            wide = step > SLACK * spacing(start + step / 2)
            done.append(start[~wide])
            start, step = start[wide], step / 2
            if not start.size:
                break
            start = np.concatenate([start, start + step])
        return np.concatenate([np.sort(np.concatenate([*done, start])), [2 * np.pi]])

    def row_height(self, k: int, circle: int, angle: Array) -> Array:
        """Height of the rows of zone k beside one of its circles, at the given angles, m."""
        zone = self.zones[k]
        if k == 0 and self.size.grading is not None:
            return np.full(np.shape(angle), self.size.bore_rows()[0])
        height = zone.thickness(angle) / zone.rows
        size = self.size(self.circles[circle].at(angle))
        halvings = np.ceil(np.clip(np.log2(np.maximum(height / size / SLACK, 1e-9)), 0, MAX_HALVINGS))
        halved: Array = height / 2.0**halvings
        return halved


def grid(layout: Layout, size: SizeField) -> Grid:
    """Circles and zones of a section, inside out: contents, wall, (void,) insulation layers."""
    first = 0 if layout.oversize else 1
    circles = [Circle(layout.inner_radius), Circle(layout.outer_radius)]
    circles += [Circle(radius) for radius in layout.part_circles()]
    layered = sorted(
        set(layout.layer_radii[first:]) - {layout.outer_radius}
    )  # thin layers have no thickness here
    circles += [Circle(radius, layout.drop) for radius in layered]
    circles[2:] = sorted(circles[2:], key=lambda circle: circle.radius)
    covering = layout.cover_radius - layout.layer_radii[0]
    row = (covering if covering > 0 else layout.outer_radius) / RADIAL_CELLS
    core = CORE * layout.inner_radius
    zones = [Zone(Circle(core), circles[0], _rows(layout.inner_radius - core, size.bore, size))]
    for inner, outer in pairwise(circles):
        thickness = outer.radius - inner.radius
        target = min(row, thickness / PART_ROWS) if layout.part_circles() else row
        zones.append(Zone(inner, outer, _rows(thickness, target / size.fineness, size)))
    return Grid(tuple(circles), tuple(zones), size, root_count(layout, size.fineness))


def _rows(thickness: float, target: float, size: SizeField) -> int:
    rows = min(round(thickness / target), round(MOST_ROWS * size.fineness))
    return max(2, round(size.fineness), rows)
