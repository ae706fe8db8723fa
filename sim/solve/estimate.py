"""Moving contents whose flow does not last, or was not found: an estimate with a band of what it leaves out.

The correlation is that of mixed contents behind one film, Nu = C Ra^(1/4) on the bore's diameter and half the span of
the bore's wall, the form of Evans and Stefany (1966), Chem. Eng. Progr. Symp. Ser. 62 (64), 209-215, for liquids in
enclosed cylinders (C 0.55, from memory). Its coldest contents are those at the coldest wall.

Beneath a tracer on the side the contents settle in layers, unless heat comes down there along the wall or through them.
With h the film, (k, t) the wall, k_f the fluid and d the height of the tracers over the bottom of the bore,
u = ALONG sqrt(k t / h) / d + THROUGH k_f / (h d), the coldest place keeps u / sqrt(1 + u2) of the film. Hottest places
keep the whole. With tracers apart, or a loss that is uneven round the pipe, the bottom may be stirred all the same
(0.8 to 1.1 of the film where this says 0.4 to 0.5, on three plastic lines): the band then reaches up to the whole.

The band of the model is what the film's own doubt is worth at each place: the fields behind a film so many times
stronger and weaker. The doubt is of two parts. FITTED: how far films of our own followed flows lie from this.
ALONG and THROUGH are fitted to 34 of forty invented lines (`validation.stirred`: steel, stainless steel, plastic; DN 25
to DN 300; water, brine, glycol, light oil; Ra 5e5 to 9e8, Pr 3 to 80). Each left out in turn, nine of ten lie within
1.21, all within 1.28 and to the cold side within 1.19. Of 25 of a second draw (seed 14), not fitted to, 22 lie within
1.15, two at 0.84 and 1.28, and water of 6.6 degC at its coldest, where it hardly expands, at 0.70: from that one line
is FITTED_SLACK. Four more, DN 25 of steel, whose film hardly shows, lie within 0.03 K. The hottest take 1.1 to 1.6.
PLANE: what plane flow leaves out, eddies along the pipe. From two to three dimensions the heat that convection carries
between plates differs by a constant factor up to Ra 1e10 at Pr 4.38, is alike at large Pr, and unlike around 1 (van der
Poel, Stevens and Lohse, J. Fluid Mech. 736 (2013) 177, abstract seen; the factor at 4.38, about 1.1, from memory); at
Pr 0.7 the factors before Ra^0.3 are 0.099 and 0.133 (a comparison of plane and nearly plane flow, abstract seen).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from sim.case import Case
from sim.case.clock_face import clock_to_angle
from sim.heat.fluid import Buoyancy
from sim.heat.network import network
from sim.section.shapes import Array
from sim.solve.at_rest import MeshStore, SectionResult, levels_of, solve_at_rest
from sim.solve.bounds import heated_low, touching, uneven, with_contents
from sim.solve.convergence import Banded
from sim.solve.measures import TEMPERATURE
from sim.solve.steady import Solution, solve

EVANS_STEFANY = 0.55
LEAST = 2.0  # Nusselt number of contents that hardly move
FIRST_FILM = 50.0  # W/m2/K, from which the film is found
ALONG, THROUGH = 0.72, 0.77  # fitted, see above
REFINED = 6.0  # least fineness of the field behind the film, which costs little; at most twice that asked for
SAMPLES = 30  # temperatures between the coldest and the hottest at which the density is asked for
PASSES = 4  # of the film on the wall's span; the film goes with its fourth root
FITTED = 1.25  # factor to either side, see above
SLACK = 0.5  # part of the hottest's expansion below which the coldest hardly moves
FITTED_SLACK = 1.5  # the factor there
FITTED_HOT = 1.7  # the same of the hottest places: above a tracer the film is stronger than its mean
HOTTEST = ("max", "tracers")  # in the paths of those
PLANE = 1.2  # factor to either side of what plane flow leaves out
PLANE_LOW = 1.35  # the same at a low Prandtl number
WHOLE = 0.95  # part of the film from which it is called whole
LOW_PRANDTL = 4.0  # below which a Prandtl number counts as low
LEAST_RAYLEIGH, MOST_RAYLEIGH = (
    1e5,
    5e9,
)  # on the wall's whole span; the followed flows and what lies about them
LEAST_PRANDTL, MOST_PRANDTL = 1.5, 300.0  # likewise


@dataclass(frozen=True)
class Estimate:
    """Contents behind the correlation's film.

    film: at the coldest place, W/m2/K; part: of the correlation's that this is; rayleigh: on the bore wall's whole
    span; prandtl; result: on three meshes; hottest: what is hottest, behind the whole of the correlation's film, by
    path; doubt: factor to either side of the film; model: half width of what the model leaves out, by path; plane: of
    that, what plane flow leaves out; turns: whether the fluid grows heavier as it warms anywhere between its coldest
    and hottest (water below 4 degC); outside: why it is no answer, or "".
    """

    film: float
    part: float
    rayleigh: float
    prandtl: float
    result: SectionResult
    hottest: Mapping[str, Banded]
    doubt: float
    model: Mapping[str, float]
    plane: Mapping[str, float]
    turns: bool
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
        words = f"mixed contents behind a film of {self.film:.3g} W/m2/K, Evans and Stefany 1966, from memory"
        if self.part < WHOLE:
            words += (
                f" ({self.part:.2f} of it, for beneath the tracer they settle in layers; the hottest: all)"
            )
            if _may_be_stirred(self.result.case):
                words += ", or up to the whole of it"
        return words


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


def beneath(case: Case, coefficient: float, mixed: Mapping[str, float]) -> tuple[float, float]:
    """sqrt(k t / h) / d along the wall and k_f / (h d) through the contents, by the film h (W/m2/K) and a field's
    numbers: the tracers' height d is the mean by heat, so that one of hardly any heat makes no difference."""
    tracers = [t for t in case.tracers if t.on]
    heat = [max(mixed[f"tracers.{t.name}.output"], 1e-9) for t in tracers]
    heights = [1.0 + float(np.cos(clock_to_angle(t.clock))) for t in tracers]
    height = float(np.average(heights, weights=heat)) if tracers else 0.0
    low = max(height * case.pipe.inner_radius, 1e-9)
    bulk = mixed["contents.mean"]
    sheet = float(case.pipe.material.conductivity(np.array([bulk]))[0]) * case.pipe.wall
    through = float(fluid_of(case).fluid.conductivity(bulk)) / coefficient
    return float(np.sqrt(sheet / coefficient)) / low, through / low


