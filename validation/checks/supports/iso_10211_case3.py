"""ISO 10211 (2007 Annex A, 2017 Annex C) case 3: a corner of two walls with a balcony slab, in three dimensions.

Solved through the program's own joints and multigrid (`sim.solve.multigrid`) on Cartesian cells. Published: 46.09,
13.89 and 59.98 W within 1 %, lowest surface temperatures 11.32 and 11.11 degC within 0.1 K.
"""

from itertools import pairwise

import numpy as np

from sim.solve.balance import joint_matrix
from sim.solve.multigrid import Multigrid
from validation.published.rows import Row, Table

PUBLISHED = {"lower": 46.09, "upper": 13.89, "outside": 59.98, "lowest lower": 11.32, "lowest upper": 11.11}
ROOMS = {"lower": (20.0, 0.20), "upper": (15.0, 0.20), "outside": (0.0, 0.05)}


def _edges(marks: list[float], size: float) -> np.ndarray:
    """Cell edges with the marks among them, finer near each mark, mm."""
    parts = []
    for low, high in pairwise(marks):
        half, steps, step = (high - low) / 2, [0.0], size
        while steps[-1] + step < half:
            steps.append(steps[-1] + step)
            step *= 1.35
        inner = np.array(steps) * (half / (steps[-1] + step)) if len(steps) > 1 else np.zeros(1)
        parts.append(np.concatenate([low + inner, [low + half], (high - inner[1:])[::-1]]))
    return np.append(np.concatenate(parts), marks[-1])


def _air(x: np.ndarray, y: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Which surroundings a point without material lies in: 0 lower room, 1 upper room, 2 outside."""
    inside = np.minimum(x, y) > 200
    return np.where(inside & (z < 1000), 0, np.where(inside & (z > 1200), 1, 2))


def _material(x: np.ndarray, y: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Conductivity at points in mm; 0 where there is air."""
    depth = np.minimum(x, y)
    k = np.zeros(np.broadcast_shapes(x.shape, y.shape, z.shape))
    k[np.broadcast_to((depth > -100) & (depth < 0), k.shape)] = 1.0
    k[np.broadcast_to((depth > 0) & (depth < 50), k.shape)] = 0.04
    k[(depth > 50) & (depth < 200) & ((z < 1000) | (z > 1150))] = 0.7
    k[(x > 50) & (y > -700) & (z > 1000) & (z < 1150)] = 2.5
    k[(depth > 200) & (z > 1150) & (z < 1200)] = 1.0
    k[(y < -100) & ~((x > 50) & (z > 1000) & (z < 1150))] = 0.0
    k[np.broadcast_to(x < -100, k.shape)] = 0.0
    return k


def solve(size: float = 8.0) -> dict[str, float]:
    """Heat flows, W, and lowest surface temperatures, degC. size: cell at the corners, mm."""
    x = _edges([-110, -100, 0, 50, 200, 1200], size)
    y = _edges([-710, -700, -100, 0, 50, 200, 1200], size)
    z = _edges([0, 1000, 1150, 1200, 2150], size)
    edges = (x, y, z)
    centre = [0.5 * (e[1:] + e[:-1]) for e in edges]
    width = [np.diff(e) * 1e-3 for e in edges]
    at = np.meshgrid(*centre, indexing="ij")
    k, air = _material(*at), _air(*at)
    solid = k > 0
    node = np.where(solid, np.cumsum(solid.ravel()).reshape(solid.shape) - 1, -1)
    joints, films = [], []
    skins, rooms = np.array([skin for _, skin in ROOMS.values()]), np.array([t for t, _ in ROOMS.values()])
    volume = np.einsum("i,j,k->ijk", *width)
    for axis in range(3):
        across = [-1 if i == axis else 1 for i in range(3)]
        step = np.broadcast_to(width[axis].reshape(across), k.shape)
        with np.errstate(divide="ignore"):
            parts = (node, solid, air, volume / step, 0.5 * step / k)
        first, second = (
            [np.moveaxis(part, axis, 0)[end] for part in parts] for end in (np.s_[:-1], np.s_[1:])
        )
        both = first[1] & second[1]
        between = first[3] / (first[4] + second[4])
        joints.append(np.stack([first[0][both], second[0][both], between[both]]))
        for own, other in ((first, second), (second, first)):
            bare = own[1] & ~other[1]
            room, area, half = other[2][bare], own[3][bare], own[4][bare]
            film, share = area / (half + skins[room]), skins[room] / (half + skins[room])
            films.append(np.stack([own[0][bare], film, room, share]))
    (a, b, between), (to, film, room, share) = np.concatenate(joints, 1), np.concatenate(films, 1)
    a, b, to, room = (numbers.astype(int) for numbers in (a, b, to, room))
    count = int(solid.sum())
    outside = rooms[room]
    matrix = joint_matrix(count, a, b, between, np.bincount(to, film, count).astype(float))
    grid = Multigrid()
    grid.set_up(matrix)
    temperature, _ = grid.solve(matrix, np.bincount(to, film * outside, count).astype(float), 1e-9)
    flow = film * (outside - temperature[to])
    surface = outside - (outside - temperature[to]) * share
    room_flow = {name: float(flow[room == i].sum()) for i, name in enumerate(ROOMS)}
    room_flow["closure"] = abs(sum(room_flow.values())) / room_flow["lower"]
    room_flow["outside"] = -room_flow["outside"]
    for i, name in enumerate(("lower", "upper")):
        room_flow[f"lowest {name}"] = float(surface[room == i].min())
    return room_flow


def rows() -> list[Row]:
    """Corner of two walls with a balcony slab, in three dimensions (ISO 10211, case 3)."""
    source, field = "@iso10211, Annex C, case 3", solve(4.0)
    table = Table("ISO 10211 case 3 (3D)", source, unit="degC", why="the standard's own: 0.1 K")
    for name, published in PUBLISHED.items():
        if name.startswith("lowest"):
            table.within(f"{name} surface", published, field[name], 0.1)
        else:
            why = "the standard's own: 1 % of the flow"
            table.within(f"heat flow, {name}", published, field[name], 0.01 * published, why, "W")
    return table.rows
