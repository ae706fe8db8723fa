"""A line as text: the terminal's lines, the bill as CSV, and results.json."""

from dataclasses import dataclass
from math import isfinite
from typing import Any

from sim.report.method import CAUTIONS
from sim.report.tree import NO_CERTIFICATE, finite, head, limit_row
from sim.report.words import ZERO, celsius, number, with_band
from sim.report.worst import PlacedCheck, decisive, tally
from sim.solve.lift import Lift
from sim.solve.measures import LIMITS
from sim.solve.paths import quantity
from sim.study.cells import csv_text
from sim.study.line import PARTS, LineAnswer, first_like
from sim.study.line_episodes import OverTime, coldest_over_time
from sim.study.line_file import Line, arc_of
from sim.study.line_run import LineStudy
from sim.study.stations import BEND

MOST = 12  # stations that the terminal shows
HOUR = 3600.0


@dataclass(frozen=True)
class Item:
    """One line of the bill: metres of tracer in all, of every tracer together; how many, metres of axis."""

    what: str
    number: int
    length: float
    each: float
    total: float


def bill(study: LineStudy) -> list[Item]:
    """Tracer by stretch, elbow and support, with the allowance of each."""
    line, by = study.line, study.facts[study.line.conditions[0]]
    items: list[Item] = []
    for s, stretch in enumerate(line.file.stretches):
        case = line.cases[s]
        here = [one for one in line.stations if one.stretch == s]
        arcs = sum(arc_of(one, case) for one in here)
        tracers = len(case.tracers)
        straight = stretch.length - arcs
        items.append(Item(f"{stretch.name}, straight", 1, straight, tracers * straight, tracers * straight))
        groups: dict[tuple[str, float, float], int] = {}
        for one in here:
            if isinstance(one.support, Lift):
                continue
            name = one.support.name if one.support is not None else "elbow"
            key = (name, one.turn, one.allowance)
            groups[key] = groups.get(key, 0) + 1
        for (name, turn, allowance), count in groups.items():
            if turn:
                facts = by[first_like(line, s), BEND]
                arc = turn * facts["radius"]
                each = facts["tracer"] * arc
                items.append(Item(f"{stretch.name}, elbow", count, count * arc, each, count * each))
            else:
                each = tracers * allowance
                items.append(Item(f"{stretch.name}, {name}, allowance", count, 0.0, each, count * each))
    return items


def bill_csv(study: LineStudy) -> str:
    """The bill, then for each condition the line's output, loss and what else heats it."""
    items = bill(study)
    rows = [["what", "number", "axis [m]", "tracer each [m]", "tracer in all [m]"]]
    rows += [[i.what, f"{i.number}", *(f"{x:.6g}" for x in (i.length, i.each, i.total))] for i in items]
    rows.append(["all", "", f"{study.line.starts[-1]:.6g}", "", f"{sum(i.total for i in items):.6g}"])
    rows += [[], ["condition", "output [W]", "of allowances [W]", "from the stream [W]", "loss [W]"]]
    for one in study.answers:
        heat = (one.output + one.allowances, one.allowances, one.from_stream, one.loss)
        rows.append([one.condition, *(f"{value:.6g}" for value in heat)])
    return csv_text(rows)


def lines(study: LineStudy) -> list[str]:
    """What the terminal says of a line."""
    items = bill(study)
    straight = study.line.starts[-1]
    total = sum(item.total for item in items)
    text = [
        study.line.file.title,
        f"{straight:.4g} m of line, {len(study.line.stations)} stations, {total:.4g} m of tracer",
        *(f"  {i.what}: {i.number} x {i.each:.4g} m = {i.total:.4g} m" for i in items),
    ]
    for one in study.answers:
        text += ["", f"{one.condition}: {one.verdict}", f"  {heat_words(one)}"]
        text += [*(f"  {words}" for words in coldest_words(one)), *_limits(one), *_stations(study, one)]
    text += ["", *over_time_words(study)] if study.episodes else []
    notes = dict.fromkeys(note for one in study.answers for note in one.notes)
    text += ["", *(f"{note[:1].upper()}{note[1:]}." for note in notes)]
    text.append(
        f"{study.computed} fields computed now, {study.kept} from the store; {study.seconds:.1f} s in all."
    )
    return [*text, *CAUTIONS]


