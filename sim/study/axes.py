"""Axes of a study: the points of each, checked against the case before anything is computed."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np
from pydantic import ValidationError

from sim.case import Case, CaseError
from sim.case.clock_face import parse_clock
from sim.case.units import KINDS, shown, unit_conversion
from sim.case.validation_errors import case_error

from .edit import (
    CLOCK_UNIT,
    COUNT,
    Change,
    Path,
    Relative,
    edited,
    flattened,
    own_values,
    path_of,
    spread_clocks,
)
from .quantity import need_number, number_in, split, text_in, written_in
from .schema import MOST_VALUES, Axis, StudyFile

CLOCKS = ("clock", "wind_from", "from_clock", "to_clock")  # keys that are read off a clock face
CHECKED = 300  # points of an axis that are tried on the case before a run; further ones fail as variants


@dataclass(frozen=True)
class Point:
    """One point of an axis: how it reads, its number where it has one, and what it changes."""

    text: str
    number: float | None
    changes: tuple[Change, ...]


@dataclass(frozen=True)
class Line:
    """An axis laid out. unit: of the numbers; path: the key it varies, () for choices."""

    name: str
    unit: str
    path: Path
    points: tuple[Point, ...]
    pair: str | None = None

    @property
    def numeric(self) -> bool:
        return all(point.number is not None for point in self.points)

    @property
    def label(self) -> str:
        """Name with its unit, for columns and charts."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name

    @property
    def is_clock(self) -> bool:
        return bool(self.path) and self.path[-1] == "clock" and self.path[0] == "tracer"


def lines(study: StudyFile, raw: dict[str, Any], file: str) -> tuple[Line, ...]:
    """All axes of a study laid out and tried on the raw case. Raises CaseError naming file, axis and value."""
    laid = tuple(line(axis, f"axis[{n}]", raw, file) for n, axis in enumerate(study.axes, start=1))
    names = [entry.name for entry in laid] + [entry.name or entry.key for entry in study.uncertain]
    for name in names:
        if names.count(name) > 1:
            raise CaseError(f'two axes or inputs are called "{name}"; give one a name', file=file, key="axis")
    for entry in laid:
        partners = [other for other in laid if other.pair == entry.pair and entry.pair is not None]
        lengths = {len(other.points) for other in partners}
        if len(lengths) > 1:
            sizes = ", ".join(f"{other.name}: {len(other.points)}" for other in partners)
            raise CaseError(
                f'axes paired as "{entry.pair}" differ in length ({sizes})', file=file, key="axis"
            )
    return laid


def line(axis: Axis, key: str, raw: dict[str, Any], file: str) -> Line:
    """One axis laid out. Raises CaseError."""
    if axis.choices:
        points = []
        for n, choice in enumerate(axis.choices, start=1):
            try:
                changes = tuple((_checked_path(p, v), _choice_value(p, v)) for p, v in flattened(choice.set))
            except ValueError as error:
                raise CaseError(str(error), file=file, key=f"{key}.choice[{n}].set") from None
            points.append(Point(choice.name, None, changes))
        laid = Line(axis.name or "", "", (), tuple(points), axis.pair)
    else:
        path = checked_key(axis.key or "", f"{key}.key", file)
        name = axis.name or axis.key or ""
        if axis.clocks is not None or path == COUNT:
            laid = Line(name, "", path, tuple(count_points(axis.clocks, axis.values, key, file)), axis.pair)
        else:
            values = axis.values if axis.values is not None else _range(axis, key, file)
            laid = value_line(name, path, values, axis.mode, key, file, raw)
            laid = replace(laid, pair=axis.pair)
    try_points(laid, key, raw, file)
    return laid


def value_line(
    name: str, path: Path, values: list[Any], mode: str, key: str, file: str, raw: dict[str, Any]
) -> Line:
    """Points of a key over written values."""
    if path[-1] in CLOCKS and mode == "value":
        values = [_on_the_face(value) for value in values]
    pairs = [split(value) for value in values]
    units = {pair[1] for pair in pairs if pair is not None}
    if None not in pairs and len(units) == 1:
        unit = units.pop()
        scale = relative_scale(unit, path, mode, key, file, raw)
        points = tuple(
            Point(text_in(unit, n), n, ((path, written(n, unit, mode, scale)),))
            for n, _ in (pair for pair in pairs if pair is not None)
        )
        return Line(name, unit, path, points)
    if mode != "value":
        raise CaseError(f"as = {shown(mode)} needs numbers in one unit", file=file, key=f"{key}.values")
    return Line(name, "", path, tuple(Point(_short(v), None, ((path, v),)) for v in values))


def _on_the_face(value: Any) -> Any:
    """Hours of a clock position however it is written; what is none is refused where it is set."""
    try:
        return parse_clock(value)
    except ValueError:
        return value


def written(number: float, unit: str, mode: str, scale: float) -> Any:
    """What a number on an axis sets: a value as the case writes it, or a Relative. scale: see `relative_scale`."""
    if mode == "value":
        return written_in(unit, number)
    return Relative(factor=number) if mode == "factor" else Relative(shift=number * scale)


def relative_scale(unit: str, path: Path, mode: str, key: str, file: str, raw: dict[str, Any]) -> float:
    """SI per unit of a shift; 1 for other modes. Raises CaseError where the unit does not go with the key."""
    if mode == "value":
        return 1.0
    case = _read(raw, file)
    try:
        units = {of for _, _, of, _ in own_values(case, path)} - {""}
    except ValueError as error:
        raise CaseError(str(error), file=file, key=key) from None
    own_unit = units.pop() if units and mode == "shift" else ""
    if own_unit in ("", CLOCK_UNIT):
        if unit:
            raise CaseError(f'is in "{unit}"; accepted: plain numbers for this {mode}', file=file, key=key)
        return 1.0
    kinds = (
        ["temperature difference"] if own_unit == "K" else [k for k, v in KINDS.items() if v.unit == own_unit]
    )
    conversions = [c for c in (unit_conversion(unit, kind) for kind in kinds) if c is not None]
    if not conversions:
        message = f'"{unit}" is no unit for a shift of {".".join(path)}; accepted: a {" or ".join(kinds)}'
        raise CaseError(message, file=file, key=key)
    return conversions[0][0]


