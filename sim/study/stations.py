"""What a line needs of the fields of its sections, elbows and supports, as plain numbers: pure functions of a case.

Of a section and of a bend: temperatures, heat a metre and how they go with the temperature along the line, from the
same mesh solved again with a tenth less output, or a kelvin less where the contents flow. Of a support: chi, its dips
and rises.
"""

from dataclasses import dataclass
from math import isfinite, nan

import numpy as np

from sim.case import Case, CaseError, Fitting, Support
from sim.heat.network import Network, network
from sim.heat.thin import left_out
from sim.heat.tracer import scaled_outputs, tracer_watts
from sim.judge.limits import BRACKET, STATES
from sim.judge.support import doubt_of, fineness_of, hollow_metal
from sim.section.shapes import Array
from sim.solve.at_rest import FINENESS, MeshStore, SectionResult
from sim.solve.bounds import with_contents
from sim.solve.elbow import bend_of, of_elbow, solve_elbow
from sim.solve.lift import Lift, solve_lift
from sim.solve.paths import coldest_contents
from sim.solve.quantities import quantities
from sim.solve.section import solve_section
from sim.solve.states import may_have_several
from sim.solve.steady import solve
from sim.solve.support_level import maintained_case
from sim.solve.support_meshes import solve_support

LESS, KELVIN = 0.1, 1.0  # of the outputs, of the stream, by which the section is solved again
WARMER = 20.0  # K between the two temperatures at which a support's sink is asked for
RISE = 10.0  # K over the ambient at which a section that nothing heats is asked for its loss
SECTION, BEND, LIFT = ":section", ":bend", ":lift"  # no name of a support or a fitting holds a colon
APART = ":"  # between the name of a support and its allowance, where that is not the case's own
SUPPORT = ("chi", "dip", "contents_dip", "wall_rise", "sheath_rise", "barrier_rise", "heat_sink")
HOTTEST = {"wall_max": "wall.max", "barrier_max": "barrier.max", "sheath_max": "tracers.{}.sheath_max"}
LESS_OUTPUT = {"wall": "wall_min", "contents": "contents_min"}
DOUBTS = ("", BRACKET, STATES, "something is too thin to mesh and left out; no pass is built on this")

Facts = dict[str, float]


@dataclass(frozen=True)
class Kind:
    """What is solved once: a case narrowed to one condition; SECTION, BEND, a lift as `what_of` has it, or the name of
    a support or fitting, with its allowance after APART where that is not the case's own."""

    case: Case
    what: str
    fineness: float = FINENESS


def facts(kind: Kind) -> Facts:
    """The numbers of one kind. Raises NotConverged, ValueError, CaseError."""
    if kind.what == SECTION:
        return _section(kind.case, solve_section(kind.case, MeshStore(), kind.fineness))
    if kind.what == BEND:
        result = solve_elbow(kind.case, MeshStore(), kind.fineness)
        bend, known = of_elbow(result), _section(kind.case, result)
        lengths = [q.value for path, q in bend.items() if path.startswith("per_radian.tracer.")]
        return known | {
            "radius": bend_of(kind.case).radius,
            "tracer": sum(lengths) / bend_of(kind.case).radius,
        }
    return _support(kind)


def _support(kind: Kind) -> Facts:
    """Numbers of a support or fitting: chi, dips and rises with the tracer alone and as installed."""
    if kind.what.startswith(LIFT):
        return _lift(kind)
    name, _, allowance = kind.what.partition(APART)
    support = next(one for one in kind.case.interruptions if one.name == name)
    if allowance:
        support = support.model_copy(update={"allowance": float(allowance)})
    result = solve_support(kind.case, support, fineness_of(kind.fineness / FINENESS))
    values = result.quantities
    doubt = doubt_of(result)
    known = {"doubt": float(DOUBTS.index(doubt) if doubt in DOUBTS else len(DOUBTS) - 1)}
    known["drains_to"] = kind.case.conditions[0].ambient
    for path in SUPPORT:
        of = "liquid_dip" if path == "contents_dip" and "liquid_dip" in values else path
        if of in values:
            for before, banded in (
                ("", values[of]),
                ("installed_", values.get(f"with_allowance.{of}", values[of])),
            ):
                known[f"{before}{path}"], known[f"{before}{path}_band"] = banded.value, banded.band
    if _drains_elsewhere(kind.case, support) or not isfinite(known["chi"]):
        known |= _sink(kind, support, result.line.maintain, known["heat_sink"])
    if isfinite(hollow_metal(result, False)):
        for before in ("", "installed_"):
            metal = hollow_metal(result, before != "" and result.installed is not None)
            known[f"{before}hollow_dip"] = result.section_wall[0] - metal
    built = "" if result.installed is None else "with_allowance."
    for part, path in LESS_OUTPUT.items():
        of = "liquid_min" if part == "contents" and "liquid_dip" in values else path
        known[f"less_{part}"] = result.less_output.get(f"{built}{of}", 0.0)
    return known