def part_of_film(comes_down: Array) -> Array:
    """Part of the film that is left where so much comes down beneath the tracers."""
    return comes_down / np.hypot(1.0, comes_down)


def left_below(case: Case, coefficient: float, mixed: Mapping[str, float]) -> float:
    """Part of the film (W/m2/K) that the coldest place keeps where the tracers lie on the side."""
    along, through = beneath(case, coefficient, mixed)
    return float(part_of_film(np.asarray(ALONG * along + THROUGH * through)))


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
        mixed = behind(coefficient)
        span = max(mixed["contents.max"] - mixed["contents.min"], 1e-6)
        coefficient = film(case, span / 2, mixed["contents.mean"])
    part = left_below(case, coefficient, mixed)
    finest = max(fineness, min(2 * fineness, REFINED))

    def on_meshes(film_there: float, level: float) -> SectionResult:
        lumped = with_contents(case, state="mixed", film_coefficient=film_there)
        return solve_at_rest(lumped, store, level, progress, touching)

    result = on_meshes(part * coefficient, finest)
    hot_result = on_meshes(coefficient, fineness)
    moves, bulk = fluid_of(case), hot_result.value("contents.mean")
    ends = np.array([hot_result.value("contents.min"), hot_result.value("contents.max")])
    rayleigh, prandtl = moves.rayleigh(ends, bulk), moves.law(bulk).prandtl
    beyond = PLANE if prandtl >= LOW_PRANDTL else PLANE_LOW

    def worth(doubt: float, of: float, up_to: float = 0.0) -> dict[str, float]:
        parts = (of, of / doubt, max(of * doubt, up_to))
        middle, weak, strong = (behind(each * coefficient) for each in parts)
        return {p: max(abs(weak[p] - v), abs(strong[p] - v)) for p, v in middle.items()}

    expands = [float(moves.fluid.expansion(t)) for t in (result.value("contents.min"), float(ends[1]))]
    doubt = beyond * (FITTED_SLACK if expands[0] < SLACK * expands[1] else FITTED)
    hot, plane = worth(FITTED_HOT * beyond, 1.0), worth(beyond, part)
    hottest = {p: v for p, v in hot_result.quantities.items() if any(end in p for end in HOTTEST)}
    model = worth(doubt, part, 1.0 if _may_be_stirred(case) else 0.0) | {
        p: v for p, v in hot.items() if p in hottest
    }
    over = moves.fluid.density(np.linspace(result.value("contents.min"), ends[1], SAMPLES))
    turns = bool((np.diff(over) > 0.0).any())
    outside = _outside(case, rayleigh, prandtl, turns)
    return Estimate(
        part * coefficient, part, rayleigh, prandtl, result, hottest, doubt, model, plane, turns, outside
    )


def _may_be_stirred(case: Case) -> bool:
    """Whether contents beneath tracers on the side may be stirred all the same."""
    return sum(t.on for t in case.tracers) > 1 or bool(uneven(case))


def _outside(case: Case, rayleigh: float, prandtl: float, turns: bool) -> str:
    """Why an estimate is not an answer: what its doubt was not found for."""
    if turns:
        return (
            "the fluid grows heavier as it warms in part of its temperatures, and what is warm may stay below"
        )
    if not heated_low(case):
        return "a tracer lies above 4 or 8 o'clock, and contents below it settle in layers"
    if 0.0 < case.contents.fill < 1.0:
        return "the bore is partly filled"
    if not LEAST_RAYLEIGH <= rayleigh <= MOST_RAYLEIGH:
        return f"its Rayleigh number {rayleigh:.1e} lies outside {LEAST_RAYLEIGH:.0e} to {MOST_RAYLEIGH:.0e}"
    if not LEAST_PRANDTL <= prandtl <= MOST_PRANDTL:
        return f"its Prandtl number {prandtl:.3g} lies outside {LEAST_PRANDTL:g} to {MOST_PRANDTL:g}"
    return ""
