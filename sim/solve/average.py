"""The time average of contents whose flow does not settle: the flow followed on two meshes, on one from two starts.

The average is given as what it differs by from mixed contents behind the estimate's film on the same mesh, added to
that estimate on three meshes: outside and insulation are resolved there, and the flow's own mesh decides the difference
alone. Its band adds the estimate's mesh, three times the change of the difference between both meshes (Roache 1994),
the statistics, how far a second start, with shorter steps, ends from the first, and what plane flow leaves out.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from time import perf_counter

import numpy as np

from sim.case import Case, resolved
from sim.solve.at_rest import MeshStore, SectionResult
from sim.solve.convergence import Banded
from sim.solve.estimate import Estimate
from sim.solve.followed import COURANT
from sim.solve.measures import TEMPERATURE
from sim.solve.motion import Flow, Motion
from sim.solve.moving import Moving, grading_for, layer_cells
from sim.solve.paths import HIGH, LOW, quantity
from sim.solve.steady import solve
from sim.solve.track import (
    ENOUGH,
    MOST,
    MOST_STEPS,
    Asked,
    NotFollowed,
    Track,
    batch_band,
    first_field,
    followed,
    mean_solution,
    numbers,
)
from sim.version import __version__

MOST_RAYLEIGH = 1e9  # on the bore wall's span, beyond which the meshes used do not resolve the flow
FOLLOWED = (0.5, 0.35)  # fineness of the two meshes, as parts of the finest of a condition at rest
OTHER_COURANT = 0.35  # of the second start's steps, shorter than the first's
OTHER_ROUNDS = 30.0  # at most from the second start: the layers it begins with may take 15 to go
STEPS = 0.8  # part of the steps a run may take that the second start is planned to take
UNEVEN = 0.02  # of the temperatures at the start, as a part of the wall's span
COARSE_SHARES = (0.25, 0.5)  # of a stated time, by which the runs on the coarse mesh end
MESH_SAFETY = 3.0  # on the change between two meshes whose order is not shown
CLEAR = 2.0  # times all bands by which a limit is decided, so that no more is followed


def average(
    case: Case,
    store: MeshStore,
    fineness: float,
    reason: str,
    known: Estimate,
    progress: Callable[[str], None] | None = None,
) -> SectionResult:
    """The averages of a condition whose contents do not settle, for a reason. known: the estimate of the condition.

    Raises NotFollowed, or NotConverged where a field at rest does not settle.
    """
    if 0.0 < case.contents.fill < 1.0:
        raise NotFollowed("the bore is partly filled")
    if known.rayleigh > MOST_RAYLEIGH:
        raise NotFollowed(
            f"its Rayleigh number {known.rayleigh:.1e} exceeds {MOST_RAYLEIGH:.0e}, resolved here"
        )
    grading = grading_for(known.rayleigh, MOST_RAYLEIGH)
    fine, coarse = (Moving(case, store.get(case, part * fineness, grading)) for part in FOLLOWED)
    begin = perf_counter()
    within = case.contents.average_within or float("inf")

    def run(moving: Moving, what: str, part: float, other: float = 0.0) -> tuple[Track, Mapping[str, float]]:
        return _run(case, moving, known, what, progress, begin + part * within, store.kept, other)

    one, base = run(coarse, "on a coarse mesh", COARSE_SHARES[0])
    a_round = one.steps / one.rounds * COURANT / OTHER_COURANT
    rounds = max(MOST, min(OTHER_ROUNDS, STEPS * MOST_STEPS / a_round))
    two, _ = run(coarse, "from another start", COARSE_SHARES[1], rounds)
    best, base_best = run(fine, "on the finer mesh", 1.0)
    mean = best.mean()
    gained = _less(numbers(fine, mean.temperature), base_best)
    moved = _less(_less(numbers(coarse, one.mean().temperature), base), gained)
    spread, apart = _statistics(best), _apart(one, two)
    quantities, parts = _averaged(known, gained, moved, spread, apart)
    if case.contents.average_holds == "moments":
        quantities |= _moments(quantities, best)
    law = fine.fluid.law(mean.temperature[fine.heat.flow_node])
    flow = Flow(fine.flow, Motion(mean, law, (0.0, 0.0, 0.0), best.steps), best.frames())
    solution = mean_solution(fine, mean.temperature, flow, best.steps)
    notes = _words(reason, known, (one, two, best), parts, apart)
    cells, levels = known.result.cells, known.result.fineness
    return SectionResult(case, solution, quantities, cells, levels, notes, basis="average", parts=parts)


def _averaged(
    known: Estimate,
    gained: Mapping[str, float],
    moved: Mapping[str, float],
    spread: Mapping[str, float],
    apart: Mapping[str, float],
) -> tuple[dict[str, Banded], dict[str, dict[str, float]]]:
    """The estimate's quantities with what the flow adds to them, and the parts of each one's band.

    By path: what the flow adds, and how far that is from the coarse mesh's, the band of its statistics, how far two
    starts end from each other.
    """
    quantities, parts = {}, {}
    for path, value in known.result.quantities.items():
        gain = gained.get(path, float("nan"))
        if not np.isfinite(gain) or quantity(path).band != "index":
            quantities[path] = value
            continue
        parts[path] = {
            "mesh": value.band + MESH_SAFETY * abs(moved[path]),
            "statistics": spread[path],
            "start": apart.get(path, 0.0),
            "model": known.plane.get(path, 0.0),
        }
        quantities[path] = replace(
            value,
            value=value.value + gain,
            band=sum(parts[path].values()),
            values=tuple(v + gain for v in value.values),
            extrapolated=value.extrapolated + gain,
        )
    return quantities, parts


def _run(
    case: Case,
    moving: Moving,
    known: Estimate,
    what: str,
    progress: Callable[[str], None] | None,
    until: float,
    kept: Path | None,
    other: float,
) -> tuple[Track, Mapping[str, float]]:
    """A flow followed on one mesh, and the numbers of mixed contents there.

    It starts from contents of one temperature; other: rounds at most where it starts as they lie at rest, disturbed
    otherwise, with shorter steps; 0 for the first start.
    """
    start, base = first_field(moving, case, known.film)
    offset = known.result.value("contents.min") - base["contents.min"]

    def tell(rounds: float, coldest: float, band: float) -> None:
        if progress is not None:
            shown = f", coldest contents {TEMPERATURE.shown(coldest + offset):.2f} ± {band:.3f} degC"
            progress(f"followed {what}: {rounds:.1f} rounds{shown if np.isfinite(band) else ''}")

    def enough(coldest: float, band: float) -> bool:
        return band <= ENOUGH or _decided(case, known, coldest + offset, band)

    x, y = moving.flow.site.T
    uneven = UNEVEN * (base["contents.max"] - base["contents.min"]) * x * (1 - 4 * (x**2 + y**2))
    if other:
        in_flow = moving.heat.flow_node
        still = solve(moving.network).temperature[in_flow]
        start[in_flow] = base["contents.mean"] + still - np.average(still, weights=moving.flow.area)
        uneven = -uneven
    file = None if kept is None else kept / f"{_key(case, moving, known, other > 0)}.npz"
    asked = Asked(tell, enough, until, file, other or MOST)
    return followed(moving, start, uneven, asked, OTHER_COURANT if other else COURANT), base


def _key(case: Case, moving: Moving, known: Estimate, other: bool) -> str:
    """Of all that a followed flow depends on, but for how long it is followed."""
    whole = resolved(case)
    whole["contents"].pop("average_within", None)
    of_all = json.dumps([whole, moving.network.mesh.cells, known.film, other, __version__], default=str)
    return hashlib.sha256(of_all.encode()).hexdigest()[:24]


def _less(one: Mapping[str, float], other: Mapping[str, float]) -> dict[str, float]:
    return {path: value - other[path] for path, value in one.items() if path in other}


def _decided(case: Case, known: Estimate, coldest: float, band: float) -> bool:
    """Whether a limit of the coldest contents is clear of all bands."""
    allowed = case.limits.contents_min
    if allowed is None:
        return False
    other = known.result.quantities["contents.min"].band + known.plane["contents.min"]
    return abs(coldest - allowed - (case.limits.margin or 0.0)) > CLEAR * (band + other)


def _statistics(track: Track) -> dict[str, float]:
    """Band of each quantity from the means of the stretches, and of what is left over for a temperature."""
    each = [numbers(track.moving, track.mean(part).temperature) for part in track.stretches]
    off = abs(track.net) * track.settling
    return {
        path: batch_band(np.array([e[path] for e in each]))
        + (off if quantity(path).measure is TEMPERATURE else 0.0)
        for path in each[0]
    }


def _apart(one: Track, two: Track) -> dict[str, float]:
    """How far two starts end from each other, where it is more than their statistics."""
    bands = _statistics(one), _statistics(two)
    far = _less(numbers(one.moving, one.mean().temperature), numbers(two.moving, two.mean().temperature))
    return {path: abs(d) for path, d in far.items() if abs(d) > bands[0][path] + bands[1][path]}


def _moments(averages: Mapping[str, Banded], track: Track) -> dict[str, Banded]:
    """What is held by the coldest and hottest moments; wall and sheath swing no more than the bore's own wall."""
    low, high = track.swing(True)[0], track.swing(False)[1]
    moments = {}
    for path, value in averages.items():
        if path.endswith(("contents.min", "wall.min")):
            moments[path + LOW] = replace(value, value=value.value + low)
        elif path == "wall.max" or path.endswith(".sheath_max"):
            moments[path + HIGH] = replace(value, value=value.value + high)
    return moments


