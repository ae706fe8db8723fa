"""What can be said of moving contents whose flow was not resolved: bounds, and an estimate between them.

The bounds are contents that only conduct (`still`), contents of one temperature (`mixed`, and the same with hardly
any film) and, unless every tracer lies low, a bore that takes no heat at all: heated from above or from the side the
contents settle in layers, and the bottom is colder than if they stood still. The estimate is mixed
contents behind the film of Evans and Stefany (1966), Chem. Eng. Progr. Symp. Ser. 62 (64), 209-215, for liquids in
enclosed cylinders, Nu = 0.55 Ra^(1/4) on the diameter and the wall's excess over the bulk (constants from memory); its
coldest contents are those at the coldest wall.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sim.case import Case
from sim.heat.bore import GIVEN
from sim.heat.fluid import Buoyancy
from sim.solve.at_rest import MeshStore, SectionResult, solve_at_rest
from sim.solve.bounds import ends, heated_low, insulated, touching, with_contents
from sim.solve.convergence import Banded
from sim.solve.paths import TEMPERATURE, quantity

EVANS_STEFANY = 0.55
STIRRED = 1e4  # W/m2/K, the film of contents stirred so well that it no longer matters, a bound of the wall's
PASSES = 4  # of the film on the wall's excess over the bulk; the film goes with its fourth root


def film(case: Case, excess: float, bulk: float) -> float:
    """Film coefficient of the estimate, W/m2/K, for the wall's mean excess over the bulk (K) and the bulk (K)."""
    diameter = 2 * case.pipe.inner_radius
    fluid = case.contents.fluid if case.contents.fill > 0 else case.contents.gas
    rayleigh = Buoyancy(fluid, diameter).rayleigh(np.array([bulk - excess / 2, bulk + excess / 2]), bulk)
    nusselt = max(EVANS_STEFANY * rayleigh**0.25, 2.0)
    return float(nusselt * fluid.conductivity(bulk) / diameter)


def bracket(
    case: Case,
    store: MeshStore,
    fineness: float,
    reason: str,
    progress: Callable[[str], None] | None = None,
    steady: SectionResult | None = None,
) -> SectionResult:
    """The estimate's field (or a steady flow's that would not last), with bands that take in `still` and `mixed`.

    Raises NotConverged as `solve_at_rest` does.
    """

    def lumped(**changes: object) -> SectionResult:
        return solve_at_rest(
            with_contents(case, state="mixed", **changes), store, fineness, progress, touching
        )

    still = solve_at_rest(with_contents(case, state="still"), store, fineness, progress)
    bare = insulated(case, store, fineness, progress)
    bounds = [still, lumped(), lumped(film_coefficient=STIRRED)]
    bands = "every band reaches from contents that only conduct to contents of one temperature"
    if not heated_low(case):
        bounds.append(bare)
        bands += (
            " and to a bore that takes no heat, for a tracer above 4 or 8 o'clock lets them settle in layers"
        )
    coefficient = 50.0
    for _ in range(PASSES):
        estimate = lumped(film_coefficient=coefficient)
        excess = max(estimate.value("wall.max") - estimate.value("wall.min"), 1e-6) / 2
        coefficient = film(case, excess, estimate.value("contents.mean"))
    shown = steady or estimate
    quantities = {
        path: _between(path, value, [value_there for b in bounds for value_there in _bound(path, b)])
        for path, value in shown.quantities.items()
    }
    film_words = (
        f"mixed contents behind a film of {coefficient:.3g} W/m2/K, Evans and Stefany 1966, from memory"
    )
    notes: tuple[str, ...]
    if steady is None:
        notes = (
            f"the contents' flow was not resolved: {reason}. Values are an estimate ({film_words}); {bands}",
        )
    else:
        at = {p: TEMPERATURE.shown(estimate.value(p)) for p in ("contents.min", "wall.min", "wall.max")}
        notes = (
            f"the contents' flow was not resolved: {reason}. Values are those of the steady flow that would not last;"
            f" {bands}. An estimate beside it ({film_words}): coldest contents {at['contents.min']:.2f}, coldest wall"
            f" {at['wall.min']:.2f}, hottest wall {at['wall.max']:.2f} degC",
            *steady.notes,
        )
    net = shown.solution.network
    if steady is None:  # the estimate's film is put into the contents as if it were given
        of_films = tuple(
            note.replace(GIVEN, "the estimate's own, not given in the case") for note in net.notes
        )
        shown = replace(shown, solution=replace(shown.solution, network=replace(net, notes=of_films)))
    sure = ends(case, bare, store, fineness, progress)
    if sure:
        least = ", ".join(
            f"{quantity(p).words} {TEMPERATURE.shown(t):.2f}" for p, t in sure.items() if p in quantities
        )
        notes = (
            "whatever the contents do, nothing is colder or hotter than this, and a pass may rest on it "
            f"(degC): {least}",
            *notes,
        )
    return SectionResult(case, shown.solution, quantities, shown.cells, shown.fineness, notes, True, sure)


def _bound(path: str, bound: SectionResult) -> list[Banded]:
    """What a bound says of a quantity; of a mean that it has not, both extremes."""
    place, _, last = path.rpartition(".")
    if place in ("liquid", "gas") and path not in bound.quantities:
        path = f"contents.{last}"
    value = bound.quantities.get(path)
    if value is not None and np.isnan(value.value) and last == "mean":
        return [bound.quantities[path.replace("mean", end)] for end in ("min", "max")]
    return [] if value is None else [value]


def _between(path: str, value: Banded, at_bounds: list[Banded]) -> Banded:
    """A band about the estimate that takes in the bounds with their own bands."""
    bounds = [b for b in at_bounds if np.isfinite(b.value)]
    row = quantity(path)
    if row.band == "none" or not bounds:
        return value
    if row.band == "spread":  # a place on the clock: it may be anywhere
        return replace(value, band=row.measure.period / 2, asymptotic=False)
    reach = max(abs(b.value - value.value) + b.band for b in bounds)
    return replace(value, band=max(reach, value.band), asymptotic=False)
