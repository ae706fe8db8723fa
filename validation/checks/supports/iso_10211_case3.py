"""ISO 10211 (2007 Annex A, 2017 Annex C) case 3: a corner of two walls with a balcony slab, in three dimensions.

Solved through the program's own joints and multigrid (`sim.solve.multigrid`) on Cartesian cells. Published: 46.09,
13.89 and 59.98 W within 1 %, lowest surface temperatures 11.32 and 11.11 degC within 0.1 K.
"""

from itertools import pairwise

import numpy as np

from sim.solve.balance import joint_matrix
from sim.solve.multigrid import Multigrid
from validation.published.rows import Row

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
    a, b, g = [], [], []
    to, film, room, half_at = [], [], [], []
    for axis in range(3):
        first = tuple(slice(None, -1) if i == axis else slice(None) for i in range(3))
        second = tuple(slice(1, None) if i == axis else slice(None) for i in range(3))
        others = [i for i in range(3) if i != axis]
        shape = [1, 1, 1]
        area = np.ones((1, 1, 1))
        for i in others:
            s = [1, 1, 1]
            s[i] = -1
            area = area * width[i].reshape(s)
        shape[axis] = -1
        half = 0.5 * width[axis].reshape(shape)
        with np.errstate(divide="ignore"):
            resistance = np.broadcast_to(half, k.shape) / k
        area = np.broadcast_to(area, k.shape)
        both = solid[first] & solid[second]
        a.append(node[first][both])
        b.append(node[second][both])
        g.append((area[first] / (resistance[first] + resistance[second]))[both])
        for own, other in ((first, second), (second, first)):
            open_face = solid[own] & ~solid[other]
            kind = air[other][open_face]
            skin = np.array([ROOMS[n][1] for n in ROOMS])[kind]
            to.append(node[own][open_face])
            film.append(area[own][open_face] / (resistance[own][open_face] + skin))
            room.append(kind)
            half_at.append(skin / (resistance[own][open_face] + skin))
    a_, b_, g_, to_, film_, room_, share = (np.concatenate(p) for p in (a, b, g, to, film, room, half_at))
    count = int(solid.sum())
    outside = np.array([ROOMS[n][0] for n in ROOMS])[room_]
    matrix = joint_matrix(count, a_, b_, g_, np.bincount(to_, film_, count).astype(float))
    grid = Multigrid()
    grid.set_up(matrix)
    temperature, _ = grid.solve(matrix, np.bincount(to_, film_ * outside, count).astype(float), 1e-9)
    flow = film_ * (outside - temperature[to_])
    surface = outside - (outside - temperature[to_]) * share
    room_flow = {name: float(flow[room_ == i].sum()) for i, name in enumerate(ROOMS)}
    room_flow["closure"] = abs(sum(room_flow.values())) / room_flow["lower"]
    room_flow["outside"] = -room_flow["outside"]
    room_flow |= {
        f"lowest {name}": float(surface[room_ == i].min()) for i, name in enumerate(("lower", "upper"))
    }
    room_flow["cells"] = float(count)
    return room_flow


if __name__ == "__main__":
    got = solve()
    for name, published in PUBLISHED.items():
        print(f"{name:14s} published {published:8.2f}  found {got[name]:8.3f}")
    print(f"{got['cells']:.0f} cells, closure {got['closure']:.1e}")


def rows() -> list[Row]:
    """Corner of two walls with a balcony slab, in three dimensions (ISO 10211, case 3)."""
    field, rows = solve(4.0), []
    for name, published in PUBLISHED.items():
        heat = not name.startswith("lowest")
        quantity, unit = (f"heat flow, {name}", "W") if heat else (f"{name} surface", "degC")
        tolerance, reason = (0.01 * published, "1 % of the flow") if heat else (0.1, "0.1 K")
        source, own = "@iso10211, Annex C, case 3", f"the standard's own: {reason}"
        rows.append(
            Row("ISO 10211 case 3 (3D)", source, quantity, published, field[name], tolerance, own, unit)
        )
    return rows
