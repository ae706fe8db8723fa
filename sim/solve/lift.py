"""A flat tracer that bands hold on the pipe and that lifts between them: the section in layers over half a span.

Over half a band's width the tracer is in contact, from there to the middle of the span it stands off by the whole
height: the hottest that a lift of that height can be. One mesh has the tracer lifted; beneath a band its gap is filled
with what conducts as the contact does. Both ends are planes of symmetry.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.case import Case, Curve
from sim.heat.layers import layered
from sim.heat.network import Network, network
from sim.section.extrude import GROWTH, Layers, graded
from sim.section.layout import THIN_GAP, place
from sim.section.mesh import plan_mesh
from sim.section.shapes import Array
from sim.solve.at_rest import band_of, levels_of
from sim.solve.convergence import Banded
from sim.solve.multigrid import Multigrid
from sim.solve.paths import of_support
from sim.solve.quantities import quantities
from sim.solve.steady import Solution, solve
from sim.solve.support_quantities import (
    barrier_band,
    contents_rows,
    heat,
    judged_contents,
    sheath_max,
    wall_band,
)

BAND = 1  # what a cell of the gap is made of beneath a band
LAYERS = 10.0  # layers in half a span at the least, at fineness 1
ROUNDING = 1e-5  # K, what the solver's tolerance leaves open


@dataclass(frozen=True)
class Lift:
    """A tracer lifted by a height between bands of a width, a spacing apart, m."""

    tracer: str
    height: float
    spacing: float
    band: float

    allowance: float = 0.0

    @property
    def name(self) -> str:
        return f"lift of {self.tracer}"

    @property
    def length(self) -> float:
        """Along the line, from band to band, m."""
        return self.spacing


def refused(case: Case, lift: Lift) -> str:
    """Why a lift cannot be solved, or ""."""
    tracer = next((t for t in case.tracers if t.name == lift.tracer), None)
    if tracer is None:
        return (
            f'there is no tracer "{lift.tracer}"; known: {", ".join(t.name for t in case.tracers) or "none"}'
        )
    if tracer.shape != "flat" or tracer.over is not None or tracer.standoff > 0.0:
        return f"{lift.tracer} is round, stacked or lifted already; accepted: a flat tracer on the pipe"
    if case.contents.state == "buoyant":
        return "contents that move are not resolved along a span; accepted: another state"
    if lift.height < THIN_GAP:
        return f"{1e3 * lift.height:g} mm is thinner than the mesh; accepted: {1e3 * THIN_GAP:g} mm or more"
    if lift.band >= lift.spacing:
        return "a band is as wide as they are apart; accepted: a narrower one"
    return ""


def on_plan(case: Case, lift: Lift, fineness: float) -> tuple[Network, NDArray[np.bool_]]:
    """The section with the tracer lifted, and which cells lie in its gap. Raises ValueError if it cannot be meshed."""
    lifted = tuple(
        t.model_copy(update={"standoff": lift.height}) if t.name == lift.tracer else t for t in case.tracers
    )
    raised = case.model_copy(update={"tracers": lifted})
    layout = place(raised)
    mesh = plan_mesh(layout, fineness)
    number = next(i for i, t in enumerate(case.tracers) if t.name == lift.tracer)
    gap = next(one for one in layout.gaps if one.index == number)
    return network(raised, mesh), gap.inside(*mesh.site.T) & mesh.of_kind("void")


def banded(net: Network, gap: NDArray[np.bool_], lift: Lift, inside: NDArray[np.bool_]) -> Network:
    """A network with the gap's cells of some layers (layers,) as beneath a band."""
    tracer = next(t for t in net.case.tracers if t.name == lift.tracer)
    fill = Curve("constant", (lift.height * tracer.contact_conductance,))
    return replace(net, part=(inside[:, None] & gap[None]).astype(np.int64) * BAND, laws={BAND: fill})


def span_layers(lift: Lift, height: float, fineness: float) -> Layers:
    """Layers over half a span, fine beside the band's edge; height: of the tracer, m."""
    half, edge = lift.spacing / 2, lift.band / 2

    def size(z: Array) -> Array:
        return np.minimum(0.5 * height + GROWTH * np.abs(z - edge), half / LAYERS)

    edges = graded([0.0, edge, half], size, fineness)
    return Layers(edges, np.zeros(len(edges) - 1, np.int64))


def extremes(solution: Solution, of: Mapping[str, float]) -> dict[str, float]:
    """Extremes over a span, K; of: a section's quantities, for which contents are judged."""
    wall = wall_band(solution).value
    return {
        "wall_min": float(wall.min()),
        "wall_max": float(wall.max()),
        "contents_min": float(contents_rows(solution, *judged_contents(of)[1]).min()),
        "barrier_max": float(barrier_band(solution).value.max()),
        "sheath_max": sheath_max(solution),
    }


def on_one_mesh(case: Case, lift: Lift, fineness: float) -> dict[str, float]:
    """What the lift changes, K, against the tracer in contact all along, on one mesh. Raises NotConverged."""
    plan, gap = on_plan(case, lift, fineness)
    alone = solve(banded(plan, gap, lift, np.ones(1, bool)))
    line = dict(quantities(alone))
    tracer = next(t for t in case.tracers if t.name == lift.tracer)
    layers = span_layers(lift, tracer.height or lift.height, fineness)
    net = banded(layered(plan, layers), gap, lift, layers.centre < lift.band / 2)
    field = solve(net, net.spread(alone.temperature), Multigrid())
    here = extremes(field, line)
    hottest = max(line[f"tracers.{t.name}.sheath_max"] for t in case.tracers)
    return {
        "dip": line["wall.min"] - here["wall_min"],
        "contents_dip": line[judged_contents(line)[0]] - here["contents_min"],
        "wall_rise": here["wall_max"] - line["wall.max"],
        "barrier_rise": here["barrier_max"] - line["barrier.max"],
        "sheath_rise": here["sheath_max"] - hottest,
        "closure": heat(field).closure,
    }


def solve_lift(case: Case, lift: Lift, fineness: float) -> dict[str, Banded]:
    """What a lift changes in a case narrowed to one condition, K, on three meshes. Raises NotConverged, ValueError.

    fineness: of the finest mesh.
    """
    why = refused(case, lift)
    if why:
        raise ValueError(why)
    coarse, middle, fine = (on_one_mesh(case, lift, f) for f in levels_of(fineness))
    return {
        path: band_of(of_support(path), (coarse[path], middle[path], fine[path]), ROUNDING) for path in fine
    }
