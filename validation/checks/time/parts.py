"""What the checks over time share: an episode of a sketched line, a bar for the integrator, and exact answers.

Exact answers of a linear line come from its response to a slow oscillation exp(s t) of the ambient or of its heat, with
s imaginary for a period, and by the inverse Laplace transform for a step (Carslaw and Jaeger 1959, chapter XII).
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from scipy.linalg import solve
from scipy.sparse import csc_matrix, diags_array
from scipy.sparse.linalg import splu
from scipy.special import iv, kv

from sim.case import case_for, parse_case
from sim.case.episode import Episode
from sim.heat.network import Network, network
from sim.heat.storage import Group, Storage, constant_store, fluid_store
from sim.solve.course import Course
from sim.solve.episode import Track, follow, standard_record
from sim.solve.episode_result import courses_of
from sim.solve.stiff import Solve, State, Stepper
from validation.sketches.lines import solid
from validation.sketches.sketch import COVER, INNER, LIQUID, OUTER, STORE, ZERO, Array, case_of, sketch

HOUR = 3600.0
FILM, LAYER = 10.0, 0.04  # W/m2/K outside and W/m/K of the layer of `stirred`
CORE = np.pi * (4.2e6 * INNER**2 + 1e6 * (OUTER**2 - INNER**2))  # J/m/K, liquid and pipe of `stirred`
STIRRED = {"state": "mixed", "film_coefficient": "1e5 W/m2/K"}
LIGHT = {"density": "1 kg/m3", "specific_heat": "10 J/kg/K"}  # a layer that stores next to nothing
STRIP = {
    "name": "T1",
    "clock": 6,
    "shape": "flat",
    "width": "20 mm",
    "height": "1 mm",
    "output": "20 W/m",
    "contact_conductance": "10000 W/m2/K",
    "body_density": "10 kg/m3",
}
THERMOSTAT = {"name": "C1", "sensor": "S1", "on_below": "8 degC", "off_above": "12 degC"}
WATER = {
    "conductivity": "0.566 W/m/K",
    "density": "917 kg/m3",
    "specific_heat": "4210 J/kg/K",
    "viscosity": "1.8e-3 Pa*s",
    "expansion": "1e-5 1/K",
    "freezes_at": "0 degC",
    "latent_heat": "333.6 kJ/kg",
    "frozen": {"conductivity": "2.22 W/m/K", "specific_heat": "2100 J/kg/K"},
}


@dataclass(frozen=True)
class Run:
    """An episode followed on one mesh."""

    episode: Episode
    network: Network
    track: Track

    @property
    def courses(self) -> dict[str, Course]:
        return courses_of(self.network.case, self.episode, self.track)

    def at(self, path: str, hours: float | list[float]) -> Array:
        """A quantity at moments, SI."""
        return self.courses[path].at(HOUR * np.atleast_1d(hours))

    def first(self, path: str, direction: int, value: float) -> float:
        """Hours until a quantity first passes a value, falling (1) or rising (-1); nan where it does not."""
        moment = self.courses[path].first(direction, value)[0]
        return np.nan if moment is None else moment / HOUR

    def degc(self, path: str, hours: float) -> float:
        """A temperature at one moment, degC."""
        return float(self.at(path, hours)[0]) - ZERO


def stirred(*tracers: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """A pipe of one temperature with its liquid, `CORE`, under 40 mm of insulation that stores little, film 10 W/m2/K.

    changes: as in `changed`.
    """
    keys: dict[str, Any] = {
        "contents": STIRRED | {"fluid": LIQUID},
        "outside": {"coefficient": f"{FILM} W/m2/K"},
    }
    keys |= {f"layer__{key}": value for key, value in LIGHT.items()}
    return sketch(*tracers, **(keys | changes))


def followed(raw: dict[str, Any], fineness: float = 1.0, tolerance: float = 0.01, **episode: Any) -> Run:
    """Follow an episode of a case as a file would hold it; episode: its keys beside name and condition."""
    whole = raw | {"episode": [{"name": "run", "condition": "only", **episode}]}
    case = parse_case(whole)
    narrowed, own = case_for(case, "only"), case.episodes[0]
    net = network(narrowed, STORE.get(narrowed, fineness))
    start = np.full(net.nodes, float(own.start))
    return Run(own, net, follow(net, own, case.controls, start, tolerance, standard_record))


def per_kelvin(inner: float, outer: float, conductivity: float, film: float) -> float:
    """Resistance of a layer and its film, K m/W."""
    return float((np.log(outer / inner) / conductivity + 1.0 / (film * outer)) / (2 * np.pi))


def traced() -> float:
    """Resistance of `stirred` under `STRIP`, which takes 1 mm of the layer on a part of it, K m/W."""
    part = 0.020 / (2 * np.pi * OUTER)
    plain, thinner = RESISTANCE, per_kelvin(OUTER + 0.001, COVER, LAYER, FILM)
    return float(1.0 / ((1 - part) / plain + part / thinner))


RESISTANCE = per_kelvin(OUTER, COVER, LAYER, FILM)
SLOW = CORE * RESISTANCE  # s, time constant of `stirred`


@dataclass(frozen=True)
class TwoBodies:
    """A core of one temperature (capacity J/m/K at radius inner), insulation that diffuses, and a film."""

    capacity: float
    inner: float
    outer: float
    conductivity: float
    stored: float  # rho c of the insulation, J/m3/K
    film: float

    def response(self, s: complex, ambient: float, heat: float) -> complex:
        """Amplitude of the core, K, where the ambient (K) and the heat in the core (W/m) go as exp(s t)."""
        q = np.sqrt(s * self.stored / self.conductivity + 0j)
        k, a, b = self.conductivity, q * self.inner, q * self.outer
        value, slope = (iv(0, a), kv(0, a)), (q * iv(1, a), -q * kv(1, a))
        core = [
            s * self.capacity * v - 2 * np.pi * self.inner * k * d for v, d in zip(value, slope, strict=True)
        ]
        surface = [self.film * iv(0, b) + k * q * iv(1, b), self.film * kv(0, b) - k * q * kv(1, b)]
        first, second = solve(np.array([core, surface]), np.array([heat, self.film * ambient], complex))
        return complex(first * value[0] + second * value[1])

    def cooled(self, seconds: float) -> float:
        """Share of its first rise over the ambient that the core keeps, everything at one temperature at first."""
        return 1.0 - step(lambda s: self.response(s, 1.0, 0.0) / s, seconds)


def step(transform: Callable[[complex], complex], seconds: float, terms: int = 24) -> float:
    """Inverse Laplace transform at a moment: Talbot's contour, fixed (Abate and Valko 2004)."""
    reach = 2.0 * terms / (5.0 * seconds)
    total = 0.5 * transform(complex(reach)) * np.exp(reach * seconds)
    for angle in np.arange(1, terms) * np.pi / terms:
        cot = 1.0 / np.tan(angle)
        s = reach * angle * (cot + 1j)
        weight = 1 + 1j * (angle + (angle * cot - 1) * cot)
        total += np.exp(s * seconds) * transform(s) * weight
    return float((total * reach / terms).real)