def count_points(clocks: list[Any] | None, values: list[Any] | None, key: str, file: str) -> Iterator[Point]:
    """Points of tracer.count: numbers of tracers, or their clock positions."""
    if clocks is not None:
        for entry in clocks:
            numbers = [split(c) for c in entry] if isinstance(entry, list) else [None]
            if not numbers or any(n is None or n[1] for n in numbers):
                message = f"{shown(entry)} is not accepted; accepted: lists of clock positions, [[6], [3, 9]]"
                raise CaseError(message, file=file, key=f"{key}.clocks")
            places = [n[0] for n in numbers if n is not None]
            yield Point(str(len(places)), float(len(places)), ((COUNT, places),))
        return
    if values is None:
        message = "is missing: tracer.count takes listed whole numbers, or clocks, and no range"
        raise CaseError(message, file=file, key=f"{key}.values")
    for value in values:
        if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 12:
            message = f"{shown(value)} is no number of tracers; accepted: whole numbers from 1 to 12"
            raise CaseError(message, file=file, key=f"{key}.values")
        yield Point(str(value), float(value), ((COUNT, spread_clocks(value)),))


def checked_key(key: str, at: str, file: str) -> Path:
    """The steps of a key. Raises CaseError where it is none, or not one that a study can vary."""
    try:
        return _checked_path(path_of(key), None)
    except ValueError as error:
        raise CaseError(f"{shown(key)} {error}", file=file, key=at) from None


def _checked_path(path: Path, _: Any) -> Path:
    if path[0] == "title" or path == ("condition",):
        raise ValueError("cannot be varied; accepted: keys that change the line or its conditions")
    return path


def _choice_value(path: Path, value: Any) -> Any:
    whole = isinstance(value, int) and not isinstance(value, bool) and 0 < value <= 12
    return spread_clocks(value) if path == COUNT and whole else value


def _range(axis: Axis, key: str, file: str) -> list[Any]:
    start, unit = need_number(axis.start, f"{key}.from", file)
    stop = number_in(axis.stop, unit, f"{key}.to", file)
    if axis.count is not None:
        numbers = [float(v) for v in np.linspace(start, stop, axis.count)]
    else:
        step = number_in(axis.step, unit, f"{key}.step", file, difference=True)
        if step == 0 or (stop - start) / step < 0:
            raise CaseError(f"a step of {shown(axis.step)} never gets there", file=file, key=f"{key}.step")
        steps = (stop - start) / step
        if steps >= MOST_VALUES:
            raise CaseError(f"makes more than {MOST_VALUES} values on one axis", file=file, key=f"{key}.step")
        numbers = [start + step * k for k in range(int(steps * (1 + 1e-12) + 1e-9) + 1)]
    return [written_in(unit, float(f"{n:.12g}")) for n in numbers]


def _short(value: Any) -> str:
    if isinstance(value, str):
        return value
    return str(value).lower() if isinstance(value, bool) else str(value)[:60]


def _read(raw: dict[str, Any], file: str) -> Case:
    """A raw case read key by key, without the checks across tables. Raises CaseError."""
    try:
        return Case.model_validate(raw)
    except ValidationError as error:
        raise case_error(error, Case, raw, file) from None


def try_points(laid: Line, key: str, raw: dict[str, Any], file: str) -> None:
    """Lay each point over the case: a key that does not exist, a wrong unit or a size no line has is an error."""
    step = max(1, len(laid.points) // CHECKED)
    for point in laid.points[::step]:
        try:
            _read(edited(raw, point.changes), file)
        except CaseError as error:
            inner = f"{error.key}: " if error.key else ""
            raise CaseError(
                f"{inner}{error.message}", file=file, key=f'{key} "{laid.name}" at {point.text}'
            ) from None


def blocks(laid: tuple[Line, ...]) -> list[list[Line]]:
    """Axes that step together, in the order of the file."""
    grouped: dict[object, list[Line]] = {}
    for n, entry in enumerate(laid):
        grouped.setdefault(entry.pair if entry.pair is not None else n, []).append(entry)
    return list(grouped.values())


def size(laid: tuple[Line, ...]) -> int:
    """Number of points of all axes crossed (paired ones stepping together)."""
    total = 1
    for block in blocks(laid):
        total *= len(block[0].points)
    return total


def combinations(laid: tuple[Line, ...]) -> Iterator[dict[str, Point]]:
    """Every point of the crossed axes by axis name, one at a time; axes that change the mesh change slowest."""
    ordered = sorted(blocks(laid), key=lambda block: not any(_changes_mesh(entry) for entry in block))
    for chosen in product(*(range(len(block[0].points)) for block in ordered)):
        picked = {e.name: e.points[i] for block, i in zip(ordered, chosen, strict=True) for e in block}
        yield {entry.name: picked[entry.name] for entry in laid}


def _changes_mesh(entry: Line) -> bool:
    paths = {path for point in entry.points for path, _ in point.changes}
    sizes = ("thickness", "diameter", "width", "height", "bore", "size", "standoff")
    slow = ("clock", "fit", "fill", "count", *sizes)
    return any(path[0] != "condition" and path[-1] in slow for path in paths)
