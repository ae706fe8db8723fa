"""Keys that are given and do nothing: each key of the schema that acts only in some states, and where it acts.

A key that is not in `RULES` acts in every case that may have it (or is refused where it does not), is a name or a
source, is set beside the field as it stands (`design`), or says that it matters only over time.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from .case import Case
from .errors import CaseError, join_key
from .fields import Table
from .materials import Fluid
from .resolve import written
from .series import Series
from .support import FULL


@dataclass(frozen=True)
class Rule:
    """Where a key acts: of a case narrowed to one condition and the table that holds the key; `only` in words.

    Where `refused`, a case in which it acts in no condition is refused, as an unknown key is; else it is noted.
    """

    key: str
    acts: Callable[[Case, Any], bool]
    only: str
    refused: bool = False


@dataclass(frozen=True)
class Silent:
    """A key that does nothing: as in the file, the condition that sets it ("" for the case's own), the rule."""

    key: str
    condition: str
    rule: Rule

    @property
    def message(self) -> str:
        return f"has no effect: it acts only {self.rule.only}"


def _state(*states: str) -> Callable[[Case, Any], bool]:
    return lambda case, _: case.contents.state in states


def _gas(case: Case, _: Any = None) -> bool:
    return case.contents.state == "empty" or case.contents.fill < 1.0


def _cells(case: Case) -> bool:
    """Whether the contents are resolved, and not one temperature."""
    return case.contents.state in ("still", "buoyant")


def _fluid(case: Case, _: Any) -> bool:
    contents = case.contents
    if contents.state == "empty" or contents.fill == 0.0:
        return False
    if contents.state == "flowing":
        return contents.film_coefficient is None
    return _cells(case) or bool(case.interruptions)


def _voids(case: Case, _: Any = None) -> bool:
    fit = case.insulation.fit
    return fit == "oversize" or any(fit == "bridged" or t.standoff > 0.0 for t in case.tracers)


def _film_outside(case: Case, _: Any = None) -> bool:
    return case.outside.coefficient is None


def _legs(case: Case) -> bool:
    return any(s.leg is not None and s.leg.film_coefficient is None for s in case.supports)


def _powered(case: Case, by: Callable[[Any], bool]) -> bool:
    return any(tracer.on and by(tracer) for tracer in case.tracers)


def _pressed(_: Case, tracer: Any) -> bool:
    return tracer.standoff == 0.0


def _beside_barrier(case: Case, support: Any) -> bool:
    return case.barrier is not None and support.leg is not None


def _heat_leaves(case: Case, _: Any = None) -> bool:
    return case.outside.coefficient != 0.0


def _voltage(case: Case, holder: Any) -> bool:
    """Whether a supply over time, or from a jump on, moves any tracer's output."""
    supply = holder.supply
    lost = 0.0 in (supply.values if isinstance(supply, Series) else (supply,))
    return _powered(case, lambda t: lost or t.output.voltage_exponent > 0.0)


def _no_ring(_: Case, part: Any) -> bool:
    return part.clock == 6.0 or part.arc < FULL - 0.02


def _of_family(_: Case, fitting: Any) -> bool:
    return "body" not in fitting.model_fields_set


NOTHING = object()
# (key of an episode, of a jump in it and of a condition, where it acts, in words, whether it is refused elsewhere)
OVER_TIME = (
    ("wind", lambda c, _: _film_outside(c) or _legs(c), "without outside.coefficient", False),
    ("wind_from", lambda c, _: _film_outside(c), "without outside.coefficient", False),
    (
        "sun",
        _heat_leaves,
        "where heat can leave the surface: with an outside.coefficient above 0, or without one",
        True,
    ),
    ("sky", _film_outside, "without outside.coefficient, which holds the radiation", True),
    ("contents_temperature", lambda c, _: c.contents.state == "flowing", "on flowing contents", True),
    ("supply", _voltage, "on tracers whose output depends on the voltage, or where it falls to 0", False),
    (
        "output",
        lambda c, _: _powered(c, lambda t: t.tolerance > 0.0),
        "on tracers that state a tolerance",
        False,
    ),
)
CONDITION = "condition "
FLOWING = "on flowing contents"
RULES = (
    Rule(
        "contents.fluid",
        _fluid,
        "on still, buoyant or flowing contents (without a film_coefficient), or along the bore at a support or fitting",
    ),
    Rule(
        "contents.gas",
        lambda c, _: _gas(c) and (_cells(c) or bool(c.interruptions)),
        "above a level in still or buoyant contents, or along the bore at a support or fitting",
    ),
    Rule("contents.fill", lambda c, _: c.contents.state != "empty", 'where the state is not "empty"'),
    Rule("contents.temperature", _state("flowing"), FLOWING, refused=True),
    Rule("contents.velocity", _state("flowing"), FLOWING, refused=True),
    Rule("contents.velocity", lambda c, _: c.contents.film_coefficient is None, "without a film_coefficient"),
    Rule(
        "contents.film_coefficient",
        lambda c, _: c.contents.state != "still",
        "on flowing, mixed or empty contents",
        refused=True,
    ),
    Rule(
        "contents.film_coefficient",
        lambda c, _: c.contents.state != "buoyant" or bool(c.interruptions),
        "on flowing, mixed or empty contents",
    ),
    Rule("contents.average", _state("buoyant"), "on buoyant contents"),
    *(
        Rule(
            f"contents.average_{key}",
            lambda c, _: c.contents.state == "buoyant" and c.contents.average,
            "on buoyant contents with average = true",
        )
        for key in ("holds", "within")
    ),
    Rule(
        "contents.emissivity",
        lambda c, _: _gas(c) and not _cells(c) and c.contents.film_coefficient != 0.0,
        "where there is gas in the bore of flowing, mixed or empty contents",
    ),
    Rule(
        "tracer.tolerance",
        lambda c, t: t.on and c.conditions[0].output != "nominal",
        "with output low or high",
    ),
    Rule(
        "tracer.output.voltage_exponent",
        lambda c, o: o.voltage_exponent == 0.0 or 0.0 < c.conditions[0].supply != 1.0,
        "at a supply other than 1",
    ),
    Rule("tracer.contact_width", _pressed, "without a standoff"),
    Rule("tracer.contact_conductance", _pressed, "without a standoff"),
    Rule(
        "insulation.fit",
        lambda c, i: i.fit != "bridged" or any(t.standoff == 0.0 for t in c.tracers),
        "beside a tracer that is not lifted",
    ),
    Rule("insulation.void", _voids, "where there are voids: a bridged or oversize fit, or a lifted tracer"),
    Rule("insulation.void.emissivity", lambda _, v: v.filling is not None, "on voids of air"),
    Rule("foil", lambda c, _: bool(c.tracers), "over tracers", refused=True),
    Rule("barrier.emissivity", _film_outside, "without outside.coefficient"),
    Rule(
        "outside.emissivity",
        lambda c, _: c.barrier is None and _film_outside(c),
        "without a barrier and without outside.coefficient",
    ),
    Rule(
        "condition.wind_from",
        lambda c, k: _film_outside(c) and k.wind > 0.0,
        "with a wind, and without outside.coefficient",
    ),
    *(
        Rule(f"{place}.{key}", acts, only, refused=refuses)
        for place, others in (
            ("episode", ("output",)),
            ("episode.change", ()),
            ("condition", ("wind_from", "contents_temperature", "supply")),
        )
        for key, acts, only, refuses in OVER_TIME
        if key not in others
    ),
    Rule(
        "control.sensor",
        lambda c, k: not c.episodes or any(k.name in e.control for e in c.episodes),
        "in an episode that names the control",
    ),
    Rule(
        "condition.supply",
        lambda c, k: _powered(c, lambda t: k.supply == 0.0 or t.output.voltage_exponent > 0.0),
        "on tracers whose output depends on the voltage (an output as plain text does not)",
    ),
    Rule(
        "support.material",
        lambda _, s: any(part is not None and part.material is None for part in (s.pad, s.leg)),
        "on a pad or leg that has no material of its own",
    ),
    Rule("support.pad.clock", _no_ring, "on a pad that is not a ring"),
    Rule("support.insert.clock", _no_ring, "on an insert that is not a ring"),
    *(
        Rule(key, lambda c, _: bool(c.tracers), "on tracers")
        for key in (
            *("support.allowance", "support.allowance_over", "support.allowance_on"),
            *("fitting.allowance", "fitting.allowance_on"),
        )
    ),
    Rule("support.barrier_touches", _beside_barrier, "where a leg passes a barrier"),
    Rule(
        "support.barrier_gap",
        lambda c, s: _beside_barrier(c, s) and not s.barrier_touches,
        "where a leg passes a barrier that does not touch it",
    ),
    Rule("fitting.class", _of_family, "on a family's bodies, where none are given"),
    Rule("fitting.cover", _of_family, "on a family's bodies, where none are given"),
    Rule(
        "fitting.material",
        lambda _, f: any(body.material is None for body in f.body),
        "on bodies that have no material of their own",
    ),
    Rule(
        "fitting.emissivity",
        lambda c, f: _film_outside(c) and any(body.cover_thickness == 0.0 for body in f.body),
        "on bare bodies, without outside.coefficient",
    ),
    Rule(
        "fitting.ends",
        lambda c, f: (
            c.barrier is not None and any(b.axis == "along" and not b.cover_thickness for b in f.body)
        ),
        "beside a bare body along, where there is a barrier",
    ),
    Rule("limits.sheath_max", lambda c, _: bool(c.tracers), "on tracers", refused=True),
)
# what is lumped still stores heat, and freezes
IN_TIME = ("contents.fluid", "contents.gas")
_BY_KEY: dict[str, list[Rule]] = {}
for _rule in RULES:
    _BY_KEY.setdefault(_rule.key, []).append(_rule)


def silent(built: Mapping[str, Case], case: Case) -> tuple[Silent, ...]:
    """Every given key that does nothing in any condition, and every key set in a condition that does nothing there.

    built: the case narrowed to each of its conditions. A key given at its default is passed over: it says what holds
    anyway.
    """
    shared = {key: value for key, _, _, value in _given(case) if not key.startswith(CONDITION)}
    uses, idle = Counter[str](), Counter[str]()
    first: dict[str, Rule] = {}
    entries = []
    over_time = {"episodes": case.episodes, "controls": case.controls}
    for condition, of_condition in built.items():
        narrowed = of_condition.model_copy(update=over_time)
        for key, name, holder, value in _given(narrowed, here=condition):
            rules = () if case.episodes and name in IN_TIME else _BY_KEY.get(name, ())
            rule = next((r for r in rules if not r.acts(narrowed, holder)), None)
            if rule is not None and _follows(holder, name.rsplit(".", 1)[-1], value):
                continue
            if key in shared and shared[key] == value:
                uses[key] += 1
                if rule is not None:
                    idle[key] += 1
                    first.setdefault(key, rule)
            elif rule is not None:
                entries.append(Silent(key, condition, rule))
    return (*(Silent(key, "", rule) for key, rule in first.items() if idle[key] == uses[key]), *entries)


def refused(built: Mapping[str, Case], case: Case) -> list[CaseError]:
    """A fault (without the file) for every key that does nothing and is surely meant to."""
    faults = []
    for entry in silent(built, case):
        if entry.rule.refused:
            overridden = entry.condition and not entry.key.startswith(CONDITION)
            within = f'{CONDITION}"{entry.condition}"' if overridden else ""
            faults.append(CaseError(entry.message, key=join_key(within, entry.key)))
    return faults


def _follows(table: Table, key: str, value: Any) -> bool:
    """Whether a value is the one the table would have taken without the key; a fluid's default is told by its name."""
    if isinstance(value, Fluid):
        return False
    rest = written(table)
    rest.pop(key, None)
    try:
        return bool(getattr(type(table).model_validate(rest), key, None) == value)
    except ValidationError:
        return False


def _given(
    table: Table, path: str = "", name: str = "", here: str | None = None
) -> Iterator[tuple[str, str, Table, Any]]:
    """(key, key without names and numbers, the table that holds it, value) of every key given off its default.

    here: the condition whose episodes are looked at; None: all.
    """
    for attribute, field in type(table).model_fields.items():
        if attribute not in table.model_fields_set or field.exclude:
            continue
        key = field.alias or attribute
        value = getattr(table, attribute)
        place, plain = join_key(path, key), join_key(name, key)
        if isinstance(value, tuple) and value and isinstance(value[0], Table):
            for number, entry in enumerate(value, start=1):
                if key == "episode" and here not in (None, entry.condition):
                    continue  # it acts, or does not, in its own condition
                label = f' "{entry.name}"' if hasattr(entry, "name") else f"[{number}]"
                yield from _given(entry, place + label, plain)
            continue
        # a table's default is not made: its keys are looked at one by one, and that of contents asks for water's tables
        table_of_keys = isinstance(value, Table)
        default = field.get_default() if table_of_keys else field.get_default(call_default_factory=True)
        if value is None or default in (value, getattr(value, "name", NOTHING)):
            continue
        yield place, plain, table, value
        if table_of_keys:
            yield from _given(value, place, plain)