@dataclass
class Bar:
    """A row of cells of one square metre for the program's integrator and stores.

    edges (n + 1,) m; ends: what is beyond each end, "temperature over time" with a film (W/m2/K, infinite for a given
    surface), or None where nothing passes; heat: W/m2 into the first cell. conductivity of the material, of water and
    of ice (frozen) where it freezes.
    """

    edges: Array
    store: Storage
    conductivity: float
    tolerance: float
    first: tuple[Callable[[float], float], float] | None = None
    last: tuple[Callable[[float], float], float] | None = None
    heat: float = 0.0
    ice: float = 0.0
    entering: float = 0.0
    faces: Array = field(default_factory=lambda: np.zeros(0))

    @property
    def middle(self) -> Array:
        return 0.5 * (self.edges[1:] + self.edges[:-1])

    def _conduct(self, enthalpy: Array) -> None:
        half, n = 0.5 * np.diff(self.edges), len(self.edges) - 1
        frozen = self.store.frozen(enthalpy) if self.ice else np.zeros(n)
        colder = half / np.where(frozen > 0, self.ice or 1.0, self.conductivity)  # frozen from the first end
        warmer = half / np.where(frozen < 1, self.conductivity, self.ice or 1.0)
        films = [
            0.0 if end is None else 1.0 / (far + 1.0 / end[1]) for end, far in self._ends(colder, warmer)
        ]
        self.faces = np.concatenate([[films[0]], 1.0 / (colder[1:] + warmer[:-1]), [films[1]]])

    def _ends(self, colder: Array, warmer: Array) -> list[tuple[Any, float]]:
        return [(self.first, float(colder[0])), (self.last, float(warmer[-1]))]

    def rate(self, time: float, temperature: Array, enthalpy: Array) -> Array:
        """Heat arriving at each cell, W/m2."""
        self._conduct(enthalpy)
        beyond = [0.0 if end is None else end[0](time) for end in (self.first, self.last)]
        flow = self.faces * np.diff(np.concatenate([[beyond[0]], temperature, [beyond[1]]]))
        arriving = np.diff(flow)
        arriving[0] += self.heat
        self.entering = self.heat - flow[0] + flow[-1]
        return arriving

    def flows(self) -> Array:
        return np.array([self.entering])

    def matrix(self) -> csc_matrix:
        g = self.faces
        return diags_array([-g[1:-1], g[:-1] + g[1:], -g[1:-1]], offsets=[-1, 0, 1]).tocsc()

    def factor(self, diagonal: Array) -> Solve:
        solved: Solve = splu((self.matrix() + diags_array(diagonal)).tocsc()).solve
        return solved

    def scale(self) -> float:
        return 1.0

    def rounding(self, temperature: Array) -> float:
        return 1e-15 * float(self.faces.sum() * np.abs(temperature).max())

    def norm(self, change: Array, stored: Array) -> float:
        return float(np.sqrt(np.mean(change**2))) / self.tolerance

    def marched(self, start: float, stop: float, first: float = 1.0) -> State:
        """The state at a moment (s), from one temperature (K)."""
        temperature = np.full(self.store.nodes, start)
        state = State(0.0, temperature, self.store.enthalpy(temperature))
        for taken in Stepper(self).march(state, stop, first):
            state = taken.new
        return state


