"""What can be said of moving contents whose flow was not resolved: bounds, and an estimate between them.

The bounds are contents that only conduct (`still`), contents of one temperature (`mixed`, and the same with hardly
any film) and, unless every tracer lies low, a bore that takes no heat at all: heated from above or from the side the
contents settle in layers, and the bottom is colder than if they stood still. Where the estimate's own doubt is known
(`sim.solve.estimate`) the answer is the estimate, or the steady flow that would not last, with that doubt as its band;
elsewhere every band reaches from bound to bound.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sim.case import Case
from sim.heat.bore import GIVEN
from sim.solve.at_rest import MeshStore, SectionResult, solve_at_rest
from sim.solve.bounds import ends, heated_low, insulated, touching, with_contents
from sim.solve.convergence import Banded
from sim.solve.estimate import Estimate, estimate
from sim.solve.measures import TEMPERATURE
from sim.solve.paths import quantity

STIRRED = 1e4  # W/m2/K, the film of contents stirred so well that it no longer matters, a bound of the wall's


def unresolved(
    case: Case,
    store: MeshStore,
    fineness: float,
    reason: str,
    progress: Callable[[str], None] | None = None,
    steady: SectionResult | None = None,
    known: Estimate | None = None,
) -> SectionResult:
    """The steady flow that would not last, or the correlation, with a band of its doubt; the bracket where that is
    not known. known: the estimate, where it is there already. Raises NotConverged as `solve_at_rest` does."""
    by_film = known or estimate(case, store, fineness, progress)
    if by_film.outside:
        return bracket(
            case, store, fineness, f"{reason}; no estimate, for {by_film.outside}", progress, steady, by_film
        )
    shown = steady or _films(by_film)
    quantities, parts = {}, {}
    for path, value in shown.quantities.items():
        quantities[path], parts[path] = _doubted(path, value, by_film)
    sure = ends(case, insulated(case, store, fineness, progress), store, fineness, progress)
    what = "the steady flow that would not last" if steady is not None else f"an estimate ({by_film.words})"
    aside = (
        f"An estimate beside it ({by_film.words}): {_coldest(by_film.result)}. " if steady is not None else ""
    )
    cold = parts.get("contents.min", {"mesh": 0.0, "model": 0.0})
    notes = (
        f"the contents' flow is not steady: {reason}. Values are those of {what}; their bands add to the mesh what the"
        f" film's doubt is worth, a factor of {by_film.doubt:.2f} to either side (coldest contents: mesh"
        f" {cold['mesh']:.2g} K, model {cold['model']:.2g} K). {aside}Rayleigh {by_film.rayleigh:.2e}, Prandtl"
        f" {by_film.prandtl:.3g}",
        *_sure_words(sure, quantities),
        *(() if steady is None else steady.notes),
    )
    basis = "steady flow that would not last" if steady is not None else "estimate"
    return SectionResult(
        case,
        shown.solution,
        quantities,
        shown.cells,
        shown.fineness,
        notes,
        ends=sure,
        basis=basis,
        parts=parts,
    )


def _doubted(path: str, value: Banded, by_film: Estimate) -> tuple[Banded, dict[str, float]]:
    """A value with the band of the estimate's doubt, and its parts."""
    row = quantity(path)
    model = by_film.model.get(path, 0.0)
    if row.band == "none" or not np.isfinite(value.value):
        return value, {}
    if row.band == "spread":  # a place on the clock: it may be anywhere
        return replace(value, band=row.measure.period / 2), {}
    parts = {"mesh": value.band, "model": model}
    return replace(value, band=value.band + model), parts


def _coldest(result: SectionResult) -> str:
    at = {p: TEMPERATURE.shown(result.value(p)) for p in ("contents.min", "wall.min", "wall.max")}
    return (
        f"coldest contents {at['contents.min']:.2f}, coldest wall {at['wall.min']:.2f}, hottest wall"
        f" {at['wall.max']:.2f} degC"
    )


def _films(by_film: Estimate) -> SectionResult:
    """The estimate's field, its film put into the contents as if it were given."""
    shown, net = by_film.result, by_film.result.solution.network
    of_films = tuple(note.replace(GIVEN, "the estimate's own, not given in the case") for note in net.notes)
    solution = replace(shown.solution, network=replace(net, notes=of_films))
    return replace(shown, solution=solution, quantities={**shown.quantities, **by_film.hottest})


def _sure_words(sure: dict[str, float], quantities: dict[str, Banded]) -> tuple[str, ...]:
    if not sure:
        return ()
    least = ", ".join(
        f"{quantity(p).words} {TEMPERATURE.shown(t):.2f}" for p, t in sure.items() if p in quantities
    )
    words = "whatever the contents do, nothing is colder or hotter than this, and a pass may rest on it"
    return (f"{words} (degC): {least}",)


def bracket(
    case: Case,
    store: MeshStore,
    fineness: float,
    reason: str,
    progress: Callable[[str], None] | None = None,
    steady: SectionResult | None = None,
    known: Estimate | None = None,
) -> SectionResult:
    """The estimate's field (or a steady flow's that would not last), with bands that take in `still` and `mixed`.

    known: the estimate, where it is there already. Raises NotConverged as `solve_at_rest` does.
    """

    def lumped(**changes: object) -> SectionResult:
        return solve_at_rest(
            with_contents(case, state="mixed", **changes), store, fineness, progress, touching
        )

    still = solve_at_rest(with_contents(case, state="still"), store, fineness, progress)
    bare = insulated(case, store, fineness, progress)
    bounds = [still, lumped(), lumped(film_coefficient=STIRRED)]
    bands = "every band reaches from contents that only conduct to contents of one temperature"
    by_film = known or estimate(case, store, fineness, progress)
    if not heated_low(case) or by_film.turns:
        bounds.append(bare)
        why = (
            "a tracer above 4 or 8 o'clock"
            if not heated_low(case)
            else "a fluid that grows heavier as it warms"
        )
        bands += f" and to a bore that takes no heat, for {why} lets them settle in layers"
    shown = steady or _films(by_film)
    quantities = {
        path: _between(path, value, [value_there for b in bounds for value_there in _bound(path, b)])
        for path, value in shown.quantities.items()
    }
    if steady is None:
        words = f"Values are an estimate ({by_film.words}); {bands}"
    else:
        words = (
            f"Values are those of the steady flow that would not last; {bands}. An estimate beside it"
            f" ({by_film.words}): {_coldest(by_film.result)}"
        )
    sure = ends(case, bare, store, fineness, progress)
    notes = (
        *_sure_words(sure, quantities),
        f"the contents' flow was not resolved: {reason}. {words}",
        *(() if steady is None else steady.notes),
    )
    return SectionResult(
        case, shown.solution, quantities, shown.cells, shown.fineness, notes, True, sure, basis="bracket"
    )


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
