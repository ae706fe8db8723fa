"""Closed forms for heat in and around an insulated pipe, to check numerical solutions against.

Lengths in m, conductivities in W/m/K, coefficients in W/m2/K, heats in W/m; temperatures are rises above the
ambient unless a function says otherwise.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class TwoLayerAnnulus:
    """Pipe wall r1..r2, insulation r2..r3, heat q' spread evenly over an arc on r2, film h outside.

    Separation of variables: with phi the half angle of the arc, the heat on r2 is a_0 + sum a_n cos(n theta),
    a_0 = q'/(2 pi r2), a_n = q' sin(n phi)/(pi r2 n phi), and each harmonic stands between two admittances:
    T_n(r2) = a_n/(Y_out,n + Y_in,n). Source: the solution of Laplace's equation in plane polar coordinates,
    term by term (Carslaw and Jaeger, Conduction of Heat in Solids, from memory); written out anew here.

    `inside` is what fills the bore: "empty" (adiabatic), "mixed" (film `film_inside` to one temperature that
    takes up no net heat) or "still" (conduction, `k_contents`, in perfect contact). `sheet` is thickness
    times conductivity of a thin sheet on r3, W/K.
    """

    r1: float
    r2: float
    r3: float
    k1: float
    k2: float
    film: float
    heat: float
    arc: float
    inside: Literal["empty", "mixed", "still"] = "empty"
    film_inside: float | Array = 0.0
    k_contents: float = 0.0
    sheet: float = 0.0

    @property
    def mean(self) -> float:
        """Mean of every circle from the bore to r2: the heat over the resistance outwards, K."""
        resistance = np.log(self.r3 / self.r2) / self.k2 + 1 / (self.film * self.r3)
        return float(self.heat / (2 * np.pi) * resistance)

    def _harmonics(self, terms: int) -> tuple[Array, Array, Array, Array]:
        n = np.arange(1, terms + 1, dtype=float)
        half = self.arc / (2 * self.r2)
        a = self.heat * np.sin(n * half) / (np.pi * self.r2 * n * half)
        biot = (self.film + self.sheet * n**2 / self.r3**2) * self.r3 / self.k2
        # (1 - c)/(1 + c), c = (r3/r2)^(2n) (n + Bi)/(n - Bi), multiplied through so that nothing overflows
        out = (self.r2 / self.r3) ** (2 * n)
        y_out = self.k2 * n / self.r2 * ((n + biot) - out * (n - biot)) / ((n + biot) + out * (n - biot))
        b = {
            "empty": np.zeros_like(n),
            "mixed": np.full_like(n, self.film_inside * self.r1 / self.k1),
            "still": self.k_contents * n / self.k1,
        }[self.inside]
        g = (self.r1 / self.r2) ** (2 * n) * (n - b) / (n + b)
        y_in = self.k1 * n / self.r2 * (1 - g) / (1 + g)
        return n, a / (y_out + y_in), b, biot

    def outside_of_pipe(self, angle: ArrayLike, terms: int = 20000) -> Array:
        """Rise on r2 at angles (rad) from the middle of the arc, K; same shape as `angle`."""
        theta = np.atleast_1d(np.asarray(angle, dtype=float))
        n, amplitude, _, _ = self._harmonics(terms)
        total = np.array([self.mean + amplitude @ np.cos(n * t) for t in theta.ravel()])
        return total.reshape(np.shape(angle))

    def bore(self, angle: ArrayLike, terms: int = 2000) -> Array:
        """Rise on r1, K: each harmonic falls inwards as 2 x^n/(1 + g), x = r1/r2, shared by r^n and r^-n."""
        theta = np.atleast_1d(np.asarray(angle, dtype=float))
        n, amplitude, b, _ = self._harmonics(terms)
        x = self.r1 / self.r2
        s = (n - b) / (n + b)
        inner = amplitude * x**n * (1 + s) / (1 + s * x ** (2 * n))
        total = np.array([self.mean + inner @ np.cos(n * t) for t in theta.ravel()])
        return total.reshape(np.shape(angle))

    def surface(self, angle: ArrayLike, terms: int = 400) -> Array:
        """Rise on r3, K: each harmonic times 2 n x^n/((n + Bi) + (n - Bi) x^2n), x = r2/r3."""
        theta = np.atleast_1d(np.asarray(angle, dtype=float))
        n, amplitude, _, biot = self._harmonics(terms)
        x = self.r2 / self.r3
        outer = amplitude * 2 * n * x**n / ((n + biot) + (n - biot) * x ** (2 * n))
        mean = self.heat / (2 * np.pi * self.r3 * self.film)
        total = np.array([mean + outer @ np.cos(n * t) for t in theta.ravel()])
        return total.reshape(np.shape(angle))


def thin_wall_fin(
    radius: float, thickness: float, conductivity: float, coefficient: float, heat: float
) -> tuple[float, float, float]:
    """Lowest, mean and highest rise (K) of a thin wall with a line source, heat leaving through U everywhere.

    The wall is a fin of length pi R from the source to the place opposite: m = sqrt(U/(k t)), z = m pi R;
    mean q'/(2 pi R U), highest = mean z coth z, lowest = mean z/sinh z. Source: the fin of uniform section
    with an insulated tip (Incropera, Fundamentals of Heat and Mass Transfer, table 3.4 case B, from memory).
    """
    z = np.sqrt(coefficient / (conductivity * thickness)) * np.pi * radius
    mean = heat / (2 * np.pi * radius * coefficient)
    return float(mean * z / np.sinh(z)), float(mean), float(mean * z / np.tanh(z))


def thin_wall_fin_around(
    angle: ArrayLike, radius: float, thickness: float, conductivity: float, coefficient: float, heat: float
) -> Array:
    """Rise (K) of the same wall at angles (rad, -pi to pi) from its line source: mean z cosh(z (1 - |a|/pi))/sinh z."""
    away = 1 - np.abs(np.asarray(angle, dtype=float)) / np.pi
    z = np.sqrt(coefficient / (conductivity * thickness)) * np.pi * radius
    mean = heat / (2 * np.pi * radius * coefficient)
    return np.asarray(mean * z * np.cosh(z * away) / np.sinh(z))


def multilayer_cylinder(
    radii: ArrayLike,
    conductivities: ArrayLike,
    film_inside: float,
    film_outside: float,
    inside: float,
    outside: float,
) -> tuple[float, Array]:
    """Heat loss (W/m) and temperatures on `radii` (n + 1,), outwards, of n layers between two films.

    Resistances per length: 1/(2 pi r h) for a film, ln(r_out/r_in)/(2 pi k) for a layer. Temperatures in and
    out on one scale. Source: Fourier's law in a cylinder (Incropera, section 3.3.1, from memory).
    """
    r, k = np.asarray(radii, dtype=float), np.asarray(conductivities, dtype=float)
    steps = np.concatenate([[1 / (r[0] * film_inside)], np.log(r[1:] / r[:-1]) / k])
    total = steps.sum() + 1 / (r[-1] * film_outside)
    loss = 2 * np.pi * (inside - outside) / total
    return float(loss), inside - loss * np.cumsum(steps) / (2 * np.pi)


def eccentric_shape_factor(outer_diameter: float, inner_diameter: float, offset: float) -> float:
    """Conduction shape factor per length of two eccentric cylinders: heat per metre is S' k dT.

    S' = 2 pi/acosh((D^2 + d^2 - 4 e^2)/(2 D d)). Source: Incropera, table 4.1.
    ValueError if the inner cylinder is not within the outer one.
    """
    if not 0 <= offset < (outer_diameter - inner_diameter) / 2:
        raise ValueError("the inner cylinder must lie within the outer one")
    arg = (outer_diameter**2 + inner_diameter**2 - 4 * offset**2) / (2 * outer_diameter * inner_diameter)
    return float(2 * np.pi / np.arccosh(arg))


def share_reaching_pipe(
    r_pipe: float, r_source: float, r_outside: float, conductivity: float, film: float
) -> float:
    """Share of the heat of a line source in the insulation that flows to an isothermal pipe at ambient.

    By reciprocity the mean over a circle is that of a heated ring: B/(A + B) with A = ln(r_s/r2)/k and
    B = ln(r3/r_s)/k + 1/(h r3). Source: two resistances side by side; written out anew here.
    """
    a = np.log(r_source / r_pipe) / conductivity
    b = np.log(r_outside / r_source) / conductivity + 1 / (film * r_outside)
    return float(b / (a + b))
