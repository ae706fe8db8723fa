"""ISO 10211 case 4, an iron bar through insulation, on the cells in space that fittings are made of.

Insulation 1 m by 1 m, 0.2 m thick; the bar, 0.1 m by 0.05 m, is flush outside and stands 0.4 m into the room.
"""

import numpy as np
from numpy.typing import NDArray

from sim.section.fitting_sites import between
from sim.section.space import space
from sim.solve.balance import joint_matrix
from sim.solve.multigrid import Multigrid
from validation.published.rows import Row

SOURCE = "@iso10211, Annex C, case 4 (from memory)"
PUBLISHED = {"heat flow": (0.540, "W"), "highest temperature outside": (0.805, "degC")}
ALLOWED = {"heat flow": 0.0054, "highest temperature outside": 0.005}
REASON = "1 % and 0.005 K, what the standard allows (from memory)"
IRON, INSULATION, SKIN = 50.0, 0.1, 0.10  # W/m/K; m2 K/W on either side
WIDE, HIGH, ROOM, THICK, WALL = 0.05, 0.025, -0.4, 0.2, 0.5  # m: a quarter of the bar and of the wall
FINENESS = 1.5

Array = NDArray[np.float64]


def bar() -> list[Row]:
    """An iron bar through insulation (ISO 10211, case 4), on Voronoi cells in space."""
    found = solve()
    return [
        Row("iron bar", SOURCE, name, value, found[name], ALLOWED[name], REASON, unit)
        for name, (value, unit) in PUBLISHED.items()
    ]


def solve() -> dict[str, float]:
    """Heat flow, W, and the highest temperature of the outside's surface, degC: 1 degC in the room, 0 degC outside."""
    x = between([0.0, WIDE, WALL], 0.010, 0.08, FINENESS)
    y = between([0.0, HIGH, WALL], 0.008, 0.08, FINENESS)
    z = between([ROOM - 0.05, ROOM, 0.0, THICK], 0.015, 0.05, FINENESS)
    # rows beyond the planes of symmetry close the first cells; they take no part
    x, y = np.append(-x[0], x), np.append(-y[0], y)
    site = np.stack([a.ravel() for a in np.meshgrid(x, y, z, indexing="ij")], axis=1)
    at_x, at_y, at_z = site.T
    iron = (at_x < WIDE) & (at_y < HIGH) & (at_z > ROOM) & (at_z < THICK)
    solid = iron | ((at_z > 0.0) & (at_z < THICK))
    real = (at_x > 0.0) & (at_y > 0.0) & (at_x < WALL) & (at_y < WALL)
    faces = space(site)
    i, j = faces.pair.T
    kept = real[i] & real[j]
    i, j, area, half = i[kept], j[kept], faces.area[kept], 0.5 * faces.distance[kept]
    resistance = half / np.where(iron, IRON, INSULATION)[np.stack([i, j])]
    both = solid[i] & solid[j]
    number = np.cumsum(solid & real) - 1
    count = int(number[-1]) + 1
    wet = solid[i] != solid[j]
    inner, outer = np.where(solid[i], i, j)[wet], np.where(solid[i], j, i)[wet]
    to, series = number[inner], np.where(solid[i], *resistance)[wet] + SKIN
    film, room = area[wet] / series, (at_z[outer] < 0.0).astype(float)
    joint = area[both] / resistance[:, both].sum(axis=0)
    matrix = joint_matrix(
        count, number[i[both]], number[j[both]], joint, np.bincount(to, film, count).astype(float)
    )
    grid = Multigrid()
    grid.set_up(matrix)
    temperature, _ = grid.solve(matrix, np.bincount(to, film * room, count).astype(float), 1e-10)
    flow = film * (room - temperature[to])
    surface = room - (room - temperature[to]) * SKIN / series
    return {
        "heat flow": 4.0 * float(flow[room > 0.5].sum()),
        "highest temperature outside": float(surface[room < 0.5].max()),
    }


GROUPS = ()
LONG = (bar,)
