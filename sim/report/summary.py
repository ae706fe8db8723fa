"""The rows a reader needs first: one a condition, and the design's numbers beside the field's."""

from dataclasses import dataclass
from math import isfinite

from sim.judge.check import Answer, ConditionAnswer
from sim.report.words import NONE, ZERO, celsius, coldest_at, number, plain, signed
from sim.solve.convergence import Banded

STATED = ("heat_loss", "output", "margin", "sheath")  # numbers of the design that belong to one condition


@dataclass(frozen=True)
class ConditionRow:
    """One condition in ten seconds; every cell a text and a smaller text below it."""

    name: str
    contents: tuple[str, str]
    wall: tuple[str, str]
    sheath: tuple[str, str]
    loss: tuple[str, str]
    design_loss: tuple[str, str]
    verdict: str
    failure: str


@dataclass(frozen=True)
class BesideRow:
    """One quantity as the design states it, as the simplified method gives it, and as the field has it."""

    quantity: str
    stated: str
    simplified: str
    field: str
    from_stated: str
    from_simplified: str


def hottest_tracer(answer: ConditionAnswer) -> str | None:
    """Name of the tracer whose sheath is hottest; None without tracers or without a field."""
    if answer.result is None or not answer.case.tracers:
        return None
    result = answer.result
    return max((t.name for t in answer.case.tracers), key=lambda n: result.value(f"tracers.{n}.sheath_max"))


def condition_row(answer: ConditionAnswer, verdict: str) -> ConditionRow:
    """The ten-second row of a condition; verdict: with its supports."""
    simplified = answer.simplified
    pipe = f"pipe at {number(simplified.pipe_temperature - ZERO, 1)}"
    at_design = (
        NONE if answer.loss is None else plain(answer.loss),
        f"simplified {number(simplified.heat_loss)}, {pipe}",
    )
    if simplified.heat_loss <= 0.0:
        at_design = (NONE, f"none: {pipe}, ambient above")
    if answer.result is None:
        empty = (NONE, "")
        return ConditionRow(answer.name, empty, empty, empty, empty, at_design, verdict, answer.failure)
    values = answer.result.quantities
    part = "liquid" if "liquid.min" in values else "contents"
    at = coldest_at(values, part)
    isothermal = "" if isfinite(values[f"{part}.min"].value) else "adiabatic bore"
    where = isothermal or ("one temperature" if at == NONE else at)
    if part == "liquid":
        where = f"liquid, {where}"
    tracer = hottest_tracer(answer)
    return ConditionRow(
        answer.name,
        (celsius(values[f"{part}.min"]), where),
        (celsius(values["wall.min"]), coldest_at(values, "wall")),
        (celsius(values[f"tracers.{tracer}.sheath_max"]), tracer) if tracer else (NONE, "no tracer"),
        (plain(values["heat_out"]), f"wall mean {number(values['wall.mean'].value - ZERO, 1)}"),
        at_design,
        verdict,
        "",
    )


def stated_for(answer: Answer) -> dict[str, frozenset[str]]:
    """By condition, which of the design's numbers are stated for it.

    One that a condition gives itself is for that condition. Of the case's own, the sheath is for the condition in which
    the simplified method has the hottest sheath, all others for that of the lowest ambient.
    """
    overridden = {c.name: frozenset(c.overrides.get("design", {})) for c in answer.case.conditions}
    ambient = {c.name: c.ambient for c in answer.case.conditions}
    sheath = {
        c.name: max((t for t in c.simplified.sheath.values() if t), default=0.0) for c in answer.conditions
    }
    keys_of = {name: set(keys) for name, keys in overridden.items()}
    for key in STATED:
        free = [name for name in keys_of if key not in overridden[name]]
        if free:
            hottest = key == "sheath"
            keys_of[
                max(free, key=lambda n: sheath[n]) if hottest else min(free, key=lambda n: ambient[n])
            ].add(key)
    return {name: frozenset(keys) for name, keys in keys_of.items()}


def beside(answer: ConditionAnswer, stated: frozenset[str]) -> list[BesideRow]:
    """Design beside field for one condition; a row only where there is something to compare.

    stated: the design's numbers that are for this condition. Loss, output and margin are all at the simplified method's
    pipe temperature, and left out where the ambient is above it.
    """
    simplified, stated_design = answer.simplified, answer.case.design
    design = stated_design.model_copy(update={key: None for key in STATED if key not in stated})
    field = _field_numbers(answer)
    pipe = f"at {number(simplified.pipe_temperature - ZERO, 1)} degC"
    sheaths = [t for t in simplified.sheath.values() if t is not None]
    rows = []
    loses = simplified.heat_loss > 0.0
    if loses or design.heat_loss is not None:
        rows.append(
            _heat(f"heat loss {pipe}", design.heat_loss, simplified.heat_loss, field["loss"], answer.loss)
        )
    if answer.case.tracers:
        if loses or design.output is not None:
            rows.append(_heat(f"output {pipe}", design.output, simplified.tracer_output, None))
        if loses or design.margin is not None:
            losses = (simplified.heat_loss, field["loss"])
            margins = [
                simplified.tracer_output / q - 1.0 if q is not None and q > 0.0 else None for q in losses
            ]
            rows.append(_share(f"margin {pipe}", design.margin, *margins))
        rows.append(
            _temperature("sheath, tracers on", design.sheath, max(sheaths, default=None), field["sheath"])
        )
        settled = simplified.pipe_temperature_uncontrolled
        if answer.case.contents.state != "flowing":
            rows.append(_temperature("mean wall, tracers on", None, settled, field["wall"]))
    return [r for r in rows if (r.stated, r.simplified, r.field) != (NONE, NONE, NONE)]


def _field_numbers(answer: ConditionAnswer) -> dict[str, float | None]:
    """The field's loss at the simplified method's pipe temperature (W/m), hottest sheath and mean wall (K)."""
    if answer.result is None:
        return {"loss": None, "sheath": None, "wall": None}
    result = answer.result
    loss = None if answer.loss is None else answer.loss.value
    tracer = hottest_tracer(answer)
    sheath = result.value(f"tracers.{tracer}.sheath_max") if tracer else None
    return {"loss": loss, "sheath": sheath, "wall": result.value("wall.mean")}


def _part(value: float | None, base: float | None) -> str:
    if value is None or base is None or min(value, base) <= 0.0:
        return NONE
    return signed(100.0 * (value / base - 1.0), 1, "%")


def _heat(
    name: str, stated: float | None, simple: float | None, field: float | None, banded: Banded | None = None
) -> BesideRow:
    unit = f"{name}, W/m"
    shown = number(field) if banded is None else plain(banded)
    return BesideRow(unit, number(stated), number(simple), shown, _part(field, stated), _part(field, simple))


def _share(name: str, stated: float | None, simple: float | None, field: float | None) -> BesideRow:
    def text(share: float | None) -> str:
        return NONE if share is None else f"{100 * share:.0f} %"

    return BesideRow(name, text(stated), text(simple), text(field), NONE, NONE)


def _temperature(name: str, stated: float | None, simple: float | None, field: float | None) -> BesideRow:
    def less(base: float | None) -> str:
        return signed(field - base, 1, "K") if field is not None and base is not None else NONE

    def text(kelvin: float | None) -> str:
        return NONE if kelvin is None else number(kelvin - ZERO, 1)

    unit = f"{name}, degC"
    return BesideRow(unit, text(stated), text(simple), text(field), less(stated), less(simple))
