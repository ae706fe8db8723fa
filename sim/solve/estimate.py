"""Moving contents whose flow does not last, or was not found: an estimate with a band of what it leaves out.

The correlation is that of mixed contents behind one film, Nu = C Ra^(1/4) on the bore's diameter and half the span of
the bore's wall, the form of Evans and Stefany (1966), Chem. Eng. Progr. Symp. Ser. 62 (64), 209-215, for liquids in
enclosed cylinders (C 0.55, from memory). Its coldest contents are those at the coldest wall.

The band of the model is what the film's own doubt is worth at each place: the fields behind a film so many times
stronger and weaker. The doubt is of two parts. FITTED: how far films of our own followed flows lie from the
correlation. Of nine lines (steel and plastic, DN 50 to DN 200, water, brine and light oil, tracers from 4:15 to 7:15,
Ra 1e7 to 1e9, Pr 3 to 75) the films that give their coldest place are 0.84 to 1.08 of it: mean of the logarithm -0.05,
deviation 0.09, each left out in turn 0.10; those that give the hottest place 1.2 to 1.6. With a tracer at 4 or 8
o'clock the contents below it settle in layers, a factor of 0.5 on two lines: higher tracers are left to the bracket.
PLANE: what
plane flow leaves out, eddies along the pipe. From two to three dimensions the heat that convection carries between
plates differs by a constant factor up to Ra 1e10 at Pr 4.38, is alike at large Pr, and unlike around 1 (van der Poel,
Stevens and Lohse, J. Fluid Mech. 736 (2013) 177, abstract seen; the factor at 4.38, about 1.1, from memory); at Pr 0.7
the factors before Ra^0.3 are 0.099 and 0.133 (a comparison of plane and nearly plane flow, abstract seen).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from sim.case import Case
from sim.case.clock_face import clock_to_angle
from sim.heat.fluid import Buoyancy
from sim.heat.network import network
from sim.solve.at_rest import MeshStore, SectionResult, levels_of, solve_at_rest
from sim.solve.bounds import touching, with_contents
from sim.solve.measures import TEMPERATURE
from sim.solve.steady import Solution, solve

EVANS_STEFANY = 0.55
LEAST = 2.0  # Nusselt number of contents that hardly move
FIRST_FILM = 50.0  # W/m2/K, from which the film is found
PASSES = 4  # of the film on the wall's span; the film goes with its fourth root
FITTED = 1.25  # factor to either side within which films of our own followed flows lie
FITTED_HOT = 1.7  # the same of the hottest places: above a tracer the film is stronger than its mean
HOTTEST = ("max", "tracers")  # in the paths of those
PLANE, PLANE_LOW = (
    1.2,
    1.35,
)  # factor to either side of what plane flow leaves out, and at a low Prandtl number
LOW_PRANDTL = 4.0  # below which a Prandtl number counts as low
HIGHEST = -0.6  # height of a tracer over the pipe's axis, as a part of its radius: about 4:15 and 7:45
LEAST_RAYLEIGH, MOST_RAYLEIGH = (
    1e5,
    5e9,
)  # on the wall's whole span; the followed flows and what lies about them
LEAST_PRANDTL, MOST_PRANDTL = 1.5, 300.0  # likewise


@dataclass(frozen=True)
class Estimate:
    """Contents behind the correlation's film.

    film: W/m2/K; rayleigh: on the bore wall's whole span; prandtl; result: on three meshes; doubt: factor to either
    side of the film; model: half width of what the model leaves out, by path; plane: of that, what plane flow leaves
    out; outside: why it is no answer, or "".
    """

    film: float
    rayleigh: float
    prandtl: float
    result: SectionResult
    doubt: float
    model: Mapping[str, float]
    plane: Mapping[str, float]
    outside: str

    @property
    def in_brief(self) -> str:
        """What can be said at once."""
        coldest = self.result.quantities["contents.min"]
        band = coldest.band + self.model["contents.min"]
        return (
            f"an estimate at once: coldest contents {TEMPERATURE.shown(coldest.value):.2f} ± {band:.2f} degC"
        )

    @property
    def words(self) -> str:
        return f"mixed contents behind a film of {self.film:.3g} W/m2/K, Evans and Stefany 1966, from memory"


def fluid_of(case: Case) -> Buoyancy:
    """The fluid that moves, in its bore."""
    fluid = case.contents.fluid if case.contents.fill > 0 else case.contents.gas
    return Buoyancy(fluid, 2 * case.pipe.inner_radius)


def film(case: Case, excess: float, bulk: float) -> float:
    """Film coefficient of the estimate, W/m2/K, for the wall's mean excess over the bulk (K) and the bulk (K)."""
    moves = fluid_of(case)
    rayleigh = moves.rayleigh(np.array([bulk - excess / 2, bulk + excess / 2]), bulk)
    nusselt = max(EVANS_STEFANY * rayleigh**0.25, LEAST)
    return float(nusselt * moves.fluid.conductivity(bulk) / moves.diameter)


