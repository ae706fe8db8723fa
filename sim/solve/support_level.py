"""One support in one condition on one mesh: the line without it, and the fields with it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from sim.case import Case, Fitting
from sim.heat.bore import bore_coefficient
from sim.heat.network import Network, network
from sim.heat.tracer import scaled_outputs, tracer_watts
from sim.section.extrude import Layers
from sim.section.fitting_cells import Cells
from sim.section.mesh import plan_mesh
from sim.section.shapes import Array
from sim.solve.allowance import SMALLEST, Enough, Trials
from sim.solve.bounds import with_contents
from sim.solve.fitting_measures import OnMesh, on_mesh
from sim.solve.fitting_quantities import bare_loss, covered
from sim.solve.interruption import Around, Interruption, around, laid_out, layers_around, unknowns
from sim.solve.multigrid import MEMORY_LIMIT, Multigrid, refuse_too_large
from sim.solve.quantities import quantities
from sim.solve.steady import Solution, solve
from sim.solve.support_quantities import contents_rows, dip_quantities, heat, judged_contents, wall_band

REACHES = 6.0  # half length of a support alone on the line, in reaches of the pipe as a fin, beyond its parts
FAR_SHARE = 0.005  # of the dip, that may be left at the far end
MAINTAIN_FILM = 1e5  # W/m2/K, bore held at the maintain temperature where the state has no film of its own
NEAR_SHARE = 0.05  # of the dip: rows of the wall that fall by less are not asked for their allowance
COLDEST = ("wall_min", "contents_min", "liquid_min")
ENOUGH, FOR_LIMIT = "allowance_enough", "allowance_for_"


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
    """One mesh: the plan, the layers, the section's own field, the fields around the support, and their numbers.

    less_output: change of the coldest temperatures as built, K, with less of the tracers' output by the margin that the
    limits ask for; only of a mesh that is like no other. bodies, cells: of a fitting, how large its bodies are on this
    mesh, and its cells in space.
    """

    layers: Layers
    section: Solution
    alone: Solution
    installed: Solution | None
    line: Line
    values: dict[str, float]
    seconds: dict[str, float]
    enough: dict[str, Enough]
    less_output: dict[str, float] = field(default_factory=dict)
    bodies: tuple[OnMesh, ...] = ()
    cells: Cells | None = None


def maintained(case: Case, section: Solution) -> tuple[float, str]:
    """The maintain temperature, K, and where it comes from."""
    if case.design.maintain is not None:
        return case.design.maintain, "design.maintain"
    if case.contents.state == "flowing" and case.contents.temperature is not None:
        return case.contents.temperature, "temperature of the flowing contents"
    mean = quantities(section)["wall.mean"]
    return mean, "mean of the section's wall in this condition (no design.maintain)"


def maintained_case(case: Case, temperature: float) -> Case:
    """The case with contents held at a temperature and tracers there but unpowered."""
    film = case.contents.film_coefficient
    if case.contents.state in ("still", "empty") or film == 0:
        film = MAINTAIN_FILM
    fill = 1.0 if case.contents.state == "empty" else case.contents.fill
    given = {"state": "flowing", "temperature": temperature, "film_coefficient": film, "fill": fill}
    if case.contents.state == "flowing" or film is None:
        given["film_coefficient"] = bore_coefficient(case.contents, 2 * case.pipe.inner_radius, "liquid")[0]
    dead = case.conditions[0].model_copy(update={"supply": 0.0})
    return with_contents(case, **given).model_copy(update={"conditions": (dead,)})


def reach(section: Solution) -> float:
    """sqrt(k A / U') of the line: distance over which a disturbance of the pipe decays, m."""
    net, mesh = section.network, section.network.mesh
    metal = mesh.of_kind("wall", "liquid", "gas", "tracer")
    strength = float((section.conductivity * mesh.cell_area)[metal].sum())
    values = quantities(section)
    ambient = net.case.conditions[0].ambient
    drive = values["wall.mean"] - ambient
    out = section.balance.through("cover", section.temperature)
    loss = abs(out / drive) if abs(drive) > 0.1 else 0.5
    loss = max(loss, 0.02) + float(np.maximum(-section.balance.heat_slope, 0.0).sum())
    if net.bore is not None and net.bore.liquid_at is not None:
        loss += float(net.bore.film.sum())
    return float(np.sqrt(strength / loss))


def half_length(support: Interruption, distance: float, cover_radius: float) -> float:
    """Half of the stretch that is modelled, m, at first; distance: reach of the pipe as a fin, m."""
    if isinstance(support, Fitting):
        parts = support.length / 2
    elif support.spacing is not None:
        return support.spacing / 2
    else:
        parts = max(support.length, support.allowance_over) / 2
    return parts + max(REACHES * distance, 2 * cover_radius)


def refuse_early(case: Case, support: Interruption, fineness: float, limit: float = MEMORY_LIMIT) -> None:
    """Raise TooLarge if the finest mesh would need more memory than the limit, bytes, before any field is solved in
    three dimensions. Raises NotConverged, or ValueError if it cannot be meshed."""
    layout = laid_out(case, support)
    plan = network(case, plan_mesh(layout, fineness))
    distance = reach(solve(plan))
    half = half_length(support, distance, layout.cover_radius)
    layers = layers_around(layout, support, half, distance, fineness)
    refuse_too_large(unknowns(plan, layers, support), limit, support.name, isinstance(support, Fitting))


def solve_level(
    case: Case,
    support: Interruption,
    fineness: float,
    limit: float = MEMORY_LIMIT,
    tell: Callable[[str], None] = lambda what: None,
    like: Level | None = None,
    allowed: Mapping[str, float] | None = None,
) -> Level:
    """All fields of a support on one mesh. Raises NotConverged, TooLarge, or ValueError if it cannot be meshed.

    like: a coarser mesh's answer, whose stretch of line is taken; allowed: by limit (wall_min, contents_min), the fall
    below the section's own that it allows, K.
    """
    plan = network(case, plan_mesh(laid_out(case, support), fineness))
    section = solve(plan)
    distance = reach(section) if like is None else like.line.reach
    line, maintained_section = _line(case, section, distance)
    length = None if like is None else float(like.layers.edge[-1])
    stands, alone, grid = _alone(section, support, line, length, limit, tell)
    length = float(stands.layers.edge[-1])
    if stands.geometry is not None and plan.bore is None:  # contents at a given temperature are no cells
        stands = around(plan.mesh, stands.layers, support, True)
    maintained_around = stands.network(maintained_section.network)
    with_contents_fixed = solve(
        maintained_around,
        maintained_around.spread(maintained_section.temperature),
        Multigrid(seconds=grid.seconds),
    )
    values = _values(case, line, length, section, with_contents_fixed, alone)
    values["far_end"] = _far_end(alone, section)
    if isinstance(support, Fitting):
        values = {path: value for path, value in values.items() if not path.startswith("leg_")}
        values["bare_loss"] = bare_loss(with_contents_fixed)
        values |= _covering(case, support, maintained_section.network, values, line, length)
    at_section = dict(quantities(section))
    trials = _trials(alone, at_section, values["dip"], grid)
    enough = _allowances(trials, at_section, values, heat(alone).tracers, allowed or {})
    values |= {name: allowance.length for name, allowance in enough.items()}
    installed = trials.solve(support.allowance) if support.allowance > 0 and case.tracers else None
    if installed is not None:
        with_it = _values(case, line, length, section, with_contents_fixed, installed)
        values |= {f"with_allowance.{name}": value for name, value in with_it.items() if name in values}
    less = _less_output(case, installed or alone, section, grid) if like is None else {}
    if installed is not None:
        less = {f"with_allowance.{name}": change for name, change in less.items()}
    return Level(
        stands.layers,
        section,
        alone,
        installed,
        line,
        values,
        grid.seconds,
        enough,
        less,
        on_mesh(stands.geometry),
        stands.geometry.cells if stands.geometry is not None else None,
    )


def _line(case: Case, section: Solution, distance: float) -> tuple[Line, Solution]:
    """The line without the support, and its section with contents held at the maintain temperature."""
    maintain, source = maintained(case, section)
    maintained_section = solve(network(maintained_case(case, maintain), section.network.mesh))
    condition = case.conditions[0]
    output = sum(float(tracer_watts(t, condition, maintain)) for t in case.tracers)
    loss = maintained_section.balance.through("cover", maintained_section.temperature)
    return Line(maintain, source, loss, output, distance), maintained_section


def _alone(
    section: Solution,
    support: Interruption,
    line: Line,
    given: float | None,
    limit: float,
    tell: Callable[[str], None],
) -> tuple[Around, Solution, Multigrid]:
    """The field without extra tracer, on a stretch so long that it ends as the section, and what solves more of it.

    given: the stretch's length, m, where it is known. Raises TooLarge.
    """
    plan, mesh, fitting = section.network, section.network.mesh, isinstance(support, Fitting)
    half = half_length(support, line.reach, mesh.layout.cover_radius)
    length = half if given is None else given
    while True:
        layers = layers_around(mesh.layout, support, length, line.reach, mesh.fineness)
        refuse_too_large(unknowns(plan, layers, support), limit, support.name, fitting)
        tell(f"{layers.count * mesh.cells} cells around {support.name}")
        grid = Multigrid()
        stands = around(mesh, layers, support, plan.bore is not None)
        net = stands.network(plan)
        alone = solve(net, net.spread(section.temperature), grid)
        wall = wall_band(alone).value.mean(axis=1)
        end = np.abs(wall[-1] - wall)
        at_rest = _far_end(alone, section) <= FAR_SHARE * max(float(end.max()), 0.02)
        repeated = not isinstance(support, Fitting) and support.spacing is not None
        if repeated or at_rest or length > 3 * half:
            return stands, alone, grid
        length *= 1.5


def _far_end(alone: Solution, section: Solution) -> float:
    """How far the wall at the end of the stretch is from the section's own, K."""
    return abs(float(wall_band(alone).value[-1].min()) - quantities(section)["wall.min"])


def _trials(alone: Solution, at_section: Mapping[str, float], dip: float, grid: Multigrid) -> Trials:
    """Lengths of extra tracer tried at the rows that an allowance is asked for. at_section: its quantities."""
    low = wall_band(alone).value.min(axis=1)
    near = low <= low.min() + (1.0 - NEAR_SHARE) * max(dip, 0.0)
    _, parts = judged_contents(at_section)
    points: dict[str, Callable[[Solution], Array]] = {
        "wall": lambda field: wall_band(field).value[near].ravel(),
        "contents": lambda field: contents_rows(field, *parts)[near],
    }
    return Trials(alone.network, alone, points, grid)


def _covering(
    case: Case,
    fitting: Fitting,
    plan: Network,
    values: Mapping[str, float],
    line: Line,
    length: float,
) -> dict[str, float]:
    """What covering the bare bodies with the line's own thickness saves, contents held, W; {} where none is bare."""
    closed = covered(case, fitting)
    if closed is None:
        return {}
    mesh = plan_mesh(laid_out(case, closed), plan.mesh.fineness)
    own_plan = network(plan.case, mesh)
    closed_section = solve(own_plan)
    half = max(length, half_length(closed, line.reach, mesh.layout.cover_radius))
    layers = layers_around(mesh.layout, closed, half, line.reach, mesh.fineness)
    net = around(mesh, layers, closed, True).network(own_plan)
    field = solve(net, net.spread(closed_section.temperature), Multigrid())
    loss = closed_section.balance.through("cover", closed_section.temperature)
    return {"covering_saves": values["heat_sink"] - (heat(field).out - 2 * half * loss)}


def _less_output(case: Case, built: Solution, section: Solution, grid: Multigrid) -> dict[str, float]:
    """Change of the coldest temperatures, K, with the share of output lost that the limits ask for; {} if none."""
    margin = case.limits.output_margin
    if margin is None:
        return {}
    changed = scaled_outputs(case, lambda tracer: 1.0 - margin)
    start, changed_dip = (
        dip_quantities(at, section)
        for at in (built, solve(replace(built.network, case=changed), built.temperature, grid))
    )
    return {name: changed_dip[name] - start[name] for name in COLDEST if name in start}


def _values(
    case: Case,
    line: Line,
    length: float,
    section: Solution,
    with_contents_fixed: Solution,
    field: Solution,
) -> dict[str, float]:
    """Numbers of a field around the support; what the field with its contents fixed drains is the same for all."""
    sink = heat(with_contents_fixed)
    drive = line.maintain - case.conditions[0].ambient
    drained = sink.out - 2 * length * line.loss
    nan = float("nan")
    values = {
        "heat_sink": drained,
        "chi": drained / drive if abs(drive) > 0.5 else nan,
        "equivalent_tracer_length": drained / line.output if line.output > 0 else nan,
        "equivalent_line_length": drained / line.loss if abs(line.loss) > 1e-9 else nan,
        "leg_heat_held": sink.leg,
    } | dip_quantities(field, section)
    values["closure"] = max(values["closure"], sink.closure)
    return values


def _allowances(
    trials: Trials,
    line: dict[str, float],
    values: dict[str, float],
    output: float,
    allowed: Mapping[str, float],
) -> dict[str, Enough]:
    """Extra tracer with which the coldest wall is the section's own, and with which each cold limit is just kept.

    allowed: fall below the section's own that a limit allows, K.
    """
    targets = {ENOUGH: ("wall", line["wall.min"])}
    for limit, fall in allowed.items():
        group, path = ("wall", "wall.min") if limit == "wall_min" else ("contents", judged_contents(line)[0])
        targets[FOR_LIMIT + limit] = (group, line[path] - fall)
    lengths = {}
    for name, (group, target) in targets.items():
        short = target - float(trials.read[0.0][group].min())
        fall = allowed.get(name.removeprefix(FOR_LIMIT), 0.0)
        if np.isnan(target):
            lengths[name] = Enough(float("nan"))
        elif fall < 0.0:
            lengths[name] = Enough(np.inf, f"the line away from the support is {-fall:.2g} K short itself")
        elif short <= SMALLEST:
            lengths[name] = Enough(0.0)
        elif not trials.network.case.tracers:
            lengths[name] = Enough(np.inf, "the line has no tracer")
        elif output <= 0.0:
            lengths[name] = Enough(np.inf, "no tracer is on")
        else:
            first = values["equivalent_tracer_length"]
            lengths[name] = trials.enough(group, target, first if first > 0.0 else 0.1)
    return lengths
