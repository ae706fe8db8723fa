"""An episode driven by weather. Every number is invented."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, STORE, line

from sim.case import Case, case_for, parse_case
from sim.heat.network import network
from sim.heat.sun import irradiance
from sim.solve.drive import Drive
from sim.solve.episode import Track, follow
from sim.solve.over_time import _steady
from sim.solve.steady import solve

DAY = {"date": "2026-01-31", "hour": 7, "latitude": 52, "longitude": 5, "bearing": 60, "absorptivity": 0.5}


def swing(k: int) -> float:
    return -10.0 + 5.0 * float(np.cos(2 * np.pi * k / 24))


def written(folder: Path, head: str = "", more: str = "", hours: int = 40) -> None:
    stamps = np.datetime64("2026-01-31T00:00") + np.arange(hours) * np.timedelta64(1, "h")
    rows = [f"{str(t).replace('T', ' ')},{swing(k)},3{more}" for k, t in enumerate(stamps)]
    (folder / "w.csv").write_text("\n".join(["time,dry_bulb_degC,wind_m_s" + head, *rows]), encoding="utf-8")


def case(folder: Path, condition: dict[str, Any], **episode: Any) -> Case:
    raw = line(FLAT, outside={})
    raw["condition"][0] |= condition
    raw["episode"] = [{"name": "E", "condition": "now", "lasts": "8 h"} | episode]
    return parse_case(raw, source=str(folder / "case.toml"))


def run(whole: Case) -> Track:
    narrowed = case_for(whole, "now")
    net = network(narrowed, STORE.get(narrowed, 0.6))
    start = solve(net).temperature

    def record(made: Any, state: Any) -> dict[str, float]:
        return {"mean": float(state.temperature.mean())}

    return follow(net, whole.episodes[0], (), start, 0.01, record)


def test_a_file_is_the_series_that_it_holds(tmp_path: Path) -> None:
    written(tmp_path)
    rows = [[f"{k} h", f"{swing(k)} degC"] for k in range(40)]
    computed = run(case(tmp_path, {"wind": "3 m/s"}, weather="w.csv"))
    given = run(case(tmp_path, {"wind": "3 m/s"}, ambient={"at": rows}, wind="3 m/s"))
    assert computed.values["mean"][-1] == pytest.approx(given.values["mean"][-1], abs=5e-3)
    assert abs(computed.closure) < 1e-8
    assert computed.steps < given.steps  # it does not start anew at every hour


def test_what_the_episode_gives_goes_before_the_file(tmp_path: Path) -> None:
    written(tmp_path)
    whole = case(tmp_path, {}, weather="w.csv", wind="7 m/s", weather_from="01-31 06:00")
    drive = Drive(case_for(whole, "now"), whole.episodes[0], 0.0)
    assert drive.condition(0.0).wind == 7.0
    assert drive.condition(0.0).ambient == pytest.approx(273.15 + swing(6))
    assert drive.condition(5400.0).ambient == pytest.approx(273.15 + 0.5 * (swing(7) + swing(8)))


def test_sky_of_a_file(tmp_path: Path) -> None:
    """A sky that radiates 200 W/m2 is at (200 / sigma)^(1/4)."""
    written(tmp_path, ",sky_W_m2", ",200")
    whole = case(tmp_path, {}, weather="w.csv")
    sky = Drive(case_for(whole, "now"), whole.episodes[0], 0.0).condition(3600.0).sky
    assert sky is not None
    assert sky.temperature == pytest.approx((200 / 5.670374419e-8) ** 0.25)


def test_sun_of_a_clear_day_moves_on(tmp_path: Path) -> None:
    pytest.importorskip("pvlib")
    whole = case(tmp_path, {"sun": DAY})
    drive = Drive(case_for(whole, "now"), whole.episodes[0], 0.0)
    angle = np.radians(np.arange(0, 360, 30))
    for hour in (0, 3, 5, 8):
        sun = drive.condition(3600.0 * hour).sun
        assert sun is not None
        then = case_for(case(tmp_path, {"sun": DAY | {"hour": 7 + hour}}), "now").conditions[0].sun
        assert then is not None
        assert irradiance(sun).at(angle) == pytest.approx(irradiance(then).at(angle), abs=1e-6)


def test_sun_of_a_file_stands_in_the_middle_of_its_hour(tmp_path: Path) -> None:
    pytest.importorskip("pvlib")
    written(tmp_path, ",global_W_m2,direct_W_m2,diffuse_W_m2", ",150,300,80")
    whole = case(tmp_path, {"sun": DAY}, weather="w.csv", lasts="20 h")
    sun = Drive(case_for(whole, "now"), whole.episodes[0], 0.0).condition(3600 * 11.5).sun
    assert sun is not None
    assert sun.diffuse == pytest.approx(80.0)
    assert sun.reflected == pytest.approx(0.2 * 150.0)
    clear = irradiance(parse_sun(hour=11.5))
    assert sun.clock == pytest.approx(float(np.arctan2(clear.right, clear.up)) * 6 / np.pi % 12, abs=0.02)


def test_radiation_of_a_file_is_of_the_hour_before_its_stamp(tmp_path: Path) -> None:
    """What a stamp of 12:00 gives is the mean from 11 to 12, and holds at half past eleven."""
    pytest.importorskip("pvlib")
    written(tmp_path, ",global_W_m2,direct_W_m2,diffuse_W_m2")
    head, *rows = (tmp_path / "w.csv").read_text(encoding="utf-8").splitlines()
    rows = [f"{row},0,0,{10 * k}" for k, row in enumerate(rows)]
    (tmp_path / "w.csv").write_text("\n".join([head, *rows]), encoding="utf-8")
    whole = case(tmp_path, {"sun": DAY}, weather="w.csv", lasts="20 h")
    sun = Drive(case_for(whole, "now"), whole.episodes[0], 0.0).condition(3600 * 11.5).sun
    assert sun is not None
    assert sun.diffuse == pytest.approx(120.0)


def parse_sun(**more: Any) -> Any:
    from sim.case import Sun

    return Sun(**(DAY | more))


def test_steady_start_is_in_the_weather_of_the_first_moment(tmp_path: Path) -> None:
    """A condition in the noon sun whose episode begins at night starts without the sun."""
    pytest.importorskip("pvlib")
    written(tmp_path, ",global_W_m2,direct_W_m2,diffuse_W_m2", ",0,0,0")
    noon = DAY | {"hour": 12, "absorptivity": 0.9}
    whole = case(tmp_path, {"sun": noon, "wind": "9 m/s", "ambient": "-5 degC"}, weather="w.csv")
    narrowed, dark = (
        case_for(whole, "now"),
        case_for(case(tmp_path, {"wind": "3 m/s", "ambient": "-5 degC"}), "now"),
    )
    answer = _steady(network(narrowed, STORE.get(narrowed, 0.6)), whole.episodes[0], None)
    still = solve(network(dark, STORE.get(dark, 0.6)))
    assert answer.temperature == pytest.approx(still.temperature, abs=1e-3)
