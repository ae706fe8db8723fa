"""What the temperatures of a section cannot pass, however its contents move.

A plane flow makes no heat: beside a wall at rest in time, steady or on average, wall place i gives the contents
sum_j a_ij (T_i - T_j) with a_ij >= 0 and equal sums over rows and columns. What such an exchange gives to all wall
that is colder than any one temperature is never negative (rearrangement inequality and Birkhoff's theorem). On a pipe
of even wall and even loss, heat that flows along the wall into the part colder than T, through its two ends, is then at
most what that part loses. With s the length of wall colder than T this gives, for the integral V(s) of the excess over
the ambient, V'' <= c V - (heat of the tracers there); with an adiabatic bore and all heat in one place it is an
equation. Both V end at the same heat, so the coldest wall of any flow is no colder than that of an adiabatic bore whose
tracers are all gathered in one place, and the hottest no hotter (comparison by symmetrisation, after Talenti 1976, from
memory). The argument is for a thin wall; `tests/solve/test_bounds.py` puts random exchanges into resolved walls.

With several tracers apart the adiabatic bore itself is no bound: contents may carry the heat of one to where it does
the coldest place no good. So the heat of all is gathered at each of them in turn: a field is a mean of those in which
all heat comes from one of them, weighted by their heat. Outputs that fall with the wall's temperature are gathered
with it: no wall is hotter than the gathered one's, so none gives less there, and with as much heat none is as cold.
For the hottest they give what they would at the coldest wall there may be.
"""

from collections.abc import Callable, Mapping

import numpy as np

from sim.case import Case, Output
from sim.case.clock_face import clock_to_angle
from sim.heat.network import clocks
from sim.heat.tracer import tracer_watts
from sim.solve.at_rest import MeshStore, SectionResult, solve_at_rest
from sim.solve.paths import limited
from sim.solve.quantities import boundary, quantities, region_mask
from sim.solve.states import may_have_several
from sim.solve.steady import Solution

LOW = -0.5 + 1e-9  # height of a tracer over the pipe's axis, as a part of its radius: at 4 and 8 o'clock


def with_contents(case: Case, **changes: object) -> Case:
    """The narrowed case with other contents."""
    return case.model_copy(update={"contents": case.contents.model_copy(update=changes)})


def touching(solution: Solution) -> Mapping[str, float]:
    """The quantities; extremes of contents that are lumped, or none, are those of the bore's wall that they touch.

    Moving contents are nowhere colder or hotter than that wall. An adiabatic bore is taken to touch all of it.
    """
    values, layout = dict(quantities(solution)), solution.network.mesh.layout
    ring = boundary(solution, region_mask(solution, "wall"))
    bore = np.hypot(*ring.point.T) < 0.5 * (layout.inner_radius + layout.outer_radius)
    wet = ring.point[:, 1] < layout.level
    adiabatic = np.isnan(values["contents.mean"])
    for part, touched in (("contents", bore), ("liquid", bore & wet), ("gas", bore & ~wet)):
        touched = bore if adiabatic else touched
        if f"{part}.mean" in values and touched.any():
            value, clock = ring.temperature[touched], clocks(ring.point[touched])
            for end, at in (("min", int(np.argmin(value))), ("max", int(np.argmax(value)))):
                values[f"{part}.{end}"] = float(value[at])
                if f"{part}.{end}_clock" in values:
                    values[f"{part}.{end}_clock"] = float(clock[at])
    return values


def insulated(
    case: Case, store: MeshStore, fineness: float, progress: Callable[[str], None] | None = None
) -> SectionResult:
    """The section with an adiabatic bore; its contents' extremes are those of the bore's wall.

    Raises NotConverged as `solve_at_rest` does.
    """
    bare = with_contents(case, state="empty", film_coefficient=0.0)
    return solve_at_rest(bare, store, fineness, progress, touching)


def heated_low(case: Case) -> bool:
    """Whether every powered tracer lies from 4 to 8 o'clock: the contents are stirred and do not settle in layers."""
    return all(np.cos(clock_to_angle(t.clock)) <= LOW for t in case.tracers if t.on)


def uneven(case: Case) -> str:
    """Why the argument above does not hold for a case narrowed to one condition, or ""."""
    condition, wind = case.conditions[0], case.outside.coefficient is None
    if case.insulation.fit == "oversize":
        return "the shell hangs off centre"
    if any(layer.wet is not None for layer in case.insulation.layers):
        return "the insulation is wet over a sector"
    if wind and condition.wind_from is not None and condition.wind > 0:
        return "the wind comes from one side"
    if condition.sun is not None or condition.sky is not None:
        return "sun or sky act on one side"
    return ""


def ends(
    case: Case,
    bare: SectionResult,
    store: MeshStore,
    fineness: float,
    progress: Callable[[str], None] | None = None,
) -> dict[str, float]:
    """What no flow passes, K by path of the quantities with a limit: least of the coldest, most of the hottest.

    bare: the case with an adiabatic bore. Empty where the argument does not hold (an output rises with temperature), or
    where less output is to be tried (whose ends are others). Raises NotConverged.
    """
    if uneven(case) or case.limits.output_margin is not None or may_have_several(case):
        return {}
    powered = [t for t in case.tracers if t.on]

    def gathered(output: Output) -> dict[str, SectionResult]:
        return {t.name: insulated(_given(case, t.name, output), store, fineness, progress) for t in powered}

    cold = hot = {t.name: bare for t in powered} or {"": bare}
    if len(powered) > 1:
        cold = hot = gathered(_together(case))
        if any(t.output.kind == "table" for t in powered):
            coldest = min(f.value("wall.min") - f.quantities["wall.min"].band for f in cold.values())
            hot = gathered(_fixed(sum(float(tracer_watts(t, case.conditions[0], coldest)) for t in powered)))
    extremes: dict[str, float] = {}
    for limit, row in limited(bare.quantities):
        each = []
        for name, there in (cold if limit.sign > 0 else hot).items():
            # a tracer that gives none of the heat may lie where the wall is hottest
            paths = [row.path, *(["wall.max"] if limit.name == "sheath_max" and name != row.name else [])]
            each += [limit.sign * there.value(p) - there.quantities[p].band for p in paths]
        extremes[row.path] = limit.sign * min(each)
    if "contents.min" in extremes:
        extremes["liquid.min"] = extremes["contents.min"]
    return extremes


def _together(case: Case) -> Output:
    """The outputs of all tracers as one, over the temperature of one wall."""
    condition, powered = case.conditions[0], [t for t in case.tracers if t.on]
    kelvin = sorted({kelvin for t in powered for kelvin in t.output.temperatures})
    at = np.array(kelvin or [condition.ambient])
    watts = np.sum([tracer_watts(t, condition, at) for t in powered], axis=0)
    if not kelvin:
        return _fixed(float(watts[0]))
    table = tuple(zip(kelvin, watts.tolist(), strict=True))
    return Output.model_construct(power=None, at=table, voltage_exponent=0.0)


def _fixed(heat: float) -> Output:
    return Output.model_construct(power=heat, at=None, voltage_exponent=0.0)


def _given(case: Case, name: str, output: Output) -> Case:
    """The case with an output from one tracer and none from the others."""
    tracers = tuple(
        t.model_copy(update={"on": t.name == name, "output": output, "tolerance": 0.0}) for t in case.tracers
    )
    return case.model_copy(update={"tracers": tracers})
