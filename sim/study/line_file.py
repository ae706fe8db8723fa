"""The line file: stretches of section, and the stations on them. Every key is declared once, as in the case."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from math import acos, pi, sin
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, ValidationError, model_validator

from sim.case import Case, CaseError, case_for, load_case
from sim.case.errors import nearest, refuse
from sim.case.fields import Length, Name, Table, Text, declared, quantity
from sim.case.fitting import Fitting
from sim.case.line import bend_radius
from sim.case.support import Support
from sim.case.toml import read_toml
from sim.case.validation_errors import case_error
from sim.solve.lift import Lift, refused

from .schema import _count as count
from .stations import APART, BEND, what_of

MOST = 1000  # stations of a line
BANDS, BAND = 0.3, 0.010  # m, of a lift; common practice, no source
SAME_FLOW = 0.02  # of a stream's mass a second, that stretches may differ by
Metres = Annotated[float, quantity("length", 1e-3, 1e5)]
Place = Annotated[float, quantity("length", 0.0, 1e5)]
Extra = Annotated[float, quantity("length", 0.0, 100.0)]
Turn = Annotated[float, quantity("angle", 0.01, 2 * pi + 1e-9)]


def _some(value: list[Any]) -> list[Any]:
    if not value:
        refuse("is empty; accepted: a list of places")
    return value


class Station(Table):
    """What stands on a stretch: a support or a fitting of its case, its elbow, a lift of its tracer; so many times."""

    support: Name | None = declared(None, "name of a support of the stretch's case")
    fitting: Name | None = declared(None, "or name of a fitting of it")
    elbow: Turn | None = declared(None, 'or its elbow, through this angle, such as "90 deg"', "rad")
    lift: Length | None = declared(None, "or a lift of its tracer between bands, by this height", "m")
    tracer: Name | None = declared(None, "of a lift, which tracer; default the first")
    bands: Metres | None = declared(None, "of a lift, how far apart bands are; 0.3 m", "m")
    band: Length | None = declared(None, "of a lift, how wide a band is; 10 mm", "m")
    number: Annotated[int, count(1, MOST)] | None = declared(None, "how many, evenly over the stretch; 1")
    at: Annotated[list[Place], AfterValidator(_some)] | None = declared(
        None, "or where their middles are, along the axis from the stretch's start", "m"
    )
    allowance: Extra | None = declared(
        None, "extra tracer at each, of every tracer; default the case's own", "m"
    )

    @model_validator(mode="after")
    def _one(self) -> Station:
        if sum(one is not None for one in (self.support, self.fitting, self.elbow, self.lift)) != 1:
            refuse("needs one of: support, fitting, elbow, lift", "support")
        if self.lift is None and (self.tracer or self.bands or self.band):
            refuse("belongs to a lift; accepted: only with it", "tracer")
        if self.number is not None and self.at is not None:
            refuse("is given beside at; accepted: one of them", "number")
        if (self.elbow is not None or self.lift is not None) and self.allowance is not None:
            refuse("belongs to a support or a fitting; an elbow's tracer is as long as it lies", "allowance")
        return self


class Stretch(Table):
    """A length of one section, with what stands on it."""

    name: Name = declared(..., "name of the stretch")
    length: Metres = declared(..., "length along the axis, elbows included", "m")
    case: Text | None = declared(None, "its case file; default the line's own")
    stations: tuple[Station, ...] = declared((), "what stands on it", alias="station")


class LineFile(Table):
    """A line: stretches one after the other, in the direction of the flow where there is one."""

    title: Text = declared("untitled line", "what the line is")
    case: Text | None = declared(
        None, "the case file of stretches that name none, its path from the line file"
    )
    conditions: list[Any] | None = declared(None, "names of the conditions; default all that every case has")
    stretches: tuple[Stretch, ...] = declared(..., "the stretches, at least one", alias="stretch")


@dataclass(frozen=True)
class Standing:
    """A station in its place. key: where the file has it; what: what is solved for it; place: of its middle from the
    line's start, m; support: or a fitting, None for an elbow; turn: of that, rad; given: the line's own allowance."""

    label: str
    key: str
    stretch: int
    what: str
    place: float
    support: Support | Fitting | Lift | None
    turn: float
    allowance: float
    given: float | None = None


@dataclass(frozen=True)
class Line:
    """A line laid out: the case of each stretch, where each starts (n + 1,) m, stations in order, conditions."""

    file: LineFile
    source: str
    cases: tuple[Case, ...]
    starts: tuple[float, ...]
    stations: tuple[Standing, ...]
    conditions: tuple[str, ...]


def load_line(path: str | Path) -> Line:
    """Read a line file and its cases. Raises CaseError: one message with file and key."""
    name = str(path)
    try:
        file = LineFile.model_validate(read_toml(name, "line"))
    except ValidationError as error:
        raise case_error(error, LineFile, read_toml(name, "line"), name) from None
    if not file.stretches:
        raise CaseError("is missing; accepted: at least one [[stretch]]", file=name, key="stretch")
    names = [stretch.name for stretch in file.stretches]
    for position, stretch_name in enumerate(names):
        if stretch_name in names[:position]:
            message = f'"{stretch_name}" is the name of an earlier stretch; accepted: a name of its own'
            raise CaseError(message, file=name, key=f'stretch[{position + 1}] "{stretch_name}".name')
    known: dict[str, Case] = {}
    cases = []
    for position, stretch in enumerate(file.stretches, start=1):
        key = f'stretch[{position}] "{stretch.name}".case'
        written = stretch.case or file.case
        if written is None:
            raise CaseError(
                "is missing; accepted: a case file here, or case for all stretches", file=name, key=key
            )
        if written not in known:
            path_of_case = Path(name).parent / written
            if not path_of_case.is_file():
                raise CaseError(f'there is no case file "{written}" beside the line', file=name, key=key)
            known[written] = load_case(path_of_case)
        cases.append(known[written])
    starts = [0.0]
    for stretch in file.stretches:
        starts.append(starts[-1] + stretch.length)
    stations = _named(sorted(_standing(file, cases, starts, name), key=lambda station: station.place), file)
    _fit(stations, cases, starts, name)
    conditions = _conditions(file, cases, name)
    _flow_on(file, cases, conditions, name)
    line = Line(file, name, tuple(cases), tuple(starts), tuple(stations), conditions)
    for condition in conditions:
        line_in(line, condition)
    return line


def line_in(line: Line, condition: str) -> Line:
    """The line in one condition: its cases narrowed, each support, fitting and allowance as it is there.

    Raises CaseError where the condition has not what stands on the line.
    """
    narrowed = {id(case): case_for(case, condition) for case in line.cases}
    cases = tuple(narrowed[id(case)] for case in line.cases)
    stations = []
    for one in line.stations:
        case = cases[one.stretch]
        if isinstance(one.support, Lift) or (one.support is None and case.elbow is not None):
            stations.append(one)
            continue
        there = {part.name: part for part in case.interruptions}
        if one.support is None or one.support.name not in there:
            what = "elbow" if one.support is None else f'"{one.support.name}"'
            message = (
                f'{what} stands on the line, and the case has none in condition "{condition}"; accepted: a case that'
                " has it in every condition, or conditions of the line that leave that one out"
            )
            raise CaseError(message, file=line.source, key=one.key)
        what, support, extra = _installed(there[one.support.name], one.given)
        stations.append(replace(one, what=what, support=support, allowance=extra))
    return replace(line, cases=cases, stations=tuple(stations))


def _conditions(file: LineFile, cases: list[Case], source: str) -> tuple[str, ...]:
    shared = [
        c.name for c in cases[0].conditions if all(c.name in {d.name for d in o.conditions} for o in cases)
    ]
    if not shared:
        raise CaseError(
            "the cases of the stretches have no condition of the same name", file=source, key="case"
        )
    for entry in file.conditions or ():
        if entry not in shared:
            message = f'"{entry}" is no condition of every case{nearest(entry, shared)}; accepted: {", ".join(shared)}'
            raise CaseError(message, file=source, key="conditions")
    return tuple(file.conditions or shared)


def _standing(file: LineFile, cases: list[Case], starts: list[float], source: str) -> list[Standing]:
    standing = []
    for s, (stretch, case) in enumerate(zip(file.stretches, cases, strict=True)):
        for position, station in enumerate(stretch.stations, start=1):
            key = f'stretch[{s + 1}] "{stretch.name}".station[{position}]'
            support: Support | Fitting | Lift | None = None
            name = stretch.case or file.case
            if station.lift is not None:
                support = _lift(station, case, source, key)
            elif station.elbow is None:
                what = "support" if station.support is not None else "fitting"
                name_there, there = getattr(station, what), getattr(case, f"{what}s")
                names = [one.name for one in there]
                if name_there not in names:
                    known = ", ".join(names) or "none: it has none"
                    message = f'"{name_there}" is no {what} of {name}{nearest(name_there, names)}; accepted: {known}'
                    raise CaseError(message, file=source, key=f"{key}.{what}")
                support = there[names.index(name_there)]
            elif case.elbow is None:
                raise CaseError(f"{name} has no [elbow]", file=source, key=f"{key}.elbow")
            places = station.at
            if places is None:
                number = station.number or 1
                places = [(k + 0.5) * stretch.length / number for k in range(number)]
            what, extra = BEND, 0.0
            if isinstance(support, Lift):
                what = what_of(support)
            elif support is not None:
                what, support, extra = _installed(support, station.allowance)
            for place in places:
                if place > stretch.length:
                    message = f"{place:g} m is beyond the stretch; accepted: at most {stretch.length:g} m"
                    raise CaseError(message, file=source, key=f"{key}.at")
                at = starts[s] + place
                turn = station.elbow or 0.0
                standing.append(Standing("", key, s, what, at, support, turn, extra, station.allowance))
    if len(standing) > MOST:
        raise CaseError(f"has {len(standing)} stations; accepted: at most {MOST}", file=source, key="stretch")
    return standing


def _installed(support: Support | Fitting, given: float | None) -> tuple[str, Support | Fitting, float]:
    """What is solved of a support or fitting, as it stands on the line, and its allowance: the line's own if given."""
    written = support.allowance
    extra = written if given is None else given
    if extra in (0.0, written):
        return support.name, support, extra
    return f"{support.name}{APART}{extra!r}", support.model_copy(update={"allowance": extra}), extra


