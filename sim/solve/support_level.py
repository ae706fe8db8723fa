"""One support in one condition on one mesh: the line without it, and the fields with it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sim.case import Case, Support
from sim.heat.bore import bore_coefficient
from sim.heat.network import network
from sim.heat.support import SupportNetwork, support_network, with_allowance
from sim.heat.tracer import tracer_watts
from sim.section.extrude import Layers, z_layers
from sim.section.mesh import plan_mesh
from sim.section.support import place_support
from sim.solve.layered import MEMORY_LIMIT, LayeredSolution, Multigrid, refuse_too_large, solve_layered
from sim.solve.quantities import quantities
from sim.solve.steady import NotConverged, Solution, solve
from sim.solve.support_quantities import dip_quantities, heat, wall_band

REACHES = 6.0  # half length of a support alone on the line, in reaches of the pipe as a fin, beyond its parts
FAR_SHARE = 0.005  # of the dip, that may be left at the far end
HELD_FILM = 1e5  # W/m2/K, bore held at the maintain temperature where the state has no film of its own
ENOUGH_STEPS = 4
CLOSE = 0.01  # of the allowance: a step of the secant so small needs no further field
LONGEST = 20.0  # m of extra tracer, beyond which none is sought


@dataclass(frozen=True)
class Line:
    """The line without the support: maintain temperature (K) and where it comes from, heat loss there (W/m),
    tracers' output there (W/m), reach of the pipe as a fin (m)."""

    maintain: float
    maintain_source: str
    loss: float
    output: float
    reach: float


@dataclass
class Level:
    """One mesh: the plan, the layers, the section's own field, the fields around the support, and their numbers."""

    layers: Layers
    section: Solution
    held: LayeredSolution
    alone: LayeredSolution
    installed: LayeredSolution | None
    line: Line
    values: dict[str, float]
    seconds: dict[str, float]


def maintained(case: Case, section: Solution) -> tuple[float, str]:
    """The maintain temperature, K, and where it comes from."""
    if case.design.maintain is not None:
        return case.design.maintain, "design.maintain"
    if case.contents.state == "flowing" and case.contents.temperature is not None:
        return case.contents.temperature, "temperature of the flowing contents"
    return quantities(section)[
        "wall.mean"
    ], "mean of the section's wall in this condition (no design.maintain)"


def held_case(case: Case, temperature: float) -> Case:
    """The case with contents held at a temperature and tracers there but unpowered."""
    film = case.contents.film_coefficient
    if case.contents.state in ("still", "empty") or film == 0:
        film = HELD_FILM
    fill = 1.0 if case.contents.state == "empty" else case.contents.fill
    given = {"state": "flowing", "temperature": temperature, "film_coefficient": film, "fill": fill}
    if case.contents.state == "flowing" or film is None:
        given["film_coefficient"] = bore_coefficient(case.contents, 2 * case.pipe.inner_radius, "liquid")[0]
    dead = case.conditions[0].model_copy(update={"supply": 0.0})
    return case.model_copy(update={"contents": case.contents.model_copy(update=given), "conditions": (dead,)})


def reach(section: Solution) -> float:
    """sqrt(k A / U') of the line: distance over which a disturbance of the pipe decays, m."""
    net, mesh = section.network, section.network.mesh
    kinds = np.array([r.kind for r in mesh.layout.regions])[mesh.cell_region]
    metal = np.isin(kinds, ("wall", "liquid", "gas", "tracer"))
    strength = float((section.conductivity * mesh.cell_area)[metal].sum())
    found = quantities(section)
    ambient = net.case.conditions[0].ambient
    drive = found["wall.mean"] - ambient
    loss = abs(found["heat_out"] / drive) if abs(drive) > 0.1 else 0.5
    loss = max(loss, 0.02) + float(np.maximum(-section.balance.heat_slope, 0.0).sum())
    if net.bore is not None and net.bore.liquid_at is not None:
        loss += float(net.bore.film.sum())
    return float(np.sqrt(strength / loss))


