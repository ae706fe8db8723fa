"""A ring on the pipe as an annular fin within insulation: the exact field as series of Bessel functions.

The textbook's annular fin gives its faces one film coefficient. A clamp's faces lie in insulation instead, which has
none, so that fin could only be set beside the program within a few per cent. The whole field is solved here instead:
over the ring's length (|z| < a) and beyond it the temperature is the radial one plus modes in r, J0 and Y0 in every
layer, with cosh(lambda z) over the ring and exp(-mu z) beyond; temperature and heat agree at z = a.
"""

from dataclasses import dataclass
from math import log, pi

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import j0, j1, y0, y1

from validation.published.rows import Row, Table
from validation.sketches.stretch import ISOTHERMAL, R_COVER, R_O, level, line

Array = NDArray[np.float64]
SOURCE = "@carslaw1959, chapter VIII (from memory): modes of the hollow cylinder; series of Bessel functions"
MODES, POINTS, FINENESS = 60, 300, 2.0


@dataclass(frozen=True)
class Zone:
    """Layers from the pipe out: bound (n + 1,) m, k (n,) W/m/K; contact and film, W/m2/K; wall at 1, air at 0."""

    bound: tuple[float, ...]
    k: tuple[float, ...]
    contact: float
    film: float

    def radial(self, r: Array) -> Array:
        """Field without any change along z."""
        steps = [log(b / a) / k for a, b, k in zip(self.bound, self.bound[1:], self.k, strict=False)]
        foot, head = 1 / (self.contact * self.bound[0]), 1 / (self.film * self.bound[-1])
        total = foot + sum(steps) + head
        inside = np.minimum(np.searchsorted(self.bound, r, side="right") - 1, len(self.k) - 1)
        before = np.concatenate([[0.0], np.cumsum(steps)])[inside]
        start, k = np.array(self.bound)[inside], np.array(self.k)[inside]
        return np.asarray(1 - (foot + before + np.log(r / start) / k) / total)

    def shoot(self, root: float | Array, r: Array | None = None) -> tuple[Array, Array]:
        """From the contact outward at separation constant(s): the film's condition (0 at a root), and the mode at r."""
        root = np.asarray(root, float)
        value, flux = np.full(root.shape, 1.0 / self.contact), np.ones(root.shape)
        mode = np.zeros(0 if r is None else len(r))
        for a, b, k in zip(self.bound, self.bound[1:], self.k, strict=False):
            x, slope = root * a, flux / (k * root)
            # J0 Y1 - J1 Y0 = -2 / (pi x)
            first = -pi * x / 2 * (value * y1(x) + slope * y0(x))
            second = pi * x / 2 * (slope * j0(x) + value * j1(x))
            if r is not None:
                here = (r >= a) & (r <= b)
                mode[here] = first * j0(root * r[here]) + second * y0(root * r[here])
            x = root * b
            value = first * j0(x) + second * y0(x)
            flux = -k * root * (first * j1(x) + second * y1(x))
        return flux + self.film * value, mode

    def roots(self, count: int) -> Array:
        """The first separation constants, 1/m."""
        step = pi / (self.bound[-1] - self.bound[0]) / 40
        trial = step * np.arange(0.02, 40 * (count + 2) * 1.3)
        left = self.shoot(trial)[0]
        change = np.flatnonzero(np.sign(left[1:]) != np.sign(left[:-1]))[:count]
        return np.array([brentq(lambda x: float(self.shoot(x)[0]), trial[i], trial[i + 1]) for i in change])