def _words(
    reason: str,
    known: Estimate,
    tracks: tuple[Track, Track, Track],
    parts: Mapping[str, Mapping[str, float]],
    apart: Mapping[str, float],
) -> tuple[str, ...]:
    one, two, best = tracks
    moves, bulk = best.moving.buoyancy, known.result.value("contents.mean")
    nusselt = known.film * moves.diameter / float(moves.fluid.conductivity(bulk))
    eddy = (known.prandtl**2 / (known.rayleigh * max(nusselt - 1, 0.1))) ** 0.25
    rows = layer_cells(best.moving.flow, known.rayleigh, grading_for(known.rayleigh, MOST_RAYLEIGH), 1.0)
    unit = moves.diameter**2 / moves.diffusivity(bulk)
    hours = sum(c.length for c in best.chunks) * unit / 3600
    bands = ", ".join(f"{name} {band:.2g} K" for name, band in parts["contents.min"].items())
    low, high = best.swing(True)
    largest = float(np.sqrt(best.moving.flow.area.max()))
    notes = [
        f"the contents' flow is not steady: {reason}. Values are averages over {hours:.2g} h, after {best.cut:.1f} of"
        f" {best.rounds:.0f} rounds of the contents were cut off ({best.steps} steps; on a coarser mesh from two starts"
        f" {one.steps} and {two.steps}). Band of the coldest contents: {bands}; in time they lie 5 % below"
        f" {low:+.2g} K and 5 % above {high:+.2g} K of their mean. Rayleigh {known.rayleigh:.2e}, Prandtl"
        f" {known.prandtl:.3g}; heat in less heat out {best.net:.2g} W/m",
        f"smallest eddies {eddy:.2g} of the bore (Kolmogorov), smallest warm spots {eddy / known.prandtl**0.5:.2g}"
        f" (Batchelor); cells {largest:.2g} at most, {rows} rows within the layer at the wall at fineness 1: what that"
        " leaves out is in the change between both meshes",
    ]
    far = max((d for p, d in apart.items() if quantity(p).measure is TEMPERATURE), default=0.0)
    if any(track.late for track in tracks):
        notes.append(
            f"the flow was followed no longer than the stated {known.result.case.contents.average_within or 0:.0f} s"
            " (contents.average_within): the bands are those of what was reached"
        )
    if far > 0.0:
        notes.append(
            f"two starts end up to {far:.2g} K apart, more than their statistics; the bands take it in"
        )
    return tuple(notes)
