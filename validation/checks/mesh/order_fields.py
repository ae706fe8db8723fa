"""Manufactured temperatures with jumps in conductivity, for the order of accuracy.

On every interface temperature and normal heat flux match whatever the two conductivities are. Two ways: a field
a + f / k, a level across the interfaces (no normal slope) and f zero on them, so that the flux is that of f from either
side, with heat sources that make it a solution; and, around circles, harmonic pieces r^n, r^-n matched without sources.
Lengths in m; temperatures are rises in K; points (n, 3), conductivities (n,) W/m/K.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Law = Callable[[Array, Array], Array]


@dataclass(frozen=True)
class Exact:
    """temperature, gradient (n, 3) and source (W/m3) at points within material of a conductivity.

    weight (n,): of the heat that leaves through the boundary at points; heat: its exact weighted sum, W/m (2D) or W.
    """

    temperature: Law
    gradient: Law
    source: Law
    weight: Callable[[Array], Array]
    heat: float


ALPHA, BETA, GAMMA = 2.0, 2.0, 2.5  # 1/m, wave numbers over the unit square


def plane(least: float, wave: float = 0.0) -> Exact:
    """Unit square (or cube) with an interface at x = 1/2; least: scale of the flux, W/m/K.

    T = sin(c y) cos(2 m z) + s sin(a (x - 1/2)) cos(b y) cos(m z) / k. wave m: 0 in the plane; pi in the cube, where
    k may also jump at z = 1/2 and nothing flows through z = 0 and z = 1. Heat: through x = 1, over z < 1/2.
    """

    def parts(p: Array) -> tuple[Array, Array]:
        x, y, z = p.T
        level = np.sin(GAMMA * y) * np.cos(2 * wave * z)
        return level, least * np.sin(ALPHA * (x - 0.5)) * np.cos(BETA * y) * np.cos(wave * z)

    def temperature(p: Array, k: Array) -> Array:
        level, f = parts(p)
        return level + f / k

    def gradient(p: Array, k: Array) -> Array:
        x, y, z = p.T
        across, up, along = ALPHA * (x - 0.5), BETA * y, wave * z
        fx = least * ALPHA * np.cos(across) * np.cos(up) * np.cos(along)
        fy = -least * BETA * np.sin(across) * np.sin(up) * np.cos(along)
        fz = -least * wave * np.sin(across) * np.cos(up) * np.sin(along)
        ly = GAMMA * np.cos(GAMMA * y) * np.cos(2 * along)
        lz = -2 * wave * np.sin(GAMMA * y) * np.sin(2 * along)
        return np.stack([fx / k, ly + fy / k, lz + fz / k], axis=-1)

    def source(p: Array, k: Array) -> Array:
        level, f = parts(p)
        return k * (GAMMA**2 + 4 * wave**2) * level + (ALPHA**2 + BETA**2 + wave**2) * f

    def weight(p: Array) -> Array:
        return ((p[:, 0] > 1 - 1e-9) & (p[:, 2] < 0.5)).astype(float)

    half = np.sin(wave / 2) / wave if wave else 1.0
    heat = -least * ALPHA * np.cos(ALPHA / 2) * np.sin(BETA) / BETA * half
    return Exact(temperature, gradient, source, weight, float(heat))


PHASE = 0.4  # rad, so that no axis of a field lies on one of the mesh


def rings(radii: tuple[float, float, float], conductivity: tuple[float, float, float], n: int = 2) -> Exact:
    """Contents, wall and insulation of a pipe without sources: (A r^n + B r^-n) cos(n (t - phase)) in each.

    radii: of the bore, the pipe, the insulation; conductivity: in the same order, no two alike. Heat: the part of the
    loss that goes as the field does, W/m.
    """
    a, b = [1.0], [0.0]
    for radius, inner, outer in zip(radii, conductivity, conductivity[1:], strict=False):
        rise, fall = a[-1] * radius**n, b[-1] * radius**-n
        value, slope = rise + fall, inner / outer * (rise - fall)
        a.append(0.5 * (value + slope) / radius**n)
        b.append(0.5 * (value - slope) * radius**n)
    size = a[-1] * radii[2] ** n + b[-1] * radii[2] ** -n
    rising, falling, layers = np.array(a) / size, np.array(b) / size, np.array(conductivity)

    def of_layer(k: Array) -> tuple[Array, Array]:
        at = np.abs(k[:, None] - layers).argmin(axis=1)
        return rising[at], falling[at]

    def polar(p: Array) -> tuple[Array, Array]:
        return np.hypot(p[:, 0], p[:, 1]), np.arctan2(p[:, 1], p[:, 0])

    def temperature(p: Array, k: Array) -> Array:
        (r, t), (up, down) = polar(p), of_layer(k)
        return (up * r**n + down / np.maximum(r, 1e-9) ** n) * np.cos(n * (t - PHASE))

    def gradient(p: Array, k: Array) -> Array:
        (r, t), (up, down) = polar(p), of_layer(k)
        r = np.maximum(r, 1e-9)
        radial = n * (up * r ** (n - 1) - down / r ** (n + 1)) * np.cos(n * (t - PHASE))
        around = -n * (up * r ** (n - 1) + down / r ** (n + 1)) * np.sin(n * (t - PHASE))
        c, s = np.cos(t), np.sin(t)
        return np.stack([radial * c - around * s, radial * s + around * c, np.zeros(len(p))], axis=-1)

    def source(p: Array, k: Array) -> Array:
        return np.zeros(len(p))

    def weight(p: Array) -> Array:
        return np.cos(n * (polar(p)[1] - PHASE))

    outer = radii[2]
    slope = n * (rising[2] * outer ** (n - 1) - falling[2] / outer ** (n + 1))
    return Exact(temperature, gradient, source, weight, float(-conductivity[2] * slope * np.pi * outer))


def sleeve(radii: tuple[float, float, float], least: float, wave: float = 0.0) -> Exact:
    """A pipe whose interfaces are circles at r_i and r_o, with sources: T = (a(r) x + 1) cos(2 m z) + f / k.

    r a(r) has no slope on both circles; f = s (r^2 - r_i^2) (r^2 - r_o^2) r^2 cos(2 (t - phase)) cos(m z). wave m: 0
    in the plane; pi / L along a pipe of length L, where k may also jump at z = L / 2 and nothing flows through either
    end. least: conductivity of the insulation, W/m/K. Heat: the part of the loss that goes as cos(2 (t - phase)), over
    z < L / 2.
    """
    inner, pipe, outer = radii
    total, product = inner**2 + pipe**2, inner**2 * pipe**2
    c, s = np.cos(2 * PHASE), np.sin(2 * PHASE)
    size = 1.0 / (pipe * (pipe**4 / 5 - total * pipe**2 / 3 + product))
    scale = least / ((outer**4 - total * outer**2 + product) * outer**2)

    def terms(p: Array) -> tuple[Array, Array, Array, Array, Array]:
        """r^2, the level's factor of x, its derivative over r, the same pair of f's factor of the harmonic."""
        q = p[:, 0] ** 2 + p[:, 1] ** 2
        level, level_slope = q**2 / 5 - total * q / 3 + product, 4 * q / 5 - 2 * total / 3
        return (
            q,
            size * level,
            size * level_slope,
            scale * (q**2 - total * q + product),
            scale * (4 * q - 2 * total),
        )

    def harmonic(p: Array) -> Array:
        return c * (p[:, 0] ** 2 - p[:, 1] ** 2) + 2 * s * p[:, 0] * p[:, 1]

    def temperature(p: Array, k: Array) -> Array:
        _, level, _, f, _ = terms(p)
        z = p[:, 2]
        return (level * p[:, 0] + 1) * np.cos(2 * wave * z) + f * harmonic(p) * np.cos(wave * z) / k

    def gradient(p: Array, k: Array) -> Array:
        x, y, z = p.T
        _, level, level_slope, f, f_slope = terms(p)
        h = harmonic(p)
        twice, once = np.cos(2 * wave * z), np.cos(wave * z) / k
        gx = (level_slope * x * x + level) * twice + (f_slope * x * h + 2 * f * (c * x + s * y)) * once
        gy = level_slope * x * y * twice + (f_slope * y * h + 2 * f * (s * x - c * y)) * once
        gz = -2 * wave * (level * x + 1) * np.sin(2 * wave * z) - wave * f * h * np.sin(wave * z) / k
        return np.stack([gx, gy, gz], axis=-1)

    def source(p: Array, k: Array) -> Array:
        x, _, z = p.T
        q, level, _, f, _ = terms(p)
        twice, once = np.cos(2 * wave * z), np.cos(wave * z)
        bent = size * (24 * q / 5 - 8 * total / 3) * x - 4 * wave**2 * (level * x + 1)
        f_bent = (scale * (32 * q - 12 * total) - wave**2 * f) * harmonic(p)
        return -k * bent * twice - f_bent * once

    def weight(p: Array) -> Array:
        below = p[:, 2] < (0.5 * np.pi / wave if wave else np.inf)
        return np.cos(2 * (np.arctan2(p[:, 1], p[:, 0]) - PHASE)) * below

    slope = scale * (6 * outer**5 - 4 * total * outer**3 + 2 * product * outer)
    heat = -slope * np.pi * outer * (1.0 / wave if wave else 1.0)
    return Exact(temperature, gradient, source, weight, float(heat))
