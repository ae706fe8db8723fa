"""An hour of a long stretch of weather for a reduced model: linear, with loads that change linearly, by eigenvectors.

The outside's film is linear about the surface temperatures of the hour's end; what that leaves of it (the film of the
hour's beginning, ambient, sky and sun of both) is a load that is exact at the hour's beginning and end and linear
between: an exponential integrator whose remainder is linear in time (Cox and Matthews, J. Comput. Phys. 176 (2002)
430-455, section 2.1, with the end's remainder solved for).
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sim.case import Case
from sim.heat.outlets import outside
from sim.heat.sun import Irradiance
from sim.section.shapes import Array
from sim.solve.outdoors import Outdoors
from sim.solve.reduced import Reduced

NEAR = 0.5  # K from the surface about which a film is linear, within which it serves
MOST_FILMS = 4  # of one hour


@dataclass(frozen=True)
class Loss:
    """What leaves the outside at surface temperatures (k,) K: flux W, and its slope W/K, (k,)."""

    surface: Array
    flux: Array
    slope: Array

    def at(self, surface: Array) -> Array:
        """Flux (k,) W at temperatures near those, K."""
        flux: Array = self.flux + self.slope * (surface - self.surface)
        return flux


def loss_at(model: Reduced, case: Case, surface: Array) -> Loss:
    """The outside's loss in the condition of a moment, sun and sky included."""
    network = model.network
    leaving = outside(case, network.mesh.layout.cover_radius, surface, network.cover_angle)
    flux = leaving.conductance * model.area * (surface - leaving.temperature)
    return Loss(surface, flux, leaving.slope * model.area)


@dataclass(frozen=True)
class Hour:
    """The reduced model in an hour of `long` s, in modes (r,).

    values 1/s; vectors (r, r); first, last: loads at its beginning and end; hat: what the load has more in its middle,
    rising and falling linearly; ambient: at beginning and end, K.
    """

    model: Reduced
    values: Array
    vectors: Array
    first: Array
    last: Array
    hat: Array | None
    ambient: tuple[float, float]
    long: float

    @cached_property
    def tracers(self) -> Array:
        """Loads (tracers, r) of 1 W/m."""
        return np.asarray(self.model.tracers @ self.vectors)

    @cached_property
    def beneath(self) -> Array:
        """What reads the wall beneath the tracers (tracers, r)."""
        return np.asarray(self.model.beneath @ self.vectors)

    @cached_property
    def sensors(self) -> dict[str, Array]:
        """What reads the sensors (r,)."""
        return {name: row @ self.vectors for name, row in self.model.sensors.items()}

    def load(self, moment: float) -> Array:
        """Load (r,) of outside and given contents some seconds after its beginning."""
        part = moment / self.long
        load: Array = self.first + (self.last - self.first) * part
        return load if self.hat is None else load + self.hat * (1.0 - abs(2.0 * part - 1.0))

    def ambient_at(self, moment: Array | float) -> Array:
        """Ambient (K) some seconds after its beginning."""
        first, last = self.ambient
        return np.asarray(first + (last - first) * np.asarray(moment) / self.long)

    def kernels(self, span: float) -> tuple[Array, Array, Array]:
        """For a span, s: what is left (r,) of a state, s of a load at its beginning, s of one at its end."""
        x = self.values * span
        small = x < 1e-5
        safe = np.where(small, 1.0, x)
        left = np.exp(-x)
        once = np.where(small, 1.0 - 0.5 * x, (1.0 - left) / safe)
        twice = np.where(small, 0.5 - x / 6, (1.0 - once) / safe)
        return left, span * (once - twice), span * twice

    def course(self, start: Array, begin: Array, end: Array, span: float, after: Array) -> Array:
        """States (m, r) at moments (m,) s of a span from a state; begin, end: loads at its ends, all in modes."""
        x = np.multiply.outer(after, self.values)
        small = x < 1e-5
        safe = np.where(small, 1.0, x)
        left, after = np.exp(-x), after[:, None]
        once = np.where(small, 1.0 - 0.5 * x, (1.0 - left) / safe)
        twice = np.where(small, 0.5 - x / 6, (1.0 - once) / safe)
        course: Array = left * start + after * once * begin + after**2 * twice * ((end - begin) / span)
        return course


def hour(
    model: Reduced,
    case: Case,
    z: Array,
    ahead: Array,
    before: Loss,
    watts: Array,
    hat: Array | None,
    ambient: tuple[float, float],
    long: float,
) -> tuple[Hour, Loss]:
    """The hour that begins with a state, and the loss about its end. case: in the condition of the end; ahead: roughly
    the state in the middle; before: the loss about the beginning; watts: of the tracers, roughly; hat: load (r,)."""
    joints, surface = model.matrix(ahead), model.outside(z)
    guess, gone = surface + (ambient[1] - ambient[0]), before.at(surface)
    for _ in range(MOST_FILMS):
        loss = loss_at(model, case, guess)
        values, vectors = np.linalg.eigh(joints + model.cover.T @ (loss.slope[:, None] * model.cover))
        strength = loss.slope
        first = model.given + (strength * (surface - model.reference) - gone) @ model.cover
        last = model.given + (strength * (guess - model.reference) - loss.flux) @ model.cover
        made = Hour(
            model,
            np.maximum(values, 0.0),
            vectors,
            first @ vectors,
            last @ vectors,
            None if hat is None else hat @ vectors,
            ambient,
            long,
        )
        left, by_first, by_last = made.kernels(long)
        given = watts @ made.tracers
        end = left * (z @ vectors) + by_first * (made.first + given) + by_last * (made.last + given)
        there = model.outside(vectors @ end)
        if np.abs(there - guess).max() < NEAR:
            break
        guess = there
    return made, loss


def sun_between(model: Reduced, outdoors: Outdoors, ends: Array) -> Array | None:
    """What the sun's load (hours, r) in the middle of hours between `ends` (s) has more than halfway from their
    beginning to their end; None without a sun."""
    if outdoors.sun is None:
        return None

    def load(moments: Array) -> Array:
        sun = outdoors.sun
        assert sun is not None
        right, up, diffuse, reflected = (
            np.interp(moments, outdoors.sun_time, part)[:, None]
            for part in (sun.right, sun.up, sun.diffuse, sun.reflected)
        )
        falling = Irradiance(right, up, diffuse, reflected).at(model.network.cover_angle)
        return np.asarray((outdoors.absorptivity * falling * model.area) @ model.cover)

    at_ends = load(ends)
    return np.asarray(load(0.5 * (ends[1:] + ends[:-1])) - 0.5 * (at_ends[1:] + at_ends[:-1]))
