"""The clock study: turning tracers, the table it makes, and the command."""

import csv
import io
import json
import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from plain_lines import FLAT
from typer.testing import CliRunner

from sim.case import Case, CaseError, case_for, load_case, parse_case, resolved
from sim.case.load import turned
from sim.cli import app
from sim.judge.check import check
from sim.report.clock import clock_csv, remarks, write_clock
from sim.solve.section import solve_section
from sim.study import clock as clock_study
from sim.study.clock import clock
from sim.study.positions import ClockStudy

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
    """The same line with tracers of half the heat, and a sensor."""
    tracers = [FLAT | {"name": f"T{i}", "clock": c, "output": "10 W/m"} for i, c in enumerate(clocks, 1)]
    sensor = [{"name": "S1", "clock": 1.0}]
    return parse_case(tomllib.loads(TOML) | {"tracer": tracers, "sensor": sensor})


def test_tracers_turn_together_or_alone() -> None:
    case = line(5.0, 8.0)
    together = turned(case, "cold", 11.0, "buoyant")
    assert [t.clock for t in together.tracers] == [11.0, 2.0]
    assert together.contents.state == "buoyant"
    alone = turned(case, "cold", 2.0, "still", "T2")
    assert [t.clock for t in alone.tracers] == [5.0, 2.0]
    with pytest.raises(CaseError):
        turned(case, "cold", 5.0, "still", "T2")
    with pytest.raises(CaseError, match="T9"):
        turned(case, "cold", 5.0, "still", "T9")


@pytest.fixture(scope="module")
def study() -> ClockStudy:
    return clock(line(5.0), positions=(5.0, 11.0), pictured=(5.0, 11.0), fineness=1.2)


def test_what_does_not_move_does_not_mind_the_clock(study: ClockStudy) -> None:
    for state in ("still", "mixed"):
        computed = study.curve(state, "contents.min")
        assert len(computed) == 2
        for _, value in computed[1:]:
            assert abs(value.value - computed[0][1].value) <= value.band + computed[0][1].band


def test_what_moves_does(study: ClockStudy) -> None:
    computed = dict(study.curve("buoyant", "contents.min"))
    assert computed[5.0].value - computed[11.0].value > computed[5.0].band + computed[11.0].band
    (answer, *_) = remarks(study)
    gain = computed[5.0].value - computed[11.0].value
    assert f"5 o'clock is worth something over 11 o'clock, at most {gain:.2f} ± " in answer
    assert "none is worth anything beyond the band of" in answer
    mixed, still = (dict(study.curve(state, "contents.min")).values() for state in ("mixed", "still"))
    most = max(b.value for b in mixed) - min(b.value for b in still)
    assert f"At most {most:.2f} K whatever the contents do" in answer
    assert most > gain
    assert "No limit is given" in answer


def test_a_bracket_does_not_count_as_resolved(study: ClockStudy) -> None:
    """A flow that would not last has its Rayleigh number but is a bracket."""
    moving = [r for r in study.rows if r.state == "buoyant" and "contents.rayleigh" in r.quantities]
    assert len(moving) > 1

    def lines(marked: int) -> list[str]:
        at = {row.clock: replace(row, bracketed=True) for row in moving[:marked]}
        placed = tuple(
            replace(p, rows=tuple(at.get(r.clock, r) if r.state == "buoyant" else r for r in p.rows))
            for p in study.placed
        )
        return [line for line in remarks(replace(study, placed=placed)) if "buoyant fields" in line]

    n = len(moving)
    (line,) = lines(1)
    assert f"{n - 1} of {n} buoyant fields that were resolved. 1 of {n} buoyant fields are brackets" in line
    assert lines(n) == [f"{n} of {n} buoyant fields are brackets: their flow was not resolved."]
    assert "brackets" not in lines(0)[0]
    for reach in re.findall(r"(\S+) to (\S+?)[, ]", line):
        assert reach[0] != reach[1]


