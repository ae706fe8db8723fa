"""Joints of a network's nodes to given temperatures: the film outside, contents that flow.

As the kinds of `sim.heat.joints`, repeated along the pipe likewise; they look up the condition in the case each time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple, Protocol

import numpy as np

from sim.case import Case
from sim.heat.film import outside_coefficient, outside_slope
from sim.heat.joints import Nodes, PerMetre, Same
from sim.section.mesh import IntArray
from sim.section.shapes import Array


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
    """The outside's films: angle (k,) of each place from 12 o'clock, rad; area m2; radius of the outside, m."""

    node: Nodes
    angle: Same
    area: PerMetre
    radius: float

    def leaving(self, case: Case, temperature: Array) -> Leaving:
        terms, surface = film_terms(case, self.radius), temperature[self.node]
        return Leaving(
            outside_coefficient(surface, self.angle, **terms) * self.area,
            np.full(len(surface), case.conditions[0].ambient),
            outside_slope(surface, self.angle, **terms) * self.area,
        )


@dataclass(frozen=True)
class Given:
    """Joints of fixed conductance: strength (k,) W/K, to temperatures `at` (k,) K."""

    node: Nodes
    strength: PerMetre
    at: Same

    def leaving(self, case: Case, temperature: Array) -> Leaving:
        return Leaving(self.strength, self.at, self.strength)


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