def heat_words(one: LineAnswer) -> str:
    """Loss, output and what else heats the line."""
    stream = ""
    if isfinite(one.stream[0]):
        stream = (
            f", from the stream {number(one.from_stream)} W, which falls from"
            f" {number(one.stream[0] - ZERO)} to {number(one.stream[1] - ZERO)} degC"
        )
    sun = f", from the sun {number(one.from_others)} W" if abs(one.from_others) > 1e-6 else ""
    output = f"output {number(one.output + one.allowances)} W ({number(one.allowances)} W of it allowances)"
    closed = f"{one.closure:.0e} of it" if abs(one.closure) > 1e-15 else "rounding"
    return f"loss {number(one.loss)} W, {output}{stream}{sun}; balance closed to {closed}"


def placed(one: LineAnswer) -> list[PlacedCheck]:
    """Every limit at every place of a line."""
    return [
        PlacedCheck(one.condition, place.label, f"{place.at[c.quantity]:.4g} m" if c.quantity else "", c)
        for place in one.places
        for c in place.checks
        if c.verdict != "nothing to hold"
    ]


def over_time_words(study: LineStudy) -> list[str]:
    """What episodes say of the line's places: limits, the coldest place and its moment, what is not evaluated."""
    if not study.episodes:
        return []
    checks = [check for one in study.episodes for check in placed_over_time(one)]
    words = [f"over time: {tally(checks)} at the places that an episode follows"] if checks else []
    deciding = decisive(checks)
    words += [f"over time: {deciding.in_words()}"] if deciding is not None else []
    for part in PARTS:
        coldest = coldest_over_time(study.episodes, part)
        if coldest is not None:
            one, path = coldest
            value, band, at = one.coldest[path]
            inside = "" if path in ("wall.min", "contents.min", "liquid.min") else f", {quantity(path).words}"
            words.append(
                f"coldest {part} over time: {with_band(value - ZERO, band)} degC, {one.label}, {one.place:.4g} m"
                f"{inside}, {at / HOUR:.3g} h into episode {one.episode}"
            )
    reasons: dict[str, list[str]] = {}
    for one in study.episodes:
        if one.why:
            reasons.setdefault(one.why, []).append(one.label)
    return words + [f"not evaluated over time: {', '.join(labels)}: {why}" for why, labels in reasons.items()]


def placed_over_time(one: OverTime) -> list[PlacedCheck]:
    """Every limit at a place of a line in an episode."""
    where, at = f"{one.label} in episode {one.episode}", f"{one.place:.4g} m"
    every = [check for check in one.checks if check.verdict != "nothing to hold"]
    return [PlacedCheck(one.condition, where, at, check) for check in every]


def coldest_words(one: LineAnswer) -> list[str]:
    """The coldest wall and contents: where, and with which band."""
    words = []
    for part in PARTS:
        coldest = one.coldest(part)
        if coldest is None:
            words.append(f"of the {part} no temperature of its own is known")
            continue
        place, path = coldest
        at = celsius(place.values[path])
        words.append(f"coldest {part}: {at} degC, {place.label}, {place.at[path]:.4g} m")
    return words


def nearest(one: LineAnswer) -> list[PlacedCheck]:
    """For each limit that is held, the place that decides it."""
    every = placed(one)
    decides = [decisive([check for check in every if check.check.limit == limit]) for limit in LIMITS]
    return [check for check in decides if check is not None]


def limit_words(check: PlacedCheck) -> str:
    """A limit where it is nearest: what, where, how far."""
    if not isfinite(check.check.value):
        return f"{check.limit}: {check.check.verdict} at {check.place}: {check.check.note}"
    note = f" ({check.check.note})" if check.check.note and check.check.verdict != "pass" else ""
    return (
        f"{check.limit}: nearest {check.place}, {check.at}: {check.value} {check.unit}, {check.outcome}{note}"
    )


def _limits(one: LineAnswer) -> list[str]:
    every = placed(one)
    if not every:
        return ["  no limit to check"]
    return [
        f"  {tally(every)} at {len(one.places)} places",
        *(f"  {limit_words(check)}" for check in nearest(one)),
    ]