def bar(depth: float, cells: int, k: float, rho: float, c: float, tolerance: float, **more: Any) -> Bar:
    """A bar of one material, its cells alike."""
    edges = np.linspace(0.0, depth, cells + 1)
    store = Storage(cells, (Group(np.arange(cells), np.diff(edges), constant_store(rho, c), False),))
    return Bar(edges, store, k, tolerance, **more)


def freezing_bar(depth: float, cells: int, wall: float, tolerance: float) -> Bar:
    """A bar of `WATER`, its first end at a temperature (K) from the start."""
    edges = np.linspace(0.0, depth, cells + 1)
    store = Storage(cells, (Group(np.arange(cells), np.diff(edges), fluid_store(water()), True),))
    return Bar(edges, store, 0.566, tolerance, first=(lambda t: wall, np.inf), ice=2.22)


@lru_cache(maxsize=1)
def water() -> Any:
    """`WATER` as the program reads it."""
    return case_of(sketch(contents={"state": "still", "fluid": WATER})).contents.fluid


def uniform(conductivity: float, heat: float) -> dict[str, str]:
    """A solid of a conductivity (W/m/K) and rho c (J/m3/K)."""
    density = min(1000.0, heat / 10)
    return solid(conductivity) | {"density": f"{density} kg/m3", "specific_heat": f"{heat / density} J/kg/K"}


def celsius(kelvin: float | Array) -> Any:
    return kelvin - ZERO
