"""Weather over time from a file: the hourly EPW format, or a table (CSV) whose columns are named.

A gap is refused, not filled. Irradiance counts for the middle of the interval it was summed over, which ends at its
stamp; temperatures and wind are those at the stamp (EnergyPlus, Auxiliary Programs, "EPW CSV format"). Wind is taken as
the file gives it, at its own height (10 m in EPW), and is not brought down to the line's.
"""

import csv
import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .errors import CaseError, nearest

Array = NDArray[np.float64]
ZERO, SIGMA = 273.15, 5.670374419e-8
MOST_BYTES, MOST_ROWS = 50_000_000, 200_000
# name of a column: (place in a row of EPW, from which value on it is missing there, lowest and highest value believed)
COLUMNS = {
    "dry_bulb_degC": (6, 99.9, -90.0, 70.0),
    "dew_point_degC": (7, 99.9, -90.0, 70.0),
    "sky_W_m2": (12, 9999.0, 20.0, 800.0),
    "global_W_m2": (13, 9999.0, 0.0, 1600.0),
    "direct_W_m2": (14, 9999.0, 0.0, 1500.0),
    "diffuse_W_m2": (15, 9999.0, 0.0, 1200.0),
    "wind_m_s": (21, 999.0, 0.0, 99.0),
    "cloud_tenths": (22, 99.0, 0.0, 10.0),
}
ALWAYS = ("dry_bulb_degC", "wind_m_s")
SUN = ("global_W_m2", "direct_W_m2", "diffuse_W_m2")
EPW_HEAD = 8
DEW_ROUNDING = 0.5  # K by which rounding may leave the dew point above the dry bulb; it then counts as that


@dataclass(frozen=True, eq=False)  # arrays have no one answer to ==
class Weather:
    """Weather at evenly spaced moments, in the file's order.

    begin: the first stamp, UTC (of a typical year only month, day and hour mean anything); spacing: s.
    values: by name in `COLUMNS`, each (n,), in the units of the name. place: latitude, longitude (deg), height (m),
    where the file gives it; utc: what its clock is ahead of UTC, s; gaps: number of moments at which a column that is
    not always needed is missing, which is then not in values.
    """

    name: str
    begin: np.datetime64
    spacing: float
    values: dict[str, Array]
    place: tuple[float, float, float] | None
    utc: float
    gaps: Mapping[str, int] = field(default_factory=dict)

    def __eq__(self, other: object) -> bool:
        """Whether it is the same weather: arrays compare as a whole."""
        if not isinstance(other, Weather):
            return NotImplemented
        return (
            (self.name, self.begin, self.spacing, self.place, self.utc)
            == (other.name, other.begin, other.spacing, other.place, other.utc)
            and self.values.keys() == other.values.keys()
            and all(
                np.array_equal(array, other.values[key], equal_nan=True) for key, array in self.values.items()
            )
        )

    def __hash__(self) -> int:
        return hash((self.name, self.begin, self.spacing, self.count))

    @property
    def count(self) -> int:
        return len(self.values[ALWAYS[0]])

    @property
    def time(self) -> Array:
        """Moments of temperatures and wind, s from the first."""
        return self.spacing * np.arange(self.count, dtype=np.float64)

    @property
    def has_sun(self) -> bool:
        return all(name in self.values for name in SUN)

    def stamp(self, seconds: float) -> str:
        """Month, day and time on the file's own clock, some seconds after its first moment."""
        at = self.begin + np.timedelta64(round(self.utc + seconds), "s")
        return str(at.astype("datetime64[m]"))[5:].replace("T", " ")

    def offset(self, month: int, day: int, hour: float) -> float | None:
        """Seconds from the first stamp to a moment of the file's own clock; None if the file does not hold it."""
        stamps = (self.begin + np.timedelta64(round(self.utc), "s")).astype("datetime64[s]")
        first = stamps.astype(datetime.datetime)
        for year in (first.year, first.year + 1):
            try:
                moment = datetime.datetime(year, month, day) + datetime.timedelta(hours=hour)
            except ValueError:
                return None
            seconds = (moment - first).total_seconds()
            if -self.spacing <= seconds <= self.spacing * (self.count - 1):
                return max(seconds, 0.0)
        return None


