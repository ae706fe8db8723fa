"""What the usual uncertainty of the inputs is worth beside each margin, and margins that the case asks for.

Each input is changed alone by its usual uncertainty and the section solved again on the coarsest of its meshes, from
the field that is there; the difference of two fields on one mesh is far nearer than either. How uncertain an input
usually is: common practice, no source. Where a case states a tolerance of the output it is taken instead.
"""

from dataclasses import dataclass, replace
from typing import ClassVar

from sim.case import Case, Limits
from sim.heat.bore import bore_coefficient
from sim.heat.network import Network, network
from sim.heat.thin import lost_layers
from sim.heat.tracer import scaled_outputs
from sim.judge.field_notes import with_ice
from sim.judge.limits import LimitCheck, both, check_limits, verdict_of, worst
from sim.judge.support import SupportAnswer
from sim.solve.at_rest import MeshStore, SectionResult, carried, levels_of
from sim.solve.balance import Balance
from sim.solve.direct import Direct
from sim.solve.measures import LIMITS
from sim.solve.paths import limited, of_moments
from sim.solve.quantities import quantities
from sim.solve.steady import NotConverged, solve

CONDUCTIVITY = 0.2  # of the insulation: ageing, joints, moisture, how it was laid
OUTPUT = 0.1  # of a tracer whose case states no tolerance
SUN = 0.2  # of the sun's heat: dirt and age of the surface, haze
WIND, STILL_AIR = 0.5, 1.0  # of the wind's speed; m/s that still air may be instead
COEFFICIENT = 0.3  # of a film coefficient given for the outside
HALF = 0.5  # of a contact's or a bore film's coefficient
SEVERAL = "not evaluated: the line has several steady states"
UNSETTLED = "not evaluated: a changed field did not converge"


@dataclass(frozen=True)
class Input:
    """One input by its usual uncertainty: words, the changed case, and whether it may as well go the other way.

    joints: whether the change is in the network's joints, which are then built anew, not only in what it reads of the
    case at every step.
    """

    words: str
    changed: Case
    either_way: bool
    joints: bool = False


@dataclass(frozen=True)
class Sensitivity:
    """Changes of the quantities that have a limit, K by path, for each input and for the output margin asked for.

    missing: why there are none.
    """

    changes: tuple[tuple[Input, dict[str, float]], ...] = ()
    less_output: dict[str, float] | None = None
    missing: str = ""


NO_CHANGES = Sensitivity()


class _Kept(Direct):
    """The direct solver for fields near each other: one factor for all of them while it serves."""

    tolerance: ClassVar[float] = 1e-7

    def prepare(self, network: Network, balance: Balance, anew: bool) -> None:
        """Factor the matrix of the joints, unless there is a factor that has not failed yet."""
        if anew or self.factor is None:
            super().prepare(network, balance, anew)


def usual_inputs(case: Case) -> list[Input]:
    """The inputs that are usually uncertain, of a case narrowed to one condition.

    Not among them: ambient, supply and sizes, which a condition states on purpose.
    """
    condition, contents = case.conditions[0], case.contents
    inputs = []
    if case.insulation.layers:
        words = f"insulation conductivity {100 * CONDUCTIVITY:.0f} %"
        inputs.append(Input(words, _conductivity(case, 1 + CONDUCTIVITY), True))
    powered = [t for t in case.tracers if t.on] if condition.supply > 0 else []
    if powered and condition.output == "nominal":
        share = {t.name: t.tolerance or OUTPUT for t in powered}
        sizes = " or ".join(f"{100 * s:g} %" for s in sorted(set(share.values())))
        stated = all(t.tolerance for t in powered)
        words = f"output {sizes} ({'its tolerance' if stated else 'assumed'})"
        inputs.append(Input(words, scaled_outputs(case, lambda t: 1 - share.get(t.name, 0.0)), True))
    if powered:
        halved = tuple(
            t.model_copy(update={"contact_conductance": HALF * t.contact_conductance}) for t in case.tracers
        )
        changed = case.model_copy(update={"tracers": halved})
        inputs.append(Input("tracer contact halved", changed, False, joints=True))
    coefficient = case.outside.coefficient
    if coefficient is not None:
        changed = _with(case, "outside", coefficient=(1 + COEFFICIENT) * coefficient)
        inputs.append(Input(f"outside coefficient {100 * COEFFICIENT:.0f} %", changed, True))
    else:
        wind = (1 + WIND) * condition.wind or STILL_AIR
        blown = (condition.model_copy(update={"wind": wind}),)
        words = f"wind {100 * WIND:.0f} %" if condition.wind else f"{STILL_AIR:g} m/s of wind in still air"
        inputs.append(Input(words, case.model_copy(update={"conditions": blown}), condition.wind > 0))
    if condition.sun is not None:
        more = condition.sun.model_copy(update={"absorptivity": (1 + SUN) * condition.sun.absorptivity})
        shone = (condition.model_copy(update={"sun": more}),)
        inputs.append(Input(f"sun {100 * SUN:.0f} %", case.model_copy(update={"conditions": shone}), True))
    if contents.state in ("flowing", "mixed", "empty") and contents.film_coefficient != 0:
        gas = contents.state == "empty"
        film, _ = bore_coefficient(contents, 2 * case.pipe.inner_radius, "gas" if gas else "liquid")
        changed = _with(case, "contents", film_coefficient=HALF * film)
        inputs.append(Input("film in the bore halved", changed, False, joints=True))
    return inputs