def _lift(station: Station, case: Case, source: str, key: str) -> Lift:
    assert station.lift is not None
    tracer = station.tracer or (case.tracers[0].name if case.tracers else "")
    lift = Lift(tracer, station.lift, station.bands or BANDS, station.band or BAND)
    why = refused(case, lift)
    if why:
        raise CaseError(why, file=source, key=f"{key}.lift")
    return lift


def _named(stations: list[Standing], file: LineFile) -> list[Standing]:
    """Stations in order with their labels: what stands there, numbered where a stretch has several, and the stretch."""
    kinds = [(one.stretch, one.support.name if one.support is not None else "elbow") for one in stations]
    named = []
    for k, (one, kind) in enumerate(zip(stations, kinds, strict=True)):
        number = f" {kinds[: k + 1].count(kind)}" if kinds.count(kind) > 1 else ""
        named.append(replace(one, label=f"{kind[1]}{number} on {file.stretches[one.stretch].name}"))
    return named


def arc_of(station: Standing, case: Case) -> float:
    """Length of an elbow along the axis, m; 0 of a support."""
    if station.support is not None:
        return 0.0
    assert case.elbow is not None
    return station.turn * (bend_radius(case.pipe, case.elbow) or 0.0)


def _fit(stations: list[Standing], cases: list[Case], starts: list[float], source: str) -> None:
    """Refuse stations that reach beyond their stretch, or stand in each other."""
    halves = [
        0.5 * (arc_of(one, cases[one.stretch]) if one.support is None else one.support.length)
        for one in stations
    ]
    for one, half in zip(stations, halves, strict=True):
        low, high = starts[one.stretch : one.stretch + 2]
        if one.place - half < low - 1e-9 or one.place + half > high + 1e-9:
            room = (
                f"; accepted: between {half:.3g} and {high - low - half:.3g} m"
                if 2 * half <= high - low
                else ""
            )
            raise CaseError(
                f"{one.label} is {2 * half:.3g} m long and at {one.place - low:.3g} m reaches beyond its stretch of"
                f" {high - low:.3g} m{room or '; accepted: a longer stretch'}",
                file=source,
                key=one.key,
            )
    for (one, half), (other, beyond) in pairwise(zip(stations, halves, strict=True)):
        if other.place - one.place < half + beyond - 1e-9:
            raise CaseError(
                f"{one.label} and {other.label} stand in each other, {other.place - one.place:.3g} m apart;"
                f" accepted: at least {half + beyond:.3g} m, by other places (at) or numbers",
                file=source,
                key=other.key,
            )