def read_weather(path: Path) -> Weather:
    """Read a file of weather. Raises CaseError (without a key): what is wrong with it, and what is accepted."""
    try:
        stamp = path.stat()
        if not path.is_file() or stamp.st_size > MOST_BYTES:
            raise CaseError(f'"{path.name}" is no file of weather (or larger than {MOST_BYTES // 10**6} MB)')
        return _read(path, stamp.st_mtime_ns)
    except OSError as error:
        raise CaseError(f'"{path.name}" cannot be read: {error.strerror or "no such file"}') from None


@lru_cache(maxsize=8)
def _read(path: Path, changed: int) -> Weather:
    text = path.read_text(encoding="utf-8-sig", errors="replace")
    rows = list(csv.reader(text.splitlines()[: MOST_ROWS + EPW_HEAD + 1]))
    if not rows:
        raise CaseError(f'"{path.name}" is empty; accepted: an hourly EPW file, or a CSV with named columns')
    return _epw(path.name, rows) if rows[0][:1] == ["LOCATION"] else _table(path.name, rows)


def _epw(name: str, rows: list[list[str]]) -> Weather:
    head = rows[0]
    try:
        latitude, longitude, zone, height = (float(head[k]) for k in (6, 7, 8, 9))
    except (IndexError, ValueError):
        raise CaseError(
            f'"{name}": the first line gives no place; accepted: LOCATION with ten fields'
        ) from None
    if not (abs(latitude) <= 90.0 and abs(longitude) <= 180.0 and abs(zone) <= 15.0):
        raise CaseError(
            f'"{name}": the first line gives latitude {latitude:g}, longitude {longitude:g}, zone {zone:g}'
        )
    body = [row for row in rows[EPW_HEAD:] if row]
    often = _records_an_hour(rows[:EPW_HEAD]) > 1
    # the months of a typical year come from several years: any one year stands for them, with a 29 February or without
    year, last = 2004 if any(row[1:3] == ["2", "29"] for row in body) else 2001, 0
    stamps: list[datetime.datetime] = []
    for number, row in enumerate(body, start=EPW_HEAD + 1):
        try:
            month, day, hour = int(row[1]), int(row[2]), float(row[3])
            if often:  # the minute is that at which the record's part of the hour ends; 0 stands for 60
                hour += (int(row[4]) or 60) / 60 - 1
            year, last = year + (month < last), month
            stamps.append(datetime.datetime(year, month, day) + datetime.timedelta(hours=hour))
        except (IndexError, ValueError):
            raise CaseError(f'"{name}", line {number}: no year, month, day and hour') from None
    values, gaps = {}, {}
    for column, (place, missing, low, high) in COLUMNS.items():
        column_values = [
            _number(name, n, column, row, place) for n, row in enumerate(body, start=EPW_HEAD + 1)
        ]
        numbers = np.array(column_values)
        absent = np.flatnonzero(numbers >= missing)
        if len(absent) and column in ALWAYS:
            raise CaseError(
                f'"{name}", line {EPW_HEAD + 1 + absent[0]}: {column} is missing; a gap is not filled'
            )
        if 0 < len(absent) < len(numbers):
            gaps[column] = len(absent)
        if not len(absent):
            values[column] = _believed(name, column, numbers, low, high, EPW_HEAD)
    return replace(
        _made(name, stamps, values, (latitude, longitude, height), 3600 * zone, EPW_HEAD), gaps=gaps
    )


def _records_an_hour(head: list[list[str]]) -> int:
    """As the line DATA PERIODS says; 1 without it."""
    for row in head:
        if row and row[0] == "DATA PERIODS" and len(row) > 2 and row[2].strip().isdigit():
            return int(row[2])
    return 1


