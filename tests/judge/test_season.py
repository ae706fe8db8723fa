"""A season by the reduced model, held against the full field. Every number is invented."""

import csv
import io
import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, STORE, line
from typer.testing import CliRunner

from sim.case import Case, case_for, parse_case
from sim.cli import app
from sim.heat.network import network
from sim.judge.season import apart, season
from sim.judge.worst_week import in_full, worst_week
from sim.report.season_results import season_csv, season_results
from sim.solve.quantities import quantities
from sim.solve.steady import solve
from sim.year import write

CONTROL = {"name": "C1", "sensor": "S1", "on_below": "8 degC", "off_above": "12 degC"}


def weather(folder: Path, hours: int, air: Any) -> Path:
    stamps = np.datetime64("2026-01-01T00:00") + np.arange(hours) * np.timedelta64(1, "h")
    rows = [f"{str(t).replace('T', ' ')},{air(k):.3f},3" for k, t in enumerate(stamps)]
    path = folder / "w.csv"
    path.write_text("\n".join(["time,dry_bulb_degC,wind_m_s", *rows]), encoding="utf-8")
    return path


def case(**more: Any) -> Case:
    barrier = {"material": "aluminium", "thickness": "0.6 mm"}
    raw = line(FLAT, outside={}, barrier=barrier, sensor=[{"name": "S1", "clock": 9.0}], **more)
    raw["insulation"]["layer"][0]["conductivity"] = [["-50 degC", "0.034 W/m/K"], ["100 degC", "0.050 W/m/K"]]
    raw["condition"][0] |= {"wind": "3 m/s", "ambient": "-12 degC"}
    return parse_case(raw)


def test_steady_weather_is_the_steady_field(tmp_path: Path) -> None:
    """In weather that stays, the line is where the full field's steady state is, and what it is given it loses."""
    answer = season(
        case(limits={"contents_min": "5 degC"}), weather(tmp_path, 40, lambda k: -12.0), "now", (), 1.0
    )
    narrowed = case_for(case(), "now")
    exact = quantities(solve(network(narrowed, STORE.get(narrowed, 1.0))))
    assert answer.season.courses["contents"] == pytest.approx(exact["contents.min"], abs=0.1)
    assert np.ptp(answer.season.courses["contents"]) < 0.02
    assert answer.energy == pytest.approx(20.0 * 39 * 3600, rel=1e-9)
    assert answer.duty == pytest.approx(1.0)
    assert answer.hours_beyond == {"contents_min": 0.0}
    table = list(csv.DictReader(io.StringIO(season_csv(answer))))
    assert len(table) == 40
    assert [float(row["contents.min, degC"]) for row in table] == pytest.approx(
        answer.season.extreme("contents") - 273.15, abs=1e-3
    )
    assert table[2]["moment of the file"] == "01-01 02:00"
    tree = season_results(answer)
    assert tree == json.loads(json.dumps(tree, allow_nan=False))
    assert tree["full_field"]["coldest"] == pytest.approx(exact["contents.min"] - 273.15, abs=0.1)
    assert tree["worst_week"] == {"weather_from": "01-01 00:00", "lasts": 39 * 3600.0}
    assert any("one mesh" in note for note in tree["notes"])
    write(case(), answer, None, tmp_path)
    assert json.loads((tmp_path / "results.json").read_text())["episodes"] == {}
    assert "no control: the tracers stay on" in (tmp_path / "report.html").read_text()


def test_reduced_model_follows_a_cold_spell_as_the_full_field_does(tmp_path: Path) -> None:
    """A front of 20 K with days and nights, an insulation whose conductivity changes by half over 150 K."""

    def air(k: int) -> float:
        return float(np.interp(k, [0, 24, 40, 70], [0, 0, -20, -5]) + 4 * np.cos(2 * np.pi * (k - 14) / 24))

    answer = season(case(), weather(tmp_path, 72, air), "now", (), 1.0)
    assert answer.days == 0
    assert answer.error < 0.05
    assert answer.coldest_full == pytest.approx(answer.coldest, abs=0.05)
    assert answer.stretch == (0.0, 71 * 3600.0)


def test_a_share_of_power_over_the_ambient_follows_the_hour_and_not_the_one_before(tmp_path: Path) -> None:
    """In an ambient that falls by 1 K an hour, a share that came an hour late would be 5 % of the power off."""
    share = {"name": "C1", "sensor": "ambient", "full_below": "-20 degC", "off_above": "0 degC"}
    line_ = case(control=[share], contents={"state": "empty", "film_coefficient": "0 W/m2/K"})
    answer = season(line_, weather(tmp_path, 40, lambda k: float(-min(k, 18))), "now", ("C1",), 0.6)
    hours = np.arange(1, 19)
    assert answer.season.output[1:19] == pytest.approx((hours - 0.5), abs=1e-6)  # of 20 W/m, 1 W/m a kelvin
    assert answer.days == 0


def test_a_tracer_turned_down_by_the_ambient_is_as_hot_as_in_the_full_field(tmp_path: Path) -> None:
    """An ambient that falls and rises by 3 K an hour past both ends of the control: an output that stood still for an
    hour would leave the tracer, which follows within minutes, half of an hour's change of it too cold or too hot."""
    share = {"name": "C1", "sensor": "ambient", "full_below": "-10 degC", "off_above": "5 degC"}
    line_ = case(control=[share], limits={"sheath_max": "80 degC", "contents_min": "2 degC"})
    air = weather(tmp_path, 60, lambda k: float(-3 + 12 * np.sin(k / 4)))
    answer = season(line_, air, "now", ("C1",), 0.6)
    assert answer.days == 0
    assert answer.errors["sheath_max"] < 0.1
    assert answer.errors["contents_min"] == answer.error < 0.05