def test_table_and_kept_fields(study: ClockStudy) -> None:
    rows = list(csv.DictReader(io.StringIO(clock_csv(study))))
    assert [r["limits"] for r in rows] == ["no limits"] * 6
    assert {r["state"] for r in rows} == {"still", "buoyant", "mixed"}
    assert all(r["sensors.S1.reading degC"] for r in rows)
    assert set(study.fields) == {(c, s) for c in (5.0, 11.0) for s in ("still", "buoyant", "mixed")}


def test_command_writes_table_and_pictures(tmp_path: Path) -> None:
    case, out = tmp_path / "case.toml", tmp_path / "out"
    case.write_text(TOML, encoding="utf-8")
    outcome = CliRunner().invoke(
        app, ["clock", str(case), "--at", "5", "--fineness", "1", "-p", "1", "--out", str(out)]
    )
    assert outcome.exit_code == 0, outcome.output
    assert "coldest contents" in outcome.output
    tree = json.loads((out / "results.json").read_text(encoding="utf-8"))
    assert sorted(tree["files"]) == sorted(p.name for p in out.iterdir())
    assert {"clock.csv", "clock.png", "clock_fields.png"} <= set(tree["files"])
    wrong = CliRunner().invoke(app, ["clock", str(case), "--at", "13"])
    assert wrong.exit_code == 2


WITH_SHOE = TOML.replace("clock = 5.0", "clock = 3.0")
WITH_SHOE += 'support = [{ name = "S1" }]\nlimits = { contents_min = "5 degC", sheath_max = "90 degC" }\n'
DRAINED = 'ambient = "-10 degC" }, { name = "hot, drained", ambient = "45 degC", contents.state = "empty" }]'


def written(folder: Path, text: str) -> str:
    (folder / "case.toml").write_text(text, encoding="utf-8")
    return str(folder / "case.toml")


def test_an_impossible_position_is_marked_and_the_others_are_kept(tmp_path: Path) -> None:
    """A shoe is at 6; every condition is held; what is not held is said; no line crosses the gap."""
    case = load_case(written(tmp_path, WITH_SHOE.replace('ambient = "-10 degC" }]', DRAINED)))
    study = clock(case, positions=(12.0, 3.0, 6.0), fineness=1.0, states=("still",))
    assert [at.clock for at in study.placed] == [0.0, 3.0, 6.0]
    assert [bool(at.impossible) for at in study.placed] == [False, False, True]
    names = {(h.condition, h.check.limit) for h in study.placed[0].checks}
    assert names == {(c, limit) for c in ("cold", "hot, drained") for limit in ("contents_min", "sheath_max")}
    # by the drained sheath, in a condition that is not watched
    assert {at.verdict for at in study.placed[:2]} == {"fail"}
    listed = " ".join(remarks(study))
    assert "S1) are not judged here" in listed
    assert "6 o'clock: not possible: support[1]" in listed
    assert "sheath of T1 not above 90.0 degC in hot, drained is missed at every position" in listed
    rows = list(csv.DictReader(io.StringIO(clock_csv(study))))
    assert [r["limits"] for r in rows] == ["fail", "fail", "not possible"]


def test_empty_contents_stay_empty_and_it_is_said(tmp_path: Path) -> None:
    case = load_case(written(tmp_path, TOML.replace('ambient = "-10 degC" }]', DRAINED)))
    study = clock(case, "hot, drained", positions=(4.0, 11.0), fineness=1.0, pictured=(4.0,))
    assert {row.state for row in study.rows} == {"empty"}
    assert study.case.contents.state == "empty"
    assert any("are empty in hot, drained; they were left so" in text for text in remarks(study))
    write_clock(study, tmp_path)
    assert (tmp_path / "clock.png").exists()
    assert not (tmp_path / "clock_fields.png").exists()