def _drains_elsewhere(case: Case, support: Support | Fitting) -> bool:
    """Whether not all that a support drains goes to the ambient temperature: steelwork of another, sun or sky."""
    condition = case.conditions[0]
    if isinstance(support, Fitting):
        return condition.sun is not None or condition.sky is not None
    leg = support.leg
    return leg is not None and leg.end == "held" and leg.end_temperature not in (None, condition.ambient)


def _sink(kind: Kind, support: Support | Fitting, maintain: float, drained: float) -> Facts:
    """Conductance of a support and the temperature that it drains to, from its heat sink at two temperatures."""
    design = kind.case.design.model_copy(update={"maintain": maintain + WARMER})
    case = kind.case.model_copy(update={"design": design})
    other = solve_support(case, support, fineness_of(kind.fineness / FINENESS))
    chi = (other.quantities["heat_sink"].value - drained) / WARMER
    return {"chi": chi, "drains_to": maintain - drained / chi}


def what_of(lift: Lift) -> str:
    """A lift as a kind has it."""
    return APART.join([LIFT, lift.tracer, *(repr(x) for x in (lift.height, lift.spacing, lift.band))])


def _lift(kind: Kind) -> Facts:
    """What a lift of a tracer changes: no sink, but dips and rises."""
    tracer, height, spacing, band = kind.what.removeprefix(LIFT + APART).split(APART)
    lift = Lift(tracer, float(height), float(spacing), float(band))
    doubt = 2.0 if may_have_several(kind.case) else 0.0
    known = {"chi": 0.0, "drains_to": kind.case.conditions[0].ambient, "doubt": doubt}
    for path, banded in solve_lift(kind.case, lift, fineness_of(kind.fineness / FINENESS)).items():
        for before in ("", "installed_"):
            known[f"{before}{path}"], known[f"{before}{path}_band"] = banded.value, banded.band
    return known


def _section(case: Case, result: SectionResult) -> Facts:
    """Numbers of a section, or of a bend for a metre of its axis. Temperatures in K, heat in W/m.

    level: the temperature that the line's is told by, of the stream where the contents flow, else the wall's mean;
    beneath_, heat_: of each tracer by its number, the wall beneath it and its heat;
    loss, output, from_contents at it; loss_slope, output_slope: W/m/K by it, barrier_slope: of the hottest outside by
    it; along: kA, W m/K; stream: C, W/K; less_: change with less of the output by the margin that the limits ask for;
    doubt: why no pass is built on it, in DOUBTS.
    """
    solution = result.solution
    net, balance = solution.network, solution.balance
    flows = case.contents.state == "flowing"
    values = {path: banded.value for path, banded in result.quantities.items()}
    bands = {path: banded.band for path, banded in result.quantities.items()}
    coldest = coldest_contents(values)
    level = float(case.contents.temperature or nan) if flows else values["wall.mean"]
    powered = float(balance.heat.sum()) > 0.0
    changed, shift = _changed(case, flows, powered)
    other = solve(network(changed, net.mesh))
    there = dict(quantities(other))
    base = quantities(solve(network(case, net.mesh))) if case.contents.state == "buoyant" else values
    after = shift if flows or not powered else there["wall.mean"]
    before = level if flows or powered else case.conditions[0].ambient
    before = float(base["wall.mean"]) if powered and not flows else before
    lost = float(base["heat_out"])
    hottest = _hottest(case, result)
    beneath = net.beneath @ solution.temperature
    outside = (there["barrier.max"] - float(base["barrier.max"])) / (after - before)
    return (
        hottest
        | _less_output(case, net, coldest)
        | {f"beneath_{i}": float(wall) for i, wall in enumerate(beneath)}
        | {f"heat_{i}": float(heat) for i, heat in enumerate(balance.heat)}
        | {
            "level": level,
            "wall_min": values["wall.min"],
            "wall_min_band": bands["wall.min"],
            "contents_min": values[coldest],
            "contents_min_band": bands[coldest] if isfinite(values[coldest]) else nan,
            "loss": values["heat_out"],
            "output": float(balance.heat.sum()),
            "from_contents": values["from_contents"],
            "loss_slope": (there["heat_out"] - lost) / (after - before),
            "output_slope": float(balance.heat_slope.sum()),
            "barrier_slope": outside,
            "along": _along(net, solution.conductivity, level),
            "stream": _stream(case, net) if flows else 0.0,
            "ambient": case.conditions[0].ambient,
            "liquid": float("liquid.min" in values),
            "doubt": float(_doubt(result)),
            "tracer": float(len(case.tracers)),
        }
    )


