"""A fin of uniform section: what a leg's exposed part takes from its root, and the film on it."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sim.heat.film import blended, radiative
from sim.section.shapes import Array

POINTS, ROUNDS = 65, 30  # along a fin; of its film


def fin_root(
    conductivity: float, area: float, perimeter: float, length: float, film: float, end_given: bool
) -> tuple[float, float]:
    """(conductance from the root, W/K; share of it that goes to the end's temperature) of a one-dimensional fin.

    Heat leaving the root is G ((1 - s) (T_root - T_air) + s (T_root - T_end)). Free end: adiabatic, G = M tanh(m L),
    s = 0. Held end: G = M / tanh(m L), s = 1 / cosh(m L); M = sqrt(h P k A), m = sqrt(h P / (k A)). Incropera and
    DeWitt, Fundamentals of Heat and Mass Transfer, table 3.4 (cases B and C). Film 0: the rod's own conductance.
    """
    if film <= 0.0:
        return (conductivity * area / length, 1.0) if end_given else (0.0, 0.0)
    m = float(np.sqrt(film * perimeter / (conductivity * area)))
    root = m * conductivity * area
    if end_given:
        return root / float(np.tanh(m * length)), 1.0 / float(np.cosh(min(m * length, 300.0)))
    return root * float(np.tanh(m * length)), 0.0


@dataclass(frozen=True)
class Exposed:
    """A leg's part beyond the insulation: area of its section m2, perimeter m, length m, whether its end is held and at
    which temperature K; film: a given coefficient, W/m2/K, or None; emissivity of its surface."""

    area: float
    perimeter: float
    length: float
    end_given: bool
    end: float
    film: float | None
    emissivity: float

    @property
    def diameter(self) -> float:
        """Of the cylinder of the same perimeter, m: the size by which the air sees it."""
        return self.perimeter / np.pi


@dataclass(frozen=True)
class Root:
    """What the exposed part takes: conductance from the root W/K, to a temperature K, with a mean film W/m2/K."""

    conductance: float
    sink: float
    film: float


def exposed_film(part: Exposed, temperature: Array, ambient: float, wind: float) -> Array:
    """Film coefficient on exposed metal at local temperatures, K, radiation to surroundings at the ambient included.

    A cylinder in cross flow of the part's own perimeter (Churchill and Bernstein 1977), free convection of the same
    cylinder (Churchill and Chu 1975), blended as outside the insulation. A flat strip differs with its side to the
    wind, which is not known: edge on it has about a quarter less (laminar plate), face on up to a third more (Sparrow,
    Abraham and Tong 2004, Int. J. Heat Mass Transfer 47, 5285-5296; from memory).
    """
    if part.film is not None:
        return np.full(np.shape(temperature), part.film)
    air = blended(temperature, ambient=ambient, wind=wind, diameter=part.diameter)
    return air + radiative(temperature, ambient=ambient, emissivity=part.emissivity)


def exposed_root(
    part: Exposed, conductivity: Callable[[float], float], root: float, ambient: float, wind: float
) -> Root:
    """The fin at a root temperature, K, with the one film that takes as much as the local films along it.

    A small change of the film at x changes the heat from the root by its excess temperature there times that of the fin
    with its end at the air's temperature (the adjoint), which is the weight of the mean. Profile and mean are iterated.
    """
    x = np.linspace(0.0, part.length, POINTS)
    at = np.full(POINTS, 0.5 * (root + ambient))
    film, k = float("nan"), conductivity(float(at[0]))
    weight = np.ones(POINTS)
    for _ in range(ROUNDS):
        before = film
        film = float(np.average(exposed_film(part, at, ambient, wind), weights=weight))
        if abs(film - before) <= 1e-6 * film:
            break
        m = float(np.sqrt(film * part.perimeter / (k * part.area)))
        decay, back = np.exp(-m * x), np.exp(-m * (part.length - x))
        whole = float(np.exp(-m * part.length))
        if part.end_given and m > 0.0:
            unit = (decay - whole * back) / (1.0 - whole**2)
            other = (back - whole * decay) / (1.0 - whole**2)
        elif part.end_given:
            unit, other = 1.0 - x / part.length, x / part.length
        else:
            unit, other = (decay + whole * back) / (1.0 + whole**2), np.zeros(POINTS)
        at = ambient + (root - ambient) * unit + (part.end - ambient) * other
        weight = np.abs(at - ambient) * unit + 1e-12
        k = conductivity(float(np.average(at, weights=weight)))
    total, share = fin_root(k, part.area, part.perimeter, part.length, film, part.end_given)
    return Root(total, ambient + share * (part.end - ambient), film)
