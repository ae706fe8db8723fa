"""Joints of a network's nodes to given temperatures: the film outside, contents that flow.

As the kinds of `sim.heat.joints`, repeated along the pipe likewise; they look up the condition in the case each time.
"""

from dataclasses import dataclass
from typing import Any, NamedTuple, Protocol

import numpy as np

from sim.case import Case
from sim.heat.film import coefficient_and_slope, radiative
from sim.heat.joints import Nodes, PerMetre, Same
from sim.heat.sun import irradiance, sky_temperature, sky_view
from sim.section.mesh import IntArray
from sim.section.shapes import Array

WET = 1e5  # W/m2/K: film of a surface that rain keeps at the ambient temperature


class Leaving(NamedTuple):
    """Conductance (k,) W/K, the temperature it goes to (k,) K, and the heat's slope by the node's temperature, W/K."""

    conductance: Array
    temperature: Array
    slope: Array


class Outlet(Protocol):
    """A group of joints to given temperatures."""

    @property
    def node(self) -> IntArray:
        """(k,)."""
        ...

    def leaving(self, case: Case, temperature: Array) -> Leaving:
        """At the nodes' temperatures, K; case: narrowed to one condition."""
        ...


@dataclass(frozen=True)
class Film:
    """The outside's films: angle (k,) of each place from 12 o'clock, rad; area m2; radius of the outside, m;
    emissivity, where it is not that of the line's outside; in_plane: as of `sim.heat.sun.Irradiance.at`."""

    node: Nodes
    angle: Same
    area: PerMetre
    radius: float
    emissivity: float | None = None
    in_plane: float | Array = 1.0

    def leaving(self, case: Case, temperature: Array) -> Leaving:
        loss = outside(case, self.radius, temperature[self.node], self.angle, self.emissivity, self.in_plane)
        return Leaving(loss.conductance * self.area, loss.temperature, loss.slope * self.area)

    def absorbed(self, case: Case) -> float:
        """The sun's heat taken up by the surface, W."""
        return float((sunshine(case, self.angle, self.in_plane) * self.area).sum())


@dataclass(frozen=True)
class Given:
    """Joints of fixed conductance: strength (k,) W/K, to temperatures `at` (k,) K."""

    node: Nodes
    strength: PerMetre
    at: Same

    def leaving(self, case: Case, temperature: Array) -> Leaving:
        return Leaving(self.strength, self.at, self.strength)


def sunshine(case: Case, angle: Array, in_plane: float | Array = 1.0) -> Array:
    """The sun's heat absorbed on surfaces that face the angles (n,) from 12 o'clock, rad: W/m2 (n,)."""
    sun = case.conditions[0].sun
    return (
        np.zeros(np.shape(angle)) if sun is None else sun.absorptivity * irradiance(sun).at(angle, in_plane)
    )


def outside(
    case: Case,
    radius: float,
    surface: Array,
    angle: Array,
    emissivity: float | None = None,
    in_plane: float | Array = 1.0,
) -> Leaving:
    """What leaves an outer surface: per area, at surface temperatures (n,) K that face the angles (n,), rad.

    Film and radiation to surroundings at the ambient; a sky takes its share of the view. The sun's heat and the sky's
    pull are in the temperature that the heat goes to, so that h (Ts - T) is exact at the surface temperature.
    """
    condition, terms = case.conditions[0], film_terms(case, radius)
    if emissivity is not None:
        terms["emissivity"] = emissivity
    ambient = condition.ambient
    if condition.rain:
        wet = np.full(surface.shape, WET)
        return Leaving(wet, np.full(surface.shape, ambient), wet)
    h, slope = coefficient_and_slope(surface, angle, **terms)
    pull = sunshine(case, angle, in_plane)
    if condition.sky is not None and terms["coefficient"] is None:
        at, view = sky_temperature(condition.sky, ambient), sky_view(angle, in_plane) * terms["emissivity"]
        to_sky = view * radiative(surface, ambient=at, emissivity=1.0)
        h = h + to_sky - view * radiative(surface, ambient=ambient, emissivity=1.0)
        pull = pull + to_sky * (at - ambient)
    given = np.divide(pull, h, out=np.zeros(surface.shape), where=h > 0)
    return Leaving(h, ambient + given, slope)


def film_terms(case: Case, cover_radius: float) -> dict[str, Any]:
    """What the outside films take of a case narrowed to one condition: keywords of `sim.heat.film`."""
    condition = case.conditions[0]
    emissivity = case.barrier.emissivity if case.barrier is not None else None
    return {
        "ambient": condition.ambient,
        "wind": condition.wind,
        "wind_from_clock": condition.wind_from,
        "diameter": 2 * cover_radius,
        "emissivity": case.outside.emissivity if emissivity is None else emissivity,
        "coefficient": case.outside.coefficient,
    }
