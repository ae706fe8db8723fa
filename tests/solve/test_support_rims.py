"""Rings in the insulation against an axisymmetric field in radius and length, solved here on its own grid."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve
from support_lines import narrowed

from sim.solve.support_level import solve_level

R_I, R_O, R_COVER, FILM, K, STEEL, CONTACT = 0.05113, 0.05715, 0.10715, 10.0, 0.04, 50.0, 1e5
WALL = 9000.0
CELLS = 40  # between two places where the material changes
LENGTH = 0.6  # m, half of the stretch


def graded(ends: list[float]) -> np.ndarray:
    """Cell edges through all of `ends`, thin beside each."""
    shape = 0.5 * (1 - np.cos(np.pi * np.arange(1, CELLS + 1) / CELLS))
    return np.concatenate([ends[:1], *(low + (high - low) * shape for low, high in pairwise(ends))])


def sink(height: float, length: float) -> float:
    """Heat the ring adds to the line's own loss, wall at 60 K over the air: finite volumes in r and z, W."""
    r = graded([R_I, R_O, R_O + height, R_COVER])
    z = graded([0.0, length / 2, 0.05, LENGTH])
    rm, zm, dz = 0.5 * (r[1:] + r[:-1]), 0.5 * (z[1:] + z[:-1]), np.diff(z)

    def loss(ring: bool) -> float:
        inside = (rm > R_O) & (rm < R_O + height)
        k = np.where(rm < R_O, WALL, K)[:, None] * np.ones(len(zm))
        if ring:
            k[np.ix_(inside, zm < length / 2)] = STEEL
        out, back = np.log(r[1:] / rm)[:, None] / k, np.log(rm / r[:-1])[:, None] / k
        between = out[:-1] + back[1:]
        foot = np.flatnonzero(np.isclose(r[1:-1], R_O))[0]
        if ring:
            between[foot, zm < length / 2] += 1.0 / (CONTACT * R_O)
        radial = 2 * np.pi * dz / between
        area = np.pi * (r[1:] ** 2 - r[:-1] ** 2)[:, None]
        axial = area / (0.5 * dz[:-1] / k[:, :-1] + 0.5 * dz[1:] / k[:, 1:])
        number = np.arange(k.size).reshape(k.shape)
        a = np.concatenate([number[:-1].ravel(), number[:, :-1].ravel()])
        b = np.concatenate([number[1:].ravel(), number[:, 1:].ravel()])
        g = np.concatenate([radial.ravel(), axial.ravel()])
        film = 2 * np.pi * dz / (out[-1] + 1.0 / (FILM * R_COVER))
        to_inside = 2 * np.pi * dz / back[0]
        diagonal = np.bincount(a, g, k.size) + np.bincount(b, g, k.size)
        diagonal[number[-1]] += film
        diagonal[number[0]] += to_inside
        right = np.zeros(k.size)
        right[number[0]] = to_inside * 60.0
        every = np.arange(k.size)
        rows, cols = np.concatenate([a, b, every]), np.concatenate([b, a, every])
        field = spsolve(coo_matrix((np.concatenate([-g, -g, diagonal]), (rows, cols))).tocsc(), right)
        return float(film @ field[number[-1]])

    return 2 * (loss(True) - loss(False))


RINGS = [(0.030, 0.050, 0.015), (0.040, 0.020, 0.015), (0.010, 0.008, 0.03), (0.030, 0.006, 0.035)]


@pytest.mark.parametrize(("height", "length", "share"), RINGS)
def test_a_ring_drains_what_the_axisymmetric_field_says(height: float, length: float, share: float) -> None:
    """A flange, a high ring and two thin ones, on a coarse mesh; a rim without cells of its own is 4 to 12 % low."""
    metal = {"conductivity": f"{WALL} W/m/K", "density": "7850 kg/m3", "specific_heat": "500 J/kg/K"}
    pad = {"thickness": f"{height} m", "length": f"{length} m", "contact_conductance": f"{CONTACT} W/m2/K"}
    case = narrowed(
        {
            "family": "flange",
            "pad": pad,
            "material": {"conductivity": f"{STEEL} W/m/K"},
            "spacing": f"{2 * LENGTH} m",
        },
        pipe={"outer_diameter": "114.3 mm", "wall": "6.02 mm", "material": metal},
        contents={"state": "flowing", "temperature": "60 degC", "film_coefficient": "100000 W/m2/K"},
        tracer=[],
    )
    computed = solve_level(case, case.supports[0], 0.85).values["heat_sink"]
    assert computed == pytest.approx(sink(height, length), rel=share)