def estimate(
    case: Case, store: MeshStore, fineness: float, progress: Callable[[str], None] | None = None
) -> Estimate:
    """The correlation's field of a condition, and what its doubt is worth.

    The film is found on the coarsest mesh. Raises NotConverged as `solve_at_rest` does.
    """
    coarse = store.get(case, levels_of(fineness)[0])
    last: Solution | None = None

    def behind(coefficient: float) -> Mapping[str, float]:
        nonlocal last
        net = network(with_contents(case, state="mixed", film_coefficient=coefficient), coarse)
        last = solve(net, None if last is None else last.temperature)
        return touching(last)

    coefficient = FIRST_FILM
    for _ in range(PASSES):
        found = behind(coefficient)
        span = max(found["contents.max"] - found["contents.min"], 1e-6)
        coefficient = film(case, span / 2, found["contents.mean"])
    lumped = with_contents(case, state="mixed", film_coefficient=coefficient)
    result = solve_at_rest(lumped, store, fineness, progress, touching)
    moves, bulk = fluid_of(case), result.value("contents.mean")
    ends = np.array([result.value("contents.min"), result.value("contents.max")])
    rayleigh, prandtl = moves.rayleigh(ends, bulk), moves.law(bulk).prandtl
    beyond = PLANE if prandtl >= LOW_PRANDTL else PLANE_LOW

    def worth(doubt: float) -> dict[str, float]:
        middle, weak, strong = (behind(part * coefficient) for part in (1.0, 1 / doubt, doubt))
        return {p: max(abs(weak[p] - v), abs(strong[p] - v)) for p, v in middle.items()}

    doubt, hot, plane = FITTED * beyond, worth(FITTED_HOT * beyond), worth(beyond)
    model = {p: hot[p] if any(end in p for end in HOTTEST) else v for p, v in worth(doubt).items()}
    outside = _outside(case, rayleigh, prandtl)
    return Estimate(coefficient, rayleigh, prandtl, result, doubt, model, plane, outside)


def _outside(case: Case, rayleigh: float, prandtl: float) -> str:
    """Why an estimate is not an answer: what its doubt was not found for."""
    if any(np.cos(clock_to_angle(t.clock)) > HIGHEST for t in case.tracers if t.on):
        return "a tracer lies so high that the contents below it may settle in layers"
    if 0.0 < case.contents.fill < 1.0:
        return "the bore is partly filled"
    if not LEAST_RAYLEIGH <= rayleigh <= MOST_RAYLEIGH:
        return f"its Rayleigh number {rayleigh:.1e} lies outside {LEAST_RAYLEIGH:.0e} to {MOST_RAYLEIGH:.0e}"
    if not LEAST_PRANDTL <= prandtl <= MOST_PRANDTL:
        return f"its Prandtl number {prandtl:.3g} lies outside {LEAST_PRANDTL:g} to {MOST_PRANDTL:g}"
    return ""
