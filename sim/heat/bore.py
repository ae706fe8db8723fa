"""Inside the pipe: the film between contents and wall, and radiation across a gas-filled bore."""

from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike

from sim.basics import Array
from sim.heat.radiation import gebhart

if TYPE_CHECKING:
    from sim.case import Contents, Fluid


GIVEN = "given in the case"
"""Where a film coefficient of the case comes from, in the words of a field's notes."""

LIQUID_COEFFICIENT = 100.0
"""Film between stirred or slowly moving liquid and the wall, W/(m2 K): assumed, from memory."""

GAS_COEFFICIENT = 5.0
"""Film between gas at rest and the wall, W/(m2 K): assumed, from memory."""

LAMINAR_NUSSELT = 3.66
"""Fully developed laminar flow in a tube of uniform wall temperature."""

LAMINAR_END, TURBULENT_START = 2300.0, 4000.0
"""Reynolds numbers between which Gnielinski (2013) interpolates."""

CLOSURE = 1e-3
"""Relative error of a row of view factors, and dent over the enclosure's size, from which it is refused."""


def flowing(fluid: "Fluid", temperature: float, velocity: float, inner_diameter: float) -> tuple[float, str]:
    """Coefficient of developed flow in a smooth tube, W/(m2 K), and what was used, in words.

    Nu = 3.66 up to Re 2300; Gnielinski (1976) with Konakov's friction factor from Re 4000; between them
    linear in Re from one to the other, the interpolation of Gnielinski (2013), Int. J. Heat Mass Transfer 63,
    134-140. Bulk properties at `temperature` in K, velocity in m/s, diameter in m. The wall's own
    temperature, entry length and roughness are left out. Fit for 0.5 < Pr < 2000 and Re < 5e6; the text says
    where that is left. Source of the constants: from memory. Raises ValueError on a velocity of zero or less.
    """
    if velocity <= 0.0:
        raise ValueError(f"flowing contents need a velocity above 0 m/s, not {velocity:g}")
    conductivity, viscosity = float(fluid.conductivity(temperature)), float(fluid.viscosity(temperature))
    reynolds = float(fluid.density(temperature)) * velocity * inner_diameter / viscosity
    prandtl = viscosity * float(fluid.specific_heat(temperature)) / conductivity
    nusselt, regime = tube_nusselt(reynolds, prandtl)
    note = f"{regime}, Re = {reynolds:.3g}, Pr = {prandtl:.3g}, Nu = {nusselt:.3g}"
    if reynolds > LAMINAR_END and not (0.5 < prandtl < 2000.0 and reynolds < 5e6):
        note += "; outside the range of Gnielinski (0.5 < Pr < 2000, Re < 5e6)"
    return nusselt * conductivity / inner_diameter, note


def tube_nusselt(reynolds: float, prandtl: float) -> tuple[float, str]:
    """Nusselt number of developed flow in a smooth tube and the name of its regime; see `flowing`."""
    if reynolds <= LAMINAR_END:
        return LAMINAR_NUSSELT, "laminar, Nu = 3.66"
    share = min((reynolds - LAMINAR_END) / (TURBULENT_START - LAMINAR_END), 1.0)
    turbulent = _gnielinski(max(reynolds, TURBULENT_START), prandtl)
    regime = "turbulent, Gnielinski (1976)" if share == 1.0 else "transition, Gnielinski (2013)"
    return (1.0 - share) * LAMINAR_NUSSELT + share * turbulent, regime


def hydraulic_diameter(inner_diameter: float, fill: float) -> float:
    """Four times the liquid's area over its wetted wall, m; fill is the level over the bore's height."""
    if fill >= 1.0:
        return inner_diameter
    wetted = 2.0 * np.arccos(1.0 - 2.0 * max(fill, 1e-6))
    return float(inner_diameter * (1.0 - np.sin(wetted) / wetted))


