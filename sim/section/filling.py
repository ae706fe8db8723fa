"""Sites between the circles of a grid: zones halved where the size field asks, rings or a graded bore in the middle.

A bore whose contents move has rows of cells that grow from the wall and a square lattice in the middle.
"""

import numpy as np

from sim.section.grid import CORE, MAX_HALVINGS, SLACK, Grid, Zone
from sim.section.shapes import Array
from sim.section.sizing import SizeField

NARROW = 0.6  # a row whose cells are narrower than this part of their height gets half as many


def filling(grid: Grid) -> tuple[Array, Array]:
    """Sites of all zones and the core, shape (n, 2), and the smaller side of each one's cell, shape (n,)."""
    zones, size, roots = grid.zones, grid.size, grid.roots
    around = [roots] * (len(zones) - 1)
    if size.grading is None:
        parts = [
            _zone_sites(zones, size, [roots // 2, *around]),
            _core_sites(CORE * grid.circles[0].radius, size.bore),
        ]
    else:
        parts = [_zone_sites(zones[1:], size, around), _graded_sites(grid)]
    return np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])


def _graded_sites(grid: Grid) -> tuple[Array, Array]:
    """Sites (n, 2), m, and the smaller side of each one's cell (n,), m. The wall's own pairs are not among them."""
    radius = grid.circles[0].radius
    rows = grid.size.bore_rows()
    depth = np.cumsum(rows) - rows / 2
    parts: list[tuple[Array, Array]] = []
    count = grid.roots
    for height, r in zip(rows[1:], radius - depth[1:], strict=True):
        if 2 * np.pi * r / grid.roots > NARROW * height:
            least = NARROW * height / r
            bounds = grid.halved(lambda a, least=least: np.maximum(grid.spacing(0, a), least))  # type: ignore[misc]
            angle, width = 0.5 * (bounds[1:] + bounds[:-1]), np.diff(bounds)
        else:
            while 2 * np.pi * r / count < NARROW * height and count >= 16:
                count = round(count / 2)
            width = np.full(count, 2 * np.pi / count)
            angle = (np.arange(count) + 0.5) * width
        site = r * np.stack([np.sin(angle), np.cos(angle)], axis=-1)
        parts.append((site, np.minimum(r * width, height)))
    size, inner = float(rows[-1]), radius - float(rows.sum())
    across = (np.arange(-np.ceil(inner / size) - 1, np.ceil(inner / size) + 1) + 0.5) * size
    lattice = np.stack(np.meshgrid(across, across), axis=-1).reshape(-1, 2)
    lattice = lattice[np.hypot(*lattice.T) < inner - 0.2 * size]
    parts.append((lattice, np.full(len(lattice), size)))
    return np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])


def _zone_sites(zones: tuple[Zone, ...], size: SizeField, roots: list[int]) -> tuple[Array, Array]:
    """Sites of all zones, halved together; each zone begins with its own number of roots around."""
    reaches = np.array([[z.inner.radius, z.inner.drop, z.outer.radius, z.outer.drop] for z in zones])
    count = [n * zone.rows for n, zone in zip(roots, zones, strict=True)]
    step = 2 * np.pi / np.repeat(roots, count)
    rows = np.repeat([zone.rows for zone in zones], count)
    place = np.concatenate([np.arange(n) for n in count])
    low = (place // np.repeat(roots, count)) / rows
    start, width, high = (place % np.repeat(roots, count)) * step, step, 1.0 / rows
    circles = np.repeat(reaches, count, axis=0)
    done: list[tuple[Array, Array]] = []
    for _ in range(MAX_HALVINGS + 1):
        angle, part = start + width / 2, low + high / 2
        sin, cos = np.sin(angle), np.cos(angle)
        inner, drop, outer, outer_drop = circles.T
        inside = np.sqrt(inner**2 - (drop * sin) ** 2) - drop * cos
        thickness = np.sqrt(outer**2 - (outer_drop * sin) ** 2) - outer_drop * cos - inside
        r = inside + part * thickness
        site = np.stack([r * sin, r * cos], axis=-1)
        target = size(site)
        along, tall_by = r * width, thickness * high
        wide, tall = along > SLACK * target, tall_by > SLACK * target
        keep = ~(wide | tall)
        done.append((site[keep], np.minimum(along, tall_by)[keep]))
        start, width, low, high, circles, wide, tall = (
            a[~keep] for a in (start, width, low, high, circles, wide, tall)
        )
        if not start.size:
            break
        width, high = np.where(wide, width / 2, width), np.where(tall, high / 2, high)
        right = np.stack([start + width, width, low, high])[:, wide]
        start, width, low, high = np.concatenate([np.stack([start, width, low, high]), right], axis=1)
        circles, tall = np.concatenate([circles, circles[wide]]), np.concatenate([tall, tall[wide]])
        upper = np.stack([start, width, low + high, high])[:, tall]
        start, width, low, high = np.concatenate([np.stack([start, width, low, high]), upper], axis=1)
        circles = np.concatenate([circles, circles[tall]])
    return np.concatenate([d[0] for d in done]), np.concatenate([d[1] for d in done])


def _core_sites(radius: float, size: float) -> tuple[Array, Array]:
    """Rings of evenly spaced sites within a radius, their cells about `size`."""
    rings = max(1, round(radius / size))
    parts = [np.zeros((1, 2))]
    for k in range(1, rings):
        r = radius * k / rings
        count = max(6, round(2 * np.pi * k))
        angle = (np.arange(count) + 0.5 * (k % 2)) * 2 * np.pi / count
        parts.append(np.stack([r * np.sin(angle), r * np.cos(angle)], axis=-1))
    sites = np.concatenate(parts)
    return sites, np.full(len(sites), radius / rings)
