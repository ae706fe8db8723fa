"""A leg's exposed part as a fin, four end conditions; Incropera, table 3.4; numbers from the closed forms."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from sim.heat.fin import Exposed, exposed_film, exposed_root, fin_root

STEEL = {"conductivity": 50.0, "area": 20e-4, "perimeter": 0.40, "film": 15.0}


def test_without_a_film_it_is_a_rod() -> None:
    total, share = fin_root(50.0, 1e-4, 0.04, 0.1, 0.0, end_given=True)
    assert (total, share) == (pytest.approx(0.05), 1.0)
    assert fin_root(50.0, 1e-4, 0.04, 0.1, 0.0, end_given=False) == (0.0, 0.0)
    near, _ = fin_root(50.0, 1e-4, 0.04, 0.1, 1e-6, end_given=True)
    assert near == pytest.approx(0.05, rel=1e-4)


AMBIENT = 253.15


def locally(part: Exposed, root: float, wind: float) -> float:
    """Heat from the root with each place's own film, W: the fin's equation as a boundary value problem."""
    k = STEEL["conductivity"]

    def slope(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        film = exposed_film(part, y[0], AMBIENT, wind)
        return np.vstack([y[1], film * part.perimeter * (y[0] - AMBIENT) / (k * part.area)])

    def ends(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return np.array([a[0] - root, b[0] - part.end if part.end_given else b[1]])

    x = np.linspace(0.0, part.length, 101)
    guess = np.vstack([np.linspace(root, AMBIENT + 5.0, len(x)), np.zeros(len(x))])
    return float(-k * part.area * solve_bvp(slope, ends, x, guess, tol=1e-6, max_nodes=20_000).sol(0.0)[1])


@pytest.mark.parametrize("end", [None, AMBIENT, 290.0])
@pytest.mark.parametrize("wind", [0.0, 2.0, 12.0])
@pytest.mark.parametrize(("width", "along", "length"), [(10e-3, 0.12, 0.1), (12e-3, 9.4e-3, 0.3)])
def test_one_film_takes_as_much_as_the_local_ones(
    width: float, along: float, length: float, wind: float, end: float | None
) -> None:
    """A shoe's strip and a hanger's rod, in still air and in wind, free and held ends."""
    part = Exposed(width * along, 2 * (width + along), length, end is not None, end or AMBIENT, None, 0.8)
    computed = exposed_root(part, lambda at: STEEL["conductivity"], 323.15, AMBIENT, wind)
    heat = computed.conductance * (323.15 - computed.sink)
    assert heat == pytest.approx(locally(part, 323.15, wind), rel=4e-3)


def test_film_follows_wind_size_and_emissivity() -> None:
    strip = Exposed(1.2e-3, 0.26, 0.1, False, AMBIENT, None, 0.8)
    rod = Exposed(1.13e-4, 0.0428, 0.1, False, AMBIENT, None, 0.8)

    def film(part: Exposed, wind: float) -> float:
        return exposed_root(part, lambda at: 50.0, 323.15, AMBIENT, wind).film

    assert film(strip, 0.0) < film(strip, 1.0) < film(strip, 5.0) < film(strip, 12.0)
    assert film(rod, 12.0) > 1.5 * film(strip, 12.0)
    bright = replace(strip, emissivity=0.1)
    radiation = 0.7 * 5.670374e-8 * 4 * 280.0**3  # near the fin's mean temperature
    assert film(strip, 0.0) - film(bright, 0.0) == pytest.approx(radiation, rel=0.15)
    given = replace(strip, film=10.0)
    assert film(given, 0.0) == film(given, 12.0) == 10.0


def test_a_flat_strip_lies_between_its_two_sides_to_the_wind() -> None:
    """12 m/s on a strip of 120 mm: a laminar plate edge on (Incropera, eq. 7.30, from memory), and face on the mean of
    front 0.667 Re^(1/2) and back 0.191 Re^(2/3), times Pr^(1/3) (Sparrow, Abraham and Tong 2004, from memory)."""
    nu, k, pr, width = 1.35e-5, 0.0245, 0.714, 0.12
    reynolds = 12.0 * width / nu
    edge_on = 0.664 * reynolds**0.5 * pr ** (1 / 3) * k / width
    face_on = 0.5 * (0.667 * reynolds**0.5 + 0.191 * reynolds ** (2 / 3)) * pr ** (1 / 3) * k / width
    strip = Exposed(1.2e-3, 0.26, 0.1, False, AMBIENT, None, 0.0)
    computed = float(exposed_film(strip, np.array(290.0), AMBIENT, 12.0))
    assert edge_on < computed < face_on