def _table(name: str, rows: list[list[str]]) -> Weather:
    columns = [column.strip() for column in rows[0]]
    known = ["time", *COLUMNS]
    for column in columns:
        if column not in known:
            raise CaseError(
                f'"{name}": unknown column "{column[:40]}"{nearest(column, known)}; accepted: {", ".join(known)}'
            )
    for column in ("time", *ALWAYS, *dict.fromkeys(columns)):
        if columns.count(column) != 1:
            raise CaseError(f'"{name}": it needs one column "{column}"; accepted: {", ".join(known)}')
    body = [row for row in rows[1:] if row]
    stamps: list[datetime.datetime] = []
    for number, row in enumerate(body, start=2):
        if len(row) > len(columns):
            raise CaseError(f'"{name}", line {number}: {len(row)} cells beneath {len(columns)} columns')
        try:
            stamp = datetime.datetime.fromisoformat(row[columns.index("time")].strip())
            stamps.append(stamp.replace(tzinfo=None) - (stamp.utcoffset() or datetime.timedelta(0)))
        except (IndexError, ValueError):
            raise CaseError(
                f'"{name}", line {number}: no time; accepted: UTC, such as 2026-01-31 14:00'
            ) from None
    values = {}
    for column in columns:
        if column != "time":
            place, (_, _, low, high) = columns.index(column), COLUMNS[column]
            column_values = np.array(
                [_number(name, n, column, row, place) for n, row in enumerate(body, start=2)]
            )
            values[column] = _believed(name, column, column_values, low, high, 1)
    return _made(name, stamps, values, None, 0.0, 1)


def _number(name: str, line: int, column: str, row: list[str], place: int) -> float:
    try:
        return float(row[place])
    except (IndexError, ValueError):
        raise CaseError(f'"{name}", line {line}: {column} is no number; a gap is not filled') from None


def _believed(name: str, column: str, values: Array, low: float, high: float, head: int) -> Array:
    odd = np.flatnonzero(~((values >= low) & (values <= high)))
    if len(odd):
        raise CaseError(
            f'"{name}", line {head + 1 + odd[0]}: {column} {values[odd[0]]:g} is outside what is accepted:'
            f" {low:g} to {high:g}"
        )
    return values


def _made(
    name: str,
    stamps: list[datetime.datetime],
    values: dict[str, Array],
    place: tuple[float, float, float] | None,
    utc: float,
    head: int,
) -> Weather:
    if len(stamps) < 2:
        raise CaseError(f'"{name}" holds fewer than two moments')
    gaps = np.diff(np.array(stamps, "datetime64[s]")).astype(float)
    odd = np.flatnonzero(gaps != gaps[0])
    if gaps[0] <= 0 or gaps[0] > 10800 or len(odd):
        line = head + 2 + (odd[0] if len(odd) else 0)
        raise CaseError(
            f'"{name}", line {line}: its moment does not follow the one before at the spacing of the first two;'
            " accepted: evenly spaced moments of at most 3 h, without gaps"
        )
    if "dew_point_degC" in values:
        above = np.flatnonzero(values["dew_point_degC"] > values["dry_bulb_degC"] + DEW_ROUNDING)
        if len(above):
            raise CaseError(
                f'"{name}", line {head + 1 + above[0]}: dew_point_degC is above dry_bulb_degC; accepted: at most it'
            )
    if place is None and "cloud_tenths" in values and "dew_point_degC" not in values:
        raise CaseError(
            f'"{name}": cloud_tenths does nothing without dew_point_degC; accepted: both, or neither'
        )
    given = [column for column in SUN if column in values]
    if place is None and given and len(given) < len(SUN):
        raise CaseError(f'"{name}": the sun needs all of {", ".join(SUN)}; it gives {", ".join(given)}')
    begin = np.datetime64(stamps[0], "s") - np.timedelta64(round(utc), "s")
    return Weather(name, begin, float(gaps[0]), values, place, utc)