def _stations(study: LineStudy, one: LineAnswer) -> list[str]:
    """The coldest stations, and what allowances do to the line's coldest wall."""
    stations = study.line.stations
    if not stations:
        return []
    order = sorted(range(len(stations)), key=lambda k: one.stations[k])
    lines = [
        f"  coldest wall at {stations[k].label}: {number(one.stations[k] - ZERO, 2)} degC"
        for k in order[:MOST]
    ]
    if len(order) > MOST:
        lines.append(f"  and {len(order) - MOST} more stations (all in results.json)")
    return lines + [f"  {words}" for words in allowance_words(study, one)]


def allowance_words(study: LineStudy, one: LineAnswer) -> list[str]:
    """Where a further metre of tracer does most, and which allowance would be missed most."""
    stations, words = study.line.stations, []
    gains = [k for k in range(len(stations)) if isfinite(one.gains[k])]
    if gains:
        first, best = min(gains, key=lambda k: one.stations[k]), max(gains, key=lambda k: one.gains[k])
        words.append(
            f"a further metre of each tracer does most for the line at its coldest station, {stations[first].label}:"
            f" {one.gains[first]:.1f} K a metre"
            + (f" (most of all at {stations[best].label}: {one.gains[best]:.1f})" if best != first else "")
        )
    left = [k for k in range(len(stations)) if isfinite(one.without[k])]
    worst = min(left, key=lambda k: one.without[k], default=None)
    if worst is not None:
        words.append(
            f"without its allowance the coldest wall at {stations[worst].label} is"
            f" {number(one.without[worst] - ZERO, 2)} degC instead of {number(one.stations[worst] - ZERO, 2)}"
        )
    return words


def results(study: LineStudy) -> dict[str, Any]:
    """The whole of results.json but for its list of files: temperatures in degC, lengths in m, heat in W."""
    line, items = study.line, bill(study)
    return head(line.file.title, study="line") | {
        "length": line.starts[-1],
        "tracer_length": sum(item.total for item in items),
        "bill": [item.__dict__ for item in items],
        "conditions": {one.condition: _condition(line, one) for one in study.answers},
        "over_time": [_over_time(one) for one in study.episodes],
        "fields": {"computed": study.computed, "from_store": study.kept},
        "caution": NO_CERTIFICATE,
    }


def _celsius(value: float) -> float | None:
    return finite(value - ZERO)


def _condition(line: Line, one: LineAnswer) -> dict[str, Any]:
    return {
        "verdict": one.verdict,
        "loss": finite(one.loss),
        "output": finite(one.output + one.allowances),
        "output_of_allowances": finite(one.allowances),
        "from_stream": finite(one.from_stream),
        "from_sun": finite(one.from_others),
        "closure": finite(one.closure),
        "stream": {"enters": _celsius(one.stream[0]), "leaves": _celsius(one.stream[1])},
        "coldest": {part: _cold(one, part) for part in PARTS},
        "limits": [
            {"where": place.label, "place": finite(place.at.get(c.quantity))} | limit_row(c)
            for place in one.places
            for c in place.checks
        ],
        "stations": [
            {
                "name": station.label,
                "place": station.place,
                "allowance": one.installed[k],
                "wall_min": _celsius(one.stations[k]),
                "gain_per_metre": finite(one.gains[k]),
                "wall_min_without_allowance": _celsius(one.without[k]),
            }
            for k, station in enumerate(line.stations)
        ],
        "along": {
            "place": [round(float(place), 6) for place in one.along[0]],
            "wall_min": [_celsius(float(t)) for t in one.along[1]],
            "contents_min": [_celsius(float(t)) for t in one.along[2]],
        },
        "notes": list(one.notes),
    }


def _over_time(one: OverTime) -> dict[str, Any]:
    return {
        "where": one.label,
        "place": one.place,
        "condition": one.condition or None,
        "episode": one.episode or None,
        "verdict": one.verdict,
        "why": one.why or None,
        "coldest": {
            path: {"value": _celsius(value), "band": finite(band), "at": finite(at)}
            for path, (value, band, at) in one.coldest.items()
        },
        "limits": [limit_row(check) for check in one.checks],
    }


def _cold(one: LineAnswer, part: str) -> dict[str, Any] | None:
    coldest = one.coldest(part)
    if coldest is None:
        return None
    place, path = coldest
    value = place.values[path]
    return {
        "value": _celsius(value.value),
        "band": finite(value.band),
        "place": place.at[path],
        "where": place.label,
    }