def _flow(case: Case, condition: str, file: str) -> float | None:
    """What flows, kg/s; None where contents stand. Refuses a stream without a velocity."""
    contents = case.contents
    if contents.state != "flowing":
        return None
    if not contents.velocity or contents.temperature is None:
        message = f"is missing in {condition}: a stream falls along the line with it; accepted: a velocity"
        raise CaseError(message, file=file, key="contents.velocity")
    wetted = 2.0 * acos(1.0 - 2.0 * contents.fill)
    area = 0.5 * case.pipe.inner_radius**2 * (wetted - sin(wetted))
    return float(contents.fluid.density(contents.temperature)) * contents.velocity * area


def _flow_on(file: LineFile, cases: list[Case], conditions: tuple[str, ...], source: str) -> None:
    """Refuse a stream that stands on the next stretch, or has no velocity, or carries another mass there."""
    for condition in conditions:
        flows = [
            _flow(case_for(case, condition), condition, stretch.case or file.case or source)
            for stretch, case in zip(file.stretches, cases, strict=True)
        ]
        first = flows[0]
        for stretch, flow in zip(file.stretches, flows, strict=True):
            if flow is None and first is None:
                continue
            if flow is None or first is None or abs(flow - first) > SAME_FLOW * first:
                there = [f"{x:.4g} kg/s" if x is not None else "nothing" for x in (first, flow)]
                raise CaseError(
                    f"in {condition} {there[0]} flows on {file.stretches[0].name} and {there[1]} on {stretch.name};"
                    " accepted: one stream on all stretches (state, velocity, bore), or contents that stand on all",
                    file=source,
                    key=f'stretch "{stretch.name}".case',
                )
