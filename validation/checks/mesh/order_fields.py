"""Manufactured temperatures with jumps in conductivity, for the order of accuracy.

On every interface temperature and normal heat flux match whatever the two conductivities are: a field a + f / k, a
level across the interfaces (no normal slope) and f zero on them, so that the flux is that of f from either side, with
heat sources that make it a solution. Gradients are those of the field's formula by a complex step (Squire and Trapp
1998, SIAM Review 40, 110-112, from memory), exact to rounding; sources are its Laplacian by differences of them.
Lengths in m; temperatures are rises in K; points (n, 3), conductivities (n,) W/m/K.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
COMPLEX_STEP, STEP = 1e-30, 1e-5  # m; the central differences err by (STEP / length)^2 / 6, some 1e-8


@dataclass(frozen=True)
class Exact:
    """temperature at points within material of a conductivity, an analytic formula.

    weight (n,): of the heat that leaves through the boundary at points; heat: its exact weighted sum, W/m (2D) or W.
    """

    temperature: Callable[[Array, Array], Array]
    weight: Callable[[Array], Array]
    heat: float

    def gradient(self, p: Array, k: Array) -> Array:
        """(n, 3), K/m."""
        along = [self.temperature(p + 1j * COMPLEX_STEP * axis, k).imag for axis in np.eye(3)]
        return np.stack(along, axis=-1) / COMPLEX_STEP

    def source(self, p: Array, k: Array) -> Array:
        """What keeps it up, W/m3."""
        total = np.zeros(len(p))
        for i, axis in enumerate(np.eye(3)):
            ahead, behind = (self.gradient(p + side * STEP * axis, k)[:, i] for side in (1, -1))
            total -= k * (ahead - behind) / (2 * STEP)
        return total


ALPHA, BETA, GAMMA = 2.0, 2.0, 2.5  # 1/m, wave numbers over the unit square


def plane(least: float, wave: float = 0.0) -> Exact:
    """Unit square (or cube) with an interface at x = 1/2; least: scale of the flux, W/m/K.

    T = sin(c y) cos(2 m z) + s sin(a (x - 1/2)) cos(b y) cos(m z) / k. wave m: 0 in the plane; pi in the cube, where
    k may also jump at z = 1/2 and nothing flows through z = 0 and z = 1. Heat: through x = 1, over z < 1/2.
    """

    def temperature(p: Array, k: Array) -> Array:
        x, y, z = p.T
        f = least * np.sin(ALPHA * (x - 0.5)) * np.cos(BETA * y) * np.cos(wave * z)
        return np.sin(GAMMA * y) * np.cos(2 * wave * z) + f / k

    def weight(p: Array) -> Array:
        return ((p[:, 0] > 1 - 1e-9) & (p[:, 2] < 0.5)).astype(float)

    half = np.sin(wave / 2) / wave if wave else 1.0
    heat = -least * ALPHA * np.cos(ALPHA / 2) * np.sin(BETA) / BETA * half
    return Exact(temperature, weight, float(heat))


PHASE = 0.4  # rad, so that no axis of a field lies on one of the mesh


def sleeve(radii: tuple[float, float, float], least: float, wave: float = 0.0) -> Exact:
    """A pipe whose interfaces are circles at r_i and r_o, with sources: T = (a(r) x + 1) cos(2 m z) + f / k.

    r a(r) has no slope on both circles; f = s (r^2 - r_i^2) (r^2 - r_o^2) r^2 cos(2 (t - phase)) cos(m z). wave m: 0
    in the plane; pi / L along a pipe of length L, where k may also jump at z = L / 2 and nothing flows through either
    end. least: conductivity of the insulation, W/m/K. Heat: the part of the loss that goes as cos(2 (t - phase)), over
    z < L / 2.
    """
    inner, pipe, outer = radii
    total, product = inner**2 + pipe**2, inner**2 * pipe**2
    size = 1.0 / (pipe * (pipe**4 / 5 - total * pipe**2 / 3 + product))
    scale = least / ((outer**4 - total * outer**2 + product) * outer**2)

    def temperature(p: Array, k: Array) -> Array:
        x, y, z = p.T
        q = x**2 + y**2
        harmonic = np.cos(2 * PHASE) * (x**2 - y**2) + 2 * np.sin(2 * PHASE) * x * y
        level = size * (q**2 / 5 - total * q / 3 + product) * x + 1
        f = scale * (q**2 - total * q + product) * harmonic
        return level * np.cos(2 * wave * z) + f * np.cos(wave * z) / k

    def weight(p: Array) -> Array:
        below = p[:, 2] < (0.5 * np.pi / wave if wave else np.inf)
        return np.cos(2 * (np.arctan2(p[:, 1], p[:, 0]) - PHASE)) * below

    slope = scale * (6 * outer**5 - 4 * total * outer**3 + 2 * product * outer)
    heat = -slope * np.pi * outer * (1.0 / wave if wave else 1.0)
    return Exact(temperature, weight, float(heat))