def extra_heat(ring: Zone, plain: Zone, half: float, modes: int = MODES) -> float:
    """Heat that a ring over |z| < half adds to that of a long plain line, W/K of the wall's rise above the air."""
    nodes, weights = np.polynomial.legendre.leggauss(POINTS)
    spans = list(zip(ring.bound, ring.bound[1:], strict=False))
    r = np.concatenate([a + (b - a) * (nodes + 1) / 2 for a, b in spans])
    area = np.concatenate([weights * (b - a) / 2 for a, b in spans]) * r
    k2 = np.repeat(plain.k, POINTS)
    k1 = np.repeat(ring.k, POINTS)
    lam, mu = ring.roots(modes), plain.roots(modes)
    in_ring = np.array([ring.shoot(float(x), r)[1] for x in lam])
    beyond = np.array([plain.shoot(float(x), r)[1] for x in mu])
    in_ring /= np.abs(in_ring).max(axis=1)[:, None]
    beyond /= np.abs(beyond).max(axis=1)[:, None]
    overlap = (in_ring * area * k2) @ beyond.T
    norm_ring, norm_beyond = (in_ring**2) @ (area * k1), (beyond**2) @ (area * k2)
    jump = beyond @ (area * k2 * (ring.radial(r) - plain.radial(r)))
    # temperature on beyond's modes: norm b = jump + overlap^T a; heat on the ring's: a lam tanh norm = -overlap (mu b)
    tanh = np.tanh(lam * half)
    matrix = np.diag(lam * tanh * norm_ring) + overlap @ ((mu / norm_beyond)[:, None] * overlap.T)
    a = np.linalg.solve(matrix, -overlap @ (mu / norm_beyond * jump))
    b = (jump + overlap.T @ a) / norm_beyond
    rim = np.array([ring.bound[-1]])
    at_ring = np.array([ring.shoot(float(x), np.append(r, rim))[1] for x in lam])
    at_plain = np.array([plain.shoot(float(x), np.append(r, rim))[1] for x in mu])
    rim_ring = at_ring[:, -1] / np.abs(at_ring[:, :-1]).max(axis=1)
    rim_plain = at_plain[:, -1] / np.abs(at_plain[:, :-1]).max(axis=1)
    straight = half * float((ring.radial(rim) - plain.radial(rim))[0])
    spread = float((a * rim_ring * tanh / lam).sum() + (b * rim_plain / mu).sum())
    return 2 * 2 * pi * rim[0] * ring.film * (straight + spread)


RINGS: dict[str, tuple[float, float, float, float]] = {
    # height m, length m, k W/m/K, contact W/m2/K
    "flange pair, steel, 30 mm high, 50 mm long": (0.030, 0.050, 50.0, 1e5),
    "thin ring of poor conductor, 40 mm high, 10 mm long": (0.040, 0.010, 2.0, 1e5),
    "thin steel ring without cells of its own, 10 mm high, 8 mm long": (0.010, 0.008, 50.0, 1e5),
}


def rows() -> list[Row]:
    """Rings as annular fins in insulation, and a disc that goes through it."""
    table = Table("ring as an annular fin in insulation", SOURCE, [])
    film, mesh = (
        10.0,
        "the mesh at the rim's edges, where the heat crowds; 60 modes of the series leave 0.1 %",
    )
    for name, (height, length, k, contact) in RINGS.items():
        bound = (R_O, R_O + height, R_COVER)
        ring, plain = Zone(bound, (k, 0.04), contact, film), Zone(bound, (0.04, 0.04), 1e7, film)
        exact = 60.0 * extra_heat(ring, plain, length / 2)
        pad = {"arc": "360 deg", "thickness": f"{height} m", "length": f"{length} m"}
        pad |= {"contact_conductance": f"{contact} W/m2/K"}
        support = {"material": {"conductivity": f"{k} W/m/K"}, "pad": pad, "spacing": "0.25 m"}
        computed = level(line(ISOTHERMAL, support), FINENESS).values["heat_sink"]
        part = 0.03 if height < 0.02 else 0.02  # a low rim is a few cells high
        table.row(f"heat sink, {name}", exact, computed, part, mesh)
    for k, length in ((0.5, 0.04),):
        bound = (R_O, 0.5 * (R_O + R_COVER), R_COVER)
        ring, plain = Zone(bound, (k, k), 1e7, film), Zone(bound, (0.04, 0.04), 1e7, film)
        exact = 60.0 * extra_heat(ring, plain, length / 2)
        insert = {"arc": "360 deg", "length": f"{length} m", "conductivity": f"{k} W/m/K"}
        computed = level(line(ISOTHERMAL, {"insert": insert, "spacing": "0.25 m"}), FINENESS).values[
            "heat_sink"
        ]
        table.row(
            f"heat sink, disc to the outside, {k:g} W/m/K, {1e3 * length:g} mm", exact, computed, 0.02, mesh
        )
    return table.rows