def bore_coefficient(
    contents: "Contents", inner_diameter: float, region: Literal["liquid", "gas"]
) -> tuple[float, str]:
    """Film between the wall and one region of the contents, W/(m2 K), and where it comes from.

    A coefficient given in the case belongs to the named contents: the gas of an empty bore, else the liquid;
    given as 0 it makes the whole bore adiabatic. The gas above a liquid, and contents without a given
    coefficient or flow, take `GAS_COEFFICIENT` and `LIQUID_COEFFICIENT`. A partly filled bore that flows is
    taken at its hydraulic diameter. Raises ValueError where the flow lacks its velocity or temperature.
    """
    given = contents.film_coefficient
    wetting = "gas" if contents.state == "empty" else "liquid"
    if given is not None and (region == wetting or given == 0.0):
        return float(given), GIVEN
    if region == wetting and contents.state == "flowing":
        if contents.velocity is None or contents.temperature is None:
            raise ValueError("flowing contents need a velocity and a temperature, or a film coefficient")
        diameter = hydraulic_diameter(inner_diameter, contents.fill)
        return flowing(contents.fluid, contents.temperature, contents.velocity, diameter)
    if region == "gas":
        return GAS_COEFFICIENT, "assumed for gas at rest, from memory"
    return LIQUID_COEFFICIENT, "assumed for liquid, from memory"


def view_factors(face_start: ArrayLike, face_end: ArrayLike) -> tuple[Array, Array]:
    """View factors (n, n) of a closed convex polygon of straight faces and the faces' lengths (n,), m.

    Hottel's crossed strings: A_i F_ij is half of the crossed strings less the uncrossed ones; a straight face
    does not see itself. `sim.section.enclosure`, for walls that hide one another, gives a whole bore's
    to 1e-9 at seven to eleven times the cost, and looks at a liquid's one long surface from two points only.
    face_start, face_end: (n, 2) m, in any order and direction. Rows sum to 1: on a
    closed convex polygon by geometry, and what rounding or a slightly reentrant corner leaves is removed
    symmetrically, so that reciprocity stays exact. Raises ValueError if the faces do not close a convex
    polygon.
    """
    start, end = np.asarray(face_start, dtype=float), np.asarray(face_end, dtype=float)
    length = np.linalg.norm(end - start, axis=1)
    parallel = _distance(start, start) + _distance(end, end)
    opposed = _distance(start, end) + _distance(end, start)
    exchange = 0.5 * np.abs(parallel - opposed)
    np.fill_diagonal(exchange, 0.0)
    error = float(np.abs(exchange.sum(axis=1) / length - 1.0).max())
    dent = _dent(start, end, length)
    if not (error < CLOSURE and dent < CLOSURE):
        raise ValueError(
            f"faces do not close a convex polygon: view factors sum to 1 within {error:.2g}, "
            f"dents are {dent:.2g} of its size"
        )
    for _ in range(100):
        scale = np.sqrt(length / exchange.sum(axis=1))
        exchange *= scale[:, None] * scale[None, :]
        if np.abs(scale - 1.0).max() < 4e-15:
            break
    return exchange / length[:, None], length


def exchange_factors(face_start: ArrayLike, face_end: ArrayLike, emissivity: ArrayLike) -> Array:
    """Grey-diffuse exchange between the faces of a convex 2-D enclosure, (n, n), m.

    Heat from face i to face j per metre of pipe is G_ij sigma (T_i^4 - T_j^4), all reflections counted, see `gebhart`.
    face_start, face_end: (n, 2) m; emissivity (n,) or one number in 0..1. Raises ValueError on an enclosure
    that is open or not convex.
    """
    view, length = view_factors(face_start, face_end)
    eps = np.broadcast_to(np.asarray(emissivity, dtype=float), length.shape)
    return gebhart(length[:, None] * view, eps)


def _dent(start: Array, end: Array, length: Array) -> float:
    """Largest depth of the points beyond a face's line, times the face's share of the size; 0 if convex."""
    along = (end - start) / length[:, None]
    offset = np.vstack((start, end))[None, :, :] - start[:, None, :]
    height = along[:, None, 0] * offset[:, :, 1] - along[:, None, 1] * offset[:, :, 0]
    size = np.abs(height).max()
    depth = np.minimum(height.max(axis=1), -height.min(axis=1)).clip(min=0.0)
    return float((depth * length).max() / size**2)


def _distance(a: Array, b: Array) -> Array:
    return np.hypot(np.subtract.outer(a[:, 0], b[:, 0]), np.subtract.outer(a[:, 1], b[:, 1]))


def _gnielinski(reynolds: float, prandtl: float) -> float:
    from ht.conv_internal import turbulent_Gnielinski

    friction = (1.8 * np.log10(reynolds) - 1.5) ** -2
    return float(turbulent_Gnielinski(reynolds, prandtl, friction))
