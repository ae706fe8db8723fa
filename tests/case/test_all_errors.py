"""Every fault of a file is told at once, one line each; clock positions as people write them."""

import copy
from datetime import time
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from sim.case import CaseError, parse_case, resolved
from sim.cli import app


def faults(raw: dict[str, Any]) -> dict[str, str]:
    """What is wrong with a case: message by key."""
    with pytest.raises(CaseError) as caught:
        parse_case(raw, source="line.toml")
    error = caught.value
    assert error.file == "line.toml"
    every = [error, *error.others]
    assert [line.split(": ")[0] for line in error.lines] == ["line.toml"] * len(every)
    assert all("\n" not in line for line in error.lines)
    assert str(error) == error.lines[0] + (f" (and {len(every) - 1} more)" if error.others else "")
    return {fault.key or "": fault.message for fault in every}


def test_every_wrong_key_is_told(plastic: dict[str, Any]) -> None:
    raw = copy.deepcopy(plastic)
    raw["pipe"]["wall"] = "10 kg"
    raw["tracer"][1]["clok"] = raw["tracer"][1].pop("clock")
    raw["condition"][0]["wind"] = "-1 m/s"
    raw["condition"][2]["tracer"] = {"T2": {"on": "no"}, "T1": {"tolerance": 3}}
    computed = faults(raw)
    assert set(computed) == {
        "pipe.wall",
        'tracer[2] "T2".clok',
        'condition[1] "winter-night".wind',
        'condition[3] "one-tracer-failed".tracer[1] "T1".tolerance',
        'condition[3] "one-tracer-failed".tracer[2] "T2".on',
    }


def test_faults_between_tables_and_in_several_conditions_are_told_at_once(plastic: dict[str, Any]) -> None:
    raw = copy.deepcopy(plastic)
    raw["condition"][0]["tracer"] = {"T9": {"on": False}}
    raw["condition"][1] |= {"pipe": {"wall": "90 mm"}, "sensor": {"S1": {"clock": 13}}}
    assert set(faults(raw)) == {
        'condition[1] "winter-night".tracer.T9',
        'condition[2] "summer-day".pipe.wall',
        'condition[2] "summer-day".sensor[1] "S1".clock',
    }
    raw = copy.deepcopy(plastic)
    raw["contents"] |= {"state": "flowing", "gas": "water"}
    raw["limits"] = {"wall_min": "50 degC", "wall_max": "40 degC"}
    raw["insulation"]["bore"] = "200 mm"
    contents = {f"contents.{key}" for key in ("temperature", "velocity", "gas")}
    assert set(faults(raw)) == contents | {"limits.wall_max", "insulation.bore"}


def test_keys_that_do_nothing_are_told_at_once(plastic: dict[str, Any]) -> None:
    raw = copy.deepcopy(plastic)
    raw["contents"] |= {"temperature": "20 degC", "velocity": "1 m/s"}
    assert set(faults(raw)) == {"contents.temperature", "contents.velocity"}


def test_the_command_prints_a_line_for_each(plastic: dict[str, Any], tmp_path: Path) -> None:
    import tomli_w

    raw = copy.deepcopy(plastic)
    raw["pipe"]["wall"] = "10"
    raw["foil"]["thickness"] = "x"
    (tmp_path / "line.toml").write_text(tomli_w.dumps(raw), encoding="utf-8")
    done = CliRunner().invoke(app, ["check", str(tmp_path / "line.toml")])
    assert done.exit_code == 2
    lines = done.stderr.splitlines()
    assert [("pipe.wall" in line, "foil.thickness" in line) for line in lines] == [
        (True, False),
        (False, True),
    ]
    assert all(line.startswith("coldspot: ") for line in lines)


@pytest.mark.parametrize(
    ("written", "hours"),
    [
        *(("4:30", 4.5), ("04:30", 4.5), ("4:30:36", 4.51), (time(4, 30), 4.5), ("12:00", 12.0)),
        *(("12:30", 0.5), ("0:45", 0.75), (time(0, 15), 0.25), (4.5, 4.5), (12, 12.0)),
    ],
)
def test_a_clock_position_as_it_is_read_off(plastic: dict[str, Any], written: Any, hours: float) -> None:
    raw = copy.deepcopy(plastic)
    raw["sensor"][0]["clock"] = written
    case = parse_case(raw)
    assert case.sensors[0].clock == pytest.approx(hours)
    assert parse_case(resolved(case)) == case


@pytest.mark.parametrize(
    "written", ["13:00", "4:60", "4.5", "half past four", time(16, 30), 12.5, -1, "4:30 pm"]
)
def test_what_is_on_no_clock_face_is_refused(plastic: dict[str, Any], written: Any) -> None:
    raw = copy.deepcopy(plastic)
    raw["sensor"][0]["clock"] = written
    with pytest.raises(CaseError, match=r'sensor\[1\] "S1"\.clock: .*accepted: .*0 to 12'):
        parse_case(raw)
