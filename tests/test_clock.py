"""The clock study: turning tracers, the table it makes, and the command."""

import csv
import io
import json
from pathlib import Path

import pytest
from plain_lines import FLAT, LIQUID
from typer.testing import CliRunner

from sim.case import Case, CaseError, case_for, parse_case
from sim.cli import app
from sim.report.clock import clock_csv, remarks
from sim.study.clock import ClockStudy, clock, turned

OIL = LIQUID | {
    "conductivity": "0.13 W/m/K",
    "density": "950 kg/m3",
    "specific_heat": "1900 J/kg/K",
    "viscosity": "1 Pa s",
    "expansion": "7e-4 1/K",
}
TOML = """title = "Clock (invented)"
pipe = { outer_diameter = "60 mm", wall = "2 mm", material = "stainless steel" }
contents = { fluid = { conductivity = "0.13 W/m/K", density = "950 kg/m3", specific_heat = "1900 J/kg/K", \
viscosity = "1 Pa s", expansion = "7e-4 1/K" } }
insulation = { layer = [{ thickness = "30 mm", conductivity = "0.04 W/m/K" }] }
outside = { coefficient = "10 W/m2/K" }
tracer = [{ name = "T1", clock = 5.0, shape = "flat", width = "12 mm", height = "5 mm", output = "20 W/m" }]
condition = [{ name = "cold", ambient = "-10 degC" }]
"""


def line(*clocks: float) -> Case:
    tracers = [
        FLAT | {"name": f"T{i}", "clock": c, "output": "10 W/m"} for i, c in enumerate(clocks, start=1)
    ]
    return parse_case(
        {
            "pipe": {"outer_diameter": "60 mm", "wall": "2 mm", "material": "stainless steel"},
            "contents": {"fluid": OIL},
            "tracer": tracers,
            "insulation": {"layer": [{"thickness": "30 mm", "conductivity": "0.04 W/m/K"}]},
            "outside": {"coefficient": "10 W/m2/K"},
            "sensor": [{"name": "S1", "clock": 1.0}],
            "condition": [{"name": "cold", "ambient": "-10 degC"}],
        }
    )


def test_tracers_turn_together_or_alone() -> None:
    case = case_for(line(5.0, 8.0), "cold")
    together = turned(case, 11.0, "buoyant")
    assert [t.clock for t in together.tracers] == [11.0, 2.0]
    assert together.contents.state == "buoyant"
    alone = turned(case, 2.0, "still", "T2")
    assert [t.clock for t in alone.tracers] == [5.0, 2.0]
    with pytest.raises(CaseError):
        turned(case, 5.0, "still", "T2")
    with pytest.raises(CaseError, match="T9"):
        turned(case, 5.0, "still", "T9")


@pytest.fixture(scope="module")
def study() -> ClockStudy:
    return clock(line(5.0), positions=(5.0, 7.0, 11.0), pictured=(5.0, 11.0), fineness=2.0)


def test_what_does_not_move_does_not_mind_the_clock(study: ClockStudy) -> None:
    for state in ("still", "mixed"):
        found = study.curve(state, "contents.min")
        assert len(found) == 3
        for _, value in found[1:]:
            assert abs(value.value - found[0][1].value) <= value.band + found[0][1].band


def test_what_moves_does(study: ClockStudy) -> None:
    found = dict(study.curve("buoyant", "contents.min"))
    assert found[5.0].value == pytest.approx(found[7.0].value, abs=1e-3)
    assert found[5.0].value - found[11.0].value > found[5.0].band + found[11.0].band
    assert any("warmest with the tracer at" in text for text in remarks(study))


def test_table_and_kept_fields(study: ClockStudy) -> None:
    rows = list(csv.DictReader(io.StringIO(clock_csv(study))))
    assert len(rows) == 9
    assert {r["state"] for r in rows} == {"still", "buoyant", "mixed"}
    assert all(r["sensors.S1.reading degC"] for r in rows)
    assert set(study.fields) == {(c, s) for c in (5.0, 11.0) for s in ("still", "buoyant", "mixed")}


def test_command_writes_table_and_pictures(tmp_path: Path) -> None:
    case, out = tmp_path / "case.toml", tmp_path / "out"
    case.write_text(TOML, encoding="utf-8")
    told = CliRunner().invoke(
        app, ["clock", str(case), "--at", "5,11", "--fineness", "1.5", "--out", str(out)]
    )
    assert told.exit_code == 0, told.output
    assert "coldest contents" in told.output
    tree = json.loads((out / "results.json").read_text(encoding="utf-8"))
    assert sorted(tree["files"]) == sorted(p.name for p in out.iterdir())
    assert {"clock.csv", "clock.png", "clock_fields.png"} <= set(tree["files"])
    wrong = CliRunner().invoke(app, ["clock", str(case), "--at", "13"])
    assert wrong.exit_code == 2