def test_strongly_self_regulating_tracers_settle_to_the_full_fields_steady_state(tmp_path: Path) -> None:
    """An output that falls by 1 W/m a kelvin: what a step of plain iteration would overshoot."""
    output = {"at": [["-20 degC", "60 W/m"], ["40 degC", "0 W/m"]]}
    line_ = case(
        tracer=[
            {"name": "T1", "clock": 6, "shape": "flat", "width": "10 mm", "height": "4 mm", "output": output}
        ],
        contents={"state": "empty", "film_coefficient": "0 W/m2/K"},
    )
    answer = season(line_, weather(tmp_path, 30, lambda k: -12.0), "now", (), 0.6)
    narrowed = case_for(line_, "now")
    exact = quantities(solve(network(narrowed, STORE.get(narrowed, 0.6))))
    assert answer.season.courses["wall"] == pytest.approx(exact["wall.min"], abs=0.05)
    assert answer.error < 0.05


def test_a_line_that_forgets_slowly_is_said_to_hide_a_part_of_the_error(tmp_path: Path) -> None:
    air = weather(tmp_path, 30, lambda k: -12.0)
    quick = season(case(contents={"state": "empty", "film_coefficient": "0 W/m2/K"}), air, "now", (), 0.6)
    slow = season(case(contents={"state": "mixed", "fluid": "water"}), air, "now", (), 0.6)
    assert not any("time constant" in note for note in quick.notes)
    assert any("time constant" in note for note in slow.notes)


@pytest.mark.parametrize("state", ["still", "mixed"])
def test_water_that_may_freeze_is_said_to_hold_no_ice_in_the_reduced_model(
    tmp_path: Path, state: str
) -> None:
    cold = case(contents={"state": state, "fluid": "water"}, tracer=[])
    answer = season(cold, weather(tmp_path, 12, lambda k: -12.0), "now", (), 0.6)
    assert any("the reduced model holds no ice" in note for note in answer.notes)


@pytest.mark.slow
def test_worst_week_in_full_starts_where_the_reduced_model_is(tmp_path: Path) -> None:
    """Its three meshes agree with the season at the coldest hour, and the report says both."""

    def air(k: int) -> float:
        return float(np.interp(k, [0, 30, 60, 90], [0, 0, -20, -5]))

    line_ = case(limits={"contents_min": "0 degC"})
    answer = season(line_, weather(tmp_path, 90, air), "now", (), 1.0)
    lived = in_full(line_, answer, 1.0)
    begin, end = worst_week(answer)
    assert (begin, end) == (0.0, 89 * 3600.0)
    assert lived.result is not None
    low = lived.extremes["contents.min"]
    assert low.min.value == pytest.approx(answer.coldest, abs=0.1 + low.min.band)
    assert lived.result.series["contents.min"].value[0] == pytest.approx(
        answer.season.courses["contents"][0], abs=0.1
    )
    assert any("reduced model's field" in note for note in lived.notes)
    write(line_, answer, lived, tmp_path)
    page = (tmp_path / "report.html").read_text()
    assert "Episode worst week" in page
    tree = json.loads((tmp_path / "results.json").read_text())
    assert tree["episodes"]["worst week"]["extremes"]["contents"]["min"]["min"] == pytest.approx(
        low.min.value - 273.15
    )


@pytest.mark.slow
def test_thermostat_of_a_season_switches_as_in_the_full_field(tmp_path: Path) -> None:
    """Days of frost on a line that its thermostat keeps between 8 and 12 degC: the coldest of each day agrees."""
    line_ = case(control=[CONTROL], contents={"state": "empty", "film_coefficient": "0 W/m2/K"})
    answer = season(line_, weather(tmp_path, 40, lambda k: -15.0 - 3 * np.cos(k / 4)), "now", ("C1",), 1.0)
    assert answer.days == 1
    assert answer.error < 0.2
    assert answer.season.switchings > 10
    assert 0.2 < answer.duty < 0.9


def test_a_days_coldest_is_that_of_all_of_it() -> None:
    """One course that falls across midnight, recorded every hour and at a step's ends, differs by nothing."""
    hours, steps = np.arange(0.0, 97.0), np.array([0.0, 5.3, 23.4, 26.1, 47.6, 50.2, 71.9, 73.0, 95.0, 96.0])
    season_ = SimpleNamespace(courses={"wall": 290.0 - 0.1 * hours}, moment=3600 * hours)
    full = SimpleNamespace(time=(3600 * steps).tolist(), values={"wall": (290.0 - 0.1 * steps).tolist()})
    assert apart(season_, full, 3600 * hours, 0.0, 1, "wall") < 1e-9  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--weather", "absent.csv"], "cannot be read"),
        (["--weather", "w.csv", "--condition", "spring"], 'no condition "spring"'),
        (["--weather", "w.csv", "--control", "C9"], 'no control "C9"'),
    ],
)
def test_command_refuses_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: list[str], words: str
) -> None:
    monkeypatch.chdir(tmp_path)
    weather(tmp_path, 30, lambda k: 0.0)
    shipped = Path(__file__).parents[2] / "cases" / "stainless-thin.toml"
    result = CliRunner().invoke(app, ["year", str(shipped), *options])
    assert result.exit_code == 2
    assert words in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