def solve_level(
    case: Case,
    support: Support,
    fineness: float,
    limit: float = MEMORY_LIMIT,
    tell: Callable[[str], None] = lambda what: None,
    like: Level | None = None,
) -> Level:
    """All fields of a support on one mesh. Raises NotConverged, TooLarge, or ValueError if it cannot be meshed."""
    layout = place_support(case, support)
    mesh = plan_mesh(layout, fineness)
    plan = network(case, mesh)
    section = solve(plan)
    maintain, source = maintained(case, section)
    held_plan = network(held_case(case, maintain), mesh)
    held_section = solve(held_plan)
    distance = reach(section) if like is None else like.line.reach
    condition = case.conditions[0]
    output = sum(float(tracer_watts(t, condition, maintain)) for t in case.tracers)
    line = Line(maintain, source, quantities(held_section)["heat_out"], output, distance)
    alone_on_line = support.spacing is None
    half = max(support.length, support.allowance_over) / 2 + max(
        REACHES * distance, 2 * mesh.layout.cover_radius
    )
    length = half if support.spacing is None else support.spacing / 2
    if like is not None:
        length = float(like.layers.edge[-1])
    while True:
        layers = z_layers(layout, length, distance, fineness, (support.allowance_over / 2,))
        refuse_too_large(layers.count * plan.nodes, limit)
        tell(f"{layers.count * mesh.cells} cells around {support.name}")
        grid = Multigrid()
        net = support_network(plan, layers, support)
        alone = solve_layered(net, np.tile(section.temperature, layers.count), grid)
        wall = wall_band(alone)
        end = np.abs(wall.value[-1].mean() - wall.value[:, :].mean(axis=1))
        gone = abs(float(wall.value[-1].min()) - quantities(section)["wall.min"])
        if not alone_on_line or gone <= FAR_SHARE * max(float(end.max()), 0.02) or length > 3 * half:
            break
        length *= 1.5
    held_net = support_network(held_plan, layers, support)
    held = solve_layered(
        held_net, np.tile(held_section.temperature, layers.count), Multigrid(seconds=grid.seconds)
    )
    installed = None
    if support.allowance > 0 and case.tracers:
        installed = solve_layered(with_allowance(net, support.allowance), alone.temperature, grid)
    values = _values(case, support, line, length, section, held, alone, installed, gone)
    near = like.values["allowance_enough"] if like is not None else float("nan")
    values["allowance_enough"] = _enough(net, section, alone, values, near, output, grid)
    return Level(layers, section, held, alone, installed, line, values, grid.seconds)


def _values(
    case: Case,
    support: Support,
    line: Line,
    length: float,
    section: Solution,
    held: LayeredSolution,
    alone: LayeredSolution,
    installed: LayeredSolution | None,
    gone: float,
) -> dict[str, float]:
    sink = heat(held)
    drive = line.maintain - case.conditions[0].ambient
    drained = sink.out - 2 * length * line.loss
    nan = float("nan")
    common = {
        "heat_sink": drained,
        "chi": drained / drive if abs(drive) > 0.5 else nan,
        "equivalent_tracer_length": drained / line.output if line.output > 0 else nan,
        "equivalent_line_length": drained / line.loss if abs(line.loss) > 1e-9 else nan,
        "leg_heat_held": sink.leg,
    }
    values = common | dip_quantities(alone, section)
    values["closure"] = max(values["closure"], sink.closure)
    values["far_end"] = gone
    if installed is not None:
        more = common | dip_quantities(installed, section)
        values |= {f"with_allowance.{name}": value for name, value in more.items()}
    return values


def _enough(
    net: SupportNetwork,
    section: Solution,
    alone: LayeredSolution,
    values: dict[str, float],
    near: float,
    output: float,
    grid: Multigrid,
) -> float:
    """Extra tracer, m, with which the coldest wall around the support is the section's own: secant on the dip.

    near: what a coarser mesh found, or NaN. 0 if there is no dip; NaN if no allowance brings it back (the cold spot is
    elsewhere), or no tracer is on.
    """
    coldest = quantities(section)["wall.min"]
    dips = [values["dip"]]
    if dips[0] <= 0.0:
        return 0.0
    if output <= 0.0:
        return float("nan")
    tried = [0.0]
    guess, field_ = near if np.isfinite(near) else max(values["equivalent_tracer_length"], 0.05), alone
    if not np.isfinite(near) and "with_allowance.dip" in values:
        tried.append(net.support.allowance)
        dips.append(values["with_allowance.dip"])
    for _ in range(ENOUGH_STEPS):
        if len(tried) > 1:
            fall = (dips[-1] - dips[-2]) / (tried[-1] - tried[-2])
            if fall >= -1e-9:
                return float("nan")
            guess = tried[-1] - dips[-1] / fall
            if abs(guess - tried[-1]) < CLOSE * max(abs(guess), 0.01):
                return float(guess)
        guess = min(max(guess, 0.0), LONGEST)
        if guess == tried[-1]:
            return float("nan")
        try:
            field_ = solve_layered(with_allowance(net, guess), field_.temperature, grid)
        except NotConverged:  # so much heat that the line would not stand it
            return float("nan")
        tried.append(guess)
        dips.append(coldest - float(wall_band(field_).value.min()))
    return float(guess) if abs(dips[-1]) < 0.02 * dips[0] else float("nan")