def sensitivity(
    case: Case, meshes: MeshStore, result: SectionResult, fineness: float, *, inputs: bool = True
) -> Sensitivity:
    """Every usual input changed alone, about a section's field, and less output where an output margin is asked for.

    Contents that move are taken at rest for it. inputs: false leaves out the usual inputs.
    """
    margin = case.limits.output_margin
    if not inputs and margin is None:
        return NO_CHANGES
    if all(getattr(case.limits, name) is None for name in LIMITS):
        return NO_CHANGES
    if result.further or not result.complete:
        return Sensitivity(missing=SEVERAL)
    if case.contents.state == "buoyant":
        case = _with(case, "contents", state="still")
    if result.coarse is not None:
        net, guess = result.coarse.network, result.coarse.temperature
    else:
        net = network(case, meshes.get(case, levels_of(fineness)[0]))
        guess = carried(result.solution.network, result.solution.temperature, net)
    mesh = net.mesh
    try:
        base = solve(net, guess, _Kept())
        start = dict(quantities(base))
        rows = [row.path for _, row in limited(start)]

        meshes_kept, thin = _Kept(), bool(lost_layers(mesh))

        def change(changed: Case, joints: bool) -> dict[str, float]:
            there = network(changed, mesh) if joints or thin else replace(net, case=changed)
            values = quantities(solve(there, base.temperature, meshes_kept))
            return {path: values[path] - start[path] for path in rows}

        changes = tuple(
            (one, change(one.changed, one.joints)) for one in (usual_inputs(case) if inputs else ())
        )
        less = None if margin is None else change(scaled_outputs(case, lambda t: 1 - margin), joints=False)
    except NotConverged:
        return Sensitivity(missing=UNSETTLED)
    return Sensitivity(changes, less)


def section_limits(result: SectionResult, known: Sensitivity) -> tuple[LimitCheck, ...]:
    """Every limit held against a section's field, or a bend's, with all that the case asks for besides."""
    case = result.case
    return with_ice(with_confidence(check_limits(result), known, case.limits), case, result.ends)


def with_confidence(
    checks: tuple[LimitCheck, ...], known: Sensitivity, limits: Limits, section: bool = True
) -> tuple[LimitCheck, ...]:
    """Limits with what the inputs are worth beside each margin, and held with the output margin that is asked for.

    At a support (section false) what the inputs are worth is that of the section's own quantity with the same limit;
    less output is the support's own field.
    """
    return tuple(_judged(check, known, limits, section) for check in checks)


def _judged(check: LimitCheck, known: Sensitivity, limits: Limits, section: bool) -> LimitCheck:
    sign, margin = LIMITS[check.limit].sign, limits.output_margin
    if not check.quantity:
        return check
    worth = []
    for one, by_path in known.changes:
        harm = -sign * _change(by_path, check, section)
        worth.append((one.words, abs(harm) if one.either_way else max(harm, 0.0)))
    check = replace(check, inputs=tuple(worth))
    if margin is None or sign < 0:
        return check
    if known.less_output is None:
        note = both(check.note, f"output margin {known.missing}")
        if check.verdict != "pass":
            return replace(check, note=note)
        return replace(check, verdict="not evaluated", note=note, spare=float("nan"))
    left = check.margin + known.less_output[of_moments(check.quantity)]
    note = f"with {100 * margin:g} % less output the margin is {left:+.2f} K"
    spare = min(check.spare, left - (limits.margin or 0.0))
    verdict = worst([check.verdict, verdict_of(spare, check.band)])
    return replace(check, verdict=verdict, note=both(check.note, note), spare=spare)


def _change(by_path: dict[str, float], check: LimitCheck, section: bool) -> float:
    if section:
        return by_path[of_moments(check.quantity)]
    same = [by_path[row.path] for limit, row in limited(by_path) if limit.name == check.limit]
    return max(same, key=abs, default=0.0)


def support_with_inputs(answer: SupportAnswer, limits: Limits, known: Sensitivity) -> SupportAnswer:
    """A support's limits with what the inputs are worth in the section, and with the output margin asked for."""
    if answer.result is None:
        return answer
    here = replace(known, less_output=answer.result.less_output) if known.less_output is not None else known
    checks = with_confidence(answer.limits, here, limits, section=False)
    return replace(answer, limits=checks)


def doubt_note(checks: tuple[LimitCheck, ...]) -> str:
    """A sentence where a limit is held by less than the inputs are worth; "" where none is."""
    near = [check for check in checks if check.verdict == "pass" and check.margin < check.worth]
    if not near:
        return ""
    least = min(near, key=lambda check: check.margin - check.worth)
    parts = ", ".join(f"{words} {worth:.1f} K" for words, worth in least.inputs if worth >= 0.05)
    met = ", ".join(dict.fromkeys(check.words for check in near))
    return (
        f"the limit {met} is met by less than the usual uncertainty of the inputs is worth "
        f"({least.words}: {parts}; together {least.worth:.1f} K, the root of the sum of squares)"
    )


def _conductivity(case: Case, factor: float) -> Case:
    layers = []
    for layer in case.insulation.layers:
        curve, wet = layer.conductivity, layer.wet
        assert curve is not None
        scaled = replace(curve, values=tuple(factor * v for v in curve.values))
        update: dict[str, object] = {"conductivity": scaled}
        if wet is not None and wet.conductivity is not None:
            update["wet"] = wet.model_copy(update={"conductivity": factor * wet.conductivity})
        layers.append(layer.model_copy(update=update))
    return _with(case, "insulation", layers=tuple(layers))


def _with(case: Case, table: str, **values: object) -> Case:
    return case.model_copy(update={table: getattr(case, table).model_copy(update=values)})