def test_nothing_is_computed_where_no_position_is_possible(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(clock_study, "solve_section", None)  # computing would be a fault
    path = written(tmp_path, WITH_SHOE)
    outcome = CliRunner().invoke(app, ["clock", path, "--at", "6"])
    assert (outcome.exit_code, outcome.stdout) == (2, "")
    assert outcome.stderr.startswith(f"coldspot: {path}: support[1]")


def test_a_fault_at_one_position_keeps_the_others(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    solve = clock_study.solve_section

    def broken(case: Case, *more: object) -> object:
        if case.tracers[0].clock == 4.0:
            raise KeyError("missing")
        return solve(case, *more)

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(clock_study, "solve_section", broken)
    words = ["clock", written(tmp_path, TOML), "--at", "4,5", "--fineness", "1", "--out", "out", "-p", "1"]
    outcome = CliRunner().invoke(app, words)
    assert outcome.exit_code == 70
    assert "4 o'clock: not computed: internal fault (KeyError)" in outcome.stdout
    assert len(json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))["rows"]) == 3


def test_a_stopped_study_goes_on_with_its_finished_positions(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Stopped after one position of two; the second run computes the other alone, and the answer is that of one run.
    Another case, or another fineness, does not go on with it."""
    computed: list[float] = []
    solve = clock_study.solve_section

    def counted(case: Case, *more: Any) -> Any:
        computed.append(case.tracers[0].clock)
        return solve(case, *more)

    def stop(*_: str) -> None:
        raise KeyboardInterrupt

    case = turned(line(5.0), "cold", 5.0, "mixed")

    def run(fineness: float = 1.0, **more: Any) -> ClockStudy:
        computed.clear()
        more = {"kept": tmp_path} | more
        return clock(case, positions=(4.0, 11.0), states=("mixed",), fineness=fineness, **more)

    monkeypatch.setattr(clock_study, "solve_section", counted)
    with pytest.raises(KeyboardInterrupt):
        run(progress=stop)
    again = run()
    assert set(computed) == {11.0}
    whole = run(kept=None)
    assert [str(vars(row)) for row in again.rows] == [str(vars(row)) for row in whole.rows]
    assert [str(at.checks) for at in again.placed] == [str(at.checks) for at in whole.placed]
    assert remarks(again) == remarks(whole)
    for other in ({"fineness": 1.2}, {"tracer": "T1"}):
        assert run(**other).rows
        assert set(computed) == {4.0, 11.0}


@pytest.mark.slow
def test_processes_change_nothing() -> None:
    one, two = (
        clock(line(5.0), positions=(4.0, 11.0), states=("still",), fineness=1.0, processes=n) for n in (1, 2)
    )
    # as text: a number that is not there (NaN) is not equal to itself once it has been sent
    assert [str(vars(row)) for row in one.rows] == [str(vars(row)) for row in two.rows]


def test_episodes_that_are_not_followed_are_named() -> None:
    cut = {"name": "cut", "condition": "cold", "lasts": "2 h"}
    study = clock(parse_case({**resolved(line(5.0)), "episode": [cut]}), positions=(5.0,), fineness=1.0)
    assert any("episodes (cut) are not followed" in text for text in remarks(study))


@pytest.mark.parametrize("asked", [{"margin": "8 K"}, {"output_margin": 0.3}])
@pytest.mark.parametrize("supports", [False, pytest.param(True, marks=pytest.mark.slow)])
def test_margins_that_limits_ask_for_are_held_at_every_position(
    asked: dict[str, Any], supports: bool
) -> None:
    """As `coldspot check` holds them where the tracers lie: in the section, in the bend and at a support."""
    raw = resolved(line(5.0)) | {"elbow": {"radius": "120 mm"}}
    wall = solve_section(case_for(parse_case(raw), "cold"), fineness=1.0).value("wall.min")
    if supports:
        raw |= {"support": [{"name": "S1", "family": "clamp", "spacing": "0.4 m"}]}
    case = parse_case(raw | {"limits": {"wall_min": f"{wall - 276.15:.3f} degC"} | asked})
    (at,) = clock(case, positions=(5.0,), states=("still",), fineness=1.0, supports=supports).placed
    answer = check(case, fineness=1.0)
    assert [one.check.verdict for one in at.checks] == [c.verdict for j in answer.judged for c in j.limits]
    assert {one.check.verdict for one in at.checks} == {"fail"}
    assert at.verdict == answer.verdict == "fail"