def output_at(case: Case, facts: Facts, shift: Array) -> Array:
    """Output of all tracers where the line is warmer by a shift than the section whose facts these are, W/m."""
    total, condition = np.full(np.shape(shift), facts["output"]), case.conditions[0]
    for i, tracer in enumerate(case.tracers):
        wall, heat = facts[f"beneath_{i}"], facts[f"heat_{i}"]
        watts = float(tracer_watts(tracer, condition, wall))
        # of a bend's outside or inside a metre of axis has more or less of the tracer than a metre
        share = heat / watts if watts > 0.0 else 1.0
        total = total + share * (tracer_watts(tracer, condition, wall + np.asarray(shift)) - watts)
    return np.asarray(total)


def _hottest(case: Case, result: SectionResult) -> Facts:
    """Hottest wall, outside surface and, with tracers, sheath, each with its band, K."""
    known: Facts = {}
    for name, path in HOTTEST.items():
        paths = [path.format(tracer.name) for tracer in case.tracers] if "{" in path else [path]
        if paths:
            most = max((result.quantities[one] for one in paths), key=lambda one: one.value)
            known |= {name: most.value, f"{name}_band": most.band}
    return known


def _less_output(case: Case, net: Network, coldest: str) -> Facts:
    """Change of the coldest wall and contents with the share of output lost that the limits ask for, K; 0 if none."""
    margin = case.limits.output_margin
    if margin is None or not case.tracers:
        return {f"less_{part}": 0.0 for part in LESS_OUTPUT}
    still = case
    if case.contents.state == "buoyant":  # as the section's own margins take it
        still = with_contents(case, state="still")

    def at(share: float) -> dict[str, float]:
        return dict(quantities(solve(network(scaled_outputs(still, lambda _: 1 - share), net.mesh))))

    full, less = at(0.0), at(margin)
    paths = {"wall": "wall.min", "contents": coldest}
    return {f"less_{part}": less[path] - full[path] for part, path in paths.items()}


def _doubt(result: SectionResult) -> int:
    """Why no pass is built on a section's numbers, as a number in DOUBTS."""
    if left_out(result.case, result.solution.network.mesh):
        return 3
    if result.bracketed:
        return 1
    return 0 if result.complete and not result.further else 2


def _changed(case: Case, flows: bool, powered: bool) -> tuple[Case, float]:
    """A case near this one, and the temperature that is given in it, K."""
    if flows:
        at = float(case.contents.temperature or nan) - KELVIN
        return with_contents(case, temperature=at), at
    if powered:
        return scaled_outputs(case, lambda _: 1 - LESS), nan
    at = case.conditions[0].ambient + RISE
    return maintained_case(case, at), at


def _along(net: Network, conductivity: np.ndarray, level: float) -> float:
    """Conductance along the pipe times length of its wall and contents, W m/K."""
    mesh, contents = net.mesh, net.case.contents
    inside = net.cell_node >= 0
    wall = mesh.of_kind("wall")
    along = float((conductivity * mesh.cell_area)[wall].sum())
    for part, fluid in (("liquid", contents.fluid), ("gas", contents.gas)):
        in_part = mesh.of_kind(part)
        if contents.state == "empty":
            fluid = contents.gas
        resolved = in_part & inside
        along += float((conductivity * mesh.cell_area)[resolved].sum())
        along += float(mesh.cell_area[in_part & ~inside].sum()) * float(fluid.conductivity(level))
    return along


def _stream(case: Case, net: Network) -> float:
    """Heat capacity of the flow a second, W/K."""
    contents = case.contents
    if not contents.velocity:
        raise CaseError(
            "is missing: the temperature of a stream falls along the line with its velocity; accepted: a velocity",
            key="contents.velocity",
        )
    at = float(contents.temperature or nan)
    area = float(net.mesh.cell_area[net.mesh.of_kind("liquid")].sum())
    return (
        float(contents.fluid.density(at)) * float(contents.fluid.specific_heat(at)) * contents.velocity * area
    )
