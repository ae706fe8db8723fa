"""Files of weather: what is read of them, and what they are refused for. Every number is invented."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, line

from sim.case import CaseError, case_for, parse_case
from sim.case.weather import read_weather
from sim.judge.episode_answers import weather_notes

HEAD = "time,dry_bulb_degC,wind_m_s"


def table(hours: int = 30, head: str = HEAD, row: Callable[[int], str] = lambda k: f"{-k}.5,3") -> list[str]:
    stamps = np.datetime64("2026-01-31T20:00") + np.arange(hours) * np.timedelta64(1, "h")
    return [head, *(f"{str(t).replace('T', ' ')},{row(k)}" for k, t in enumerate(stamps))]


def epw(hours: int = 48, **columns: float) -> list[str]:
    """An EPW whose January is of one year and whose February is of another."""
    head = ["LOCATION,Nowhere (invented),-,-,invented,0,52.0,5.0,1.0,10.0", *(f"HEAD {k}" for k in range(7))]
    order = {"dry_bulb_degC": 6, "dew_point_degC": 7, "sky_W_m2": 12, "global_W_m2": 13, "direct_W_m2": 14}
    order |= {"diffuse_W_m2": 15, "wind_m_s": 21, "cloud_tenths": 22}
    rows = []
    for k in range(hours):
        row = ["0"] * 35
        month, day, year = (1, 31, 1999) if k < 24 else (2, 1 + (k - 24) // 24, 1987)
        row[:5] = [str(year), str(month), str(day), str(k % 24 + 1), "60"]
        values = {
            "dry_bulb_degC": -5.0 + k,
            "dew_point_degC": -20.0,
            "wind_m_s": 4.0,
            "sky_W_m2": 200.0,
        } | columns
        for name, value in values.items():
            row[order[name]] = str(value)
        rows.append(",".join(row))
    return head + rows


def written(folder: Path, lines: list[str], name: str = "w.csv") -> Path:
    path = folder / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_epw_is_read_in_its_order(tmp_path: Path) -> None:
    weather = read_weather(written(tmp_path, epw()))
    assert (weather.count, weather.spacing, weather.utc) == (48, 3600.0, 3600.0)
    assert weather.place == (52.0, 5.0, 10.0)
    assert str(weather.begin)[5:] == "01-31T00:00:00"  # the first hour ends at 1, which is midnight UTC
    assert weather.values["dry_bulb_degC"][:2] == pytest.approx([-5.0, -4.0])
    assert weather.has_sun
    assert weather.offset(2, 1, 6) == pytest.approx(29 * 3600)
    assert weather.offset(3, 1, 6) is None


def test_columns_in_any_order(tmp_path: Path) -> None:
    lines = table(head="time,wind_m_s,dry_bulb_degC", row=lambda k: f"3,{-k}")
    weather = read_weather(written(tmp_path, lines))
    assert weather.values["wind_m_s"] == pytest.approx(3.0)
    assert weather.values["dry_bulb_degC"][5] == -5.0
    assert not weather.has_sun


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([""], "needs one column"),
        (table(head="time,dry_bulb,wind_m_s"), 'unknown column "dry_bulb"; did you mean "dry_bulb_degC"'),
        (table(head="time,dry_bulb_degC", row=lambda k: "1"), 'needs one column "wind_m_s"'),
        (table()[:9] + table()[10:], "line 10: its moment does not follow"),
        (table(row=lambda k: "," if k == 4 else "1,2"), "line 6: dry_bulb_degC is no number; a gap is not"),
        (table(row=lambda k: "nan,2" if k == 4 else "1,2"), "line 6: dry_bulb_degC nan is outside"),
        (table(row=lambda k: "250,2"), "line 2: dry_bulb_degC 250 is outside what is accepted"),
        (table()[:2], "fewer than two moments"),
        ([HEAD, "soon,1,2", "later,1,2"], "line 2: no time"),
        (table(head=HEAD + ",global_W_m2", row=lambda k: "1,2,3"), "the sun needs all of"),
        (epw(dry_bulb_degC=99.9), "line 9: dry_bulb_degC is missing"),
        (epw()[:20] + epw()[21:], "line 21: its moment does not follow"),
        (["LOCATION,Nowhere", *epw()[1:]], "gives no place"),
        ([epw()[0].replace("52.0", "95.0"), *epw()[1:]], "latitude 95"),
        (epw(dew_point_degC=60), "line 9: dew_point_degC is above dry_bulb_degC"),
        (table(head=HEAD + ",cloud_tenths", row=lambda k: "1,2,3"), "does nothing without dew_point_degC"),
        (table(head=HEAD + ",wind_m_s", row=lambda k: "1,2,3"), 'one column "wind_m_s"'),
        (table(row=lambda k: "1,2,3"), "line 2: 4 cells beneath 3 columns"),
        ([*epw()[:30], "1999,1", *epw()[31:]], "line 31: no year, month, day"),
    ],
)
def test_refused_with_one_message(tmp_path: Path, lines: list[str], words: str) -> None:
    with pytest.raises(CaseError) as caught:
        read_weather(written(tmp_path, lines))
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_half_hours_of_an_epw(tmp_path: Path) -> None:
    """Two records an hour: their minute is where their half of the hour ends."""
    lines = epw(24)
    lines[7] = "DATA PERIODS,1,2,Data,Sunday, 1/31, 1/31"
    halves = [row.replace(",60,", f",{minute},", 1) for row in lines[8:] for minute in (30, 60)]
    weather = read_weather(written(tmp_path, lines[:8] + halves))
    assert (weather.count, weather.spacing) == (48, 1800.0)
    assert weather.offset(1, 31, 1.0) == 1800.0


def test_a_zone_in_a_stamp_counts(tmp_path: Path) -> None:
    lines = table()
    shifted = [lines[0], *(row.replace(":00,", ":00+02:00,", 1) for row in lines[1:])]
    plain, ahead = (
        read_weather(written(tmp_path, rows, f"{k}.csv")) for k, rows in enumerate((lines, shifted))
    )
    assert plain.begin - ahead.begin == np.timedelta64(2, "h")


@pytest.mark.parametrize(
    ("first", "second", "at"),
    [(",12,31", ",1,1", (1, 1)), (",2,28", ",2,29", (2, 29)), (",2,28", ",3,1", (3, 1))],
)
def test_weather_goes_on_over_new_year_and_over_february(
    tmp_path: Path, first: str, second: str, at: tuple[int, int]
) -> None:
    rows = [row.replace(",1,31", first, 1).replace(",2,1", second, 1) for row in epw()[8:]]
    assert read_weather(written(tmp_path, epw()[:8] + rows)).offset(*at, 6) == pytest.approx(29 * 3600)


def test_a_column_with_a_gap_is_not_used_and_said(tmp_path: Path) -> None:
    lines = epw()
    lines[20] = epw(sky_W_m2=9999)[20]
    written(tmp_path, lines)
    weather = read_weather(tmp_path / "w.csv")
    assert "sky_W_m2" not in weather.values
    assert weather.gaps == {"sky_W_m2": 1}
    whole = case(tmp_path)
    notes = " ".join(weather_notes(case_for(whole, "now"), whole.episodes[0]))
    assert "sky_W_m2 is missing at 1 of 48 moments" in notes
    assert "the sun of the file is not counted" in notes


def case(folder: Path, sun: dict[str, Any] | None = None, **episode: Any) -> Any:
    raw = line(FLAT, outside={})
    raw["condition"][0] |= {} if sun is None else {"sun": sun}
    raw["episode"] = [{"name": "E", "condition": "now", "lasts": "20 h", "weather": "w.csv"} | episode]
    return parse_case(raw, source=str(folder / "case.toml"))


def test_file_stands_beside_the_case(tmp_path: Path) -> None:
    written(tmp_path, table())
    answer = case(tmp_path, weather_from="02-01 02:30").episodes[0]
    assert answer.file is not None
    assert answer.offset == pytest.approx(6.5 * 3600)


@pytest.mark.parametrize(
    ("episode", "sun", "key", "words"),
    [
        ({"weather": "absent.csv"}, None, "weather", "cannot be read"),
        ({"lasts": "40 h"}, None, "lasts", "longer than"),
        ({"weather_from": "03-01 00:00"}, None, "weather_from", "is not in"),
        ({"weather_from": "noon"}, None, "weather_from", "month, day and hour"),
        ({}, {"irradiance": "500 W/m2", "clock": 3, "absorptivity": 0.4}, "weather", "holds no sun"),
    ],
)
def test_refused_with_its_key(
    tmp_path: Path, episode: dict[str, Any], sun: dict[str, Any] | None, key: str, words: str
) -> None:
    written(tmp_path, table())
    with pytest.raises(CaseError, match=words) as caught:
        case(tmp_path, sun, **episode)
    assert caught.value.key == f'episode[1] "E".{key}'


def test_sun_of_a_file_needs_a_bearing(tmp_path: Path) -> None:
    written(tmp_path, epw())
    with pytest.raises(CaseError, match="by its irradiance"):
        case(tmp_path, {"irradiance": "500 W/m2", "clock": 3, "absorptivity": 0.4})
