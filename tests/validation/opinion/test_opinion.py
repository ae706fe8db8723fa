"""The second opinion: how answers are judged, what is shown and written, and both peers on small cases."""

import io
import json
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, line, only
from typer.testing import CliRunner

from sim.case import CaseError, to_toml
from sim.cli import app
from sim.solve.at_rest import MeshStore, SectionResult
from sim.solve.measures import CLOCK
from sim.solve.section import solve_section
from validation.opinion.compare import (
    ELEMENTS,
    FIPY,
    Compared,
    Opinion,
    compare,
    judged,
    of_condition,
    second_opinion,
)
from validation.opinion.view import show_opinion, write_opinion
from validation.peers import process as peer
from validation.peers.elements.field import not_covered
from validation.peers.process import Job, Reply, ask

ANGLE = np.radians(np.arange(0.0, 360.0, 5.0))
WALL = ANGLE, 300.0 - np.cos(2 * ANGLE)  # coldest at 12 and 6, hottest at 3 and 9
ROOM = 1e-3


@pytest.mark.parametrize(
    ("value", "verdict"),
    [(300.0, "agree"), (300.29, "agree"), (299.71, "agree"), (300.304, "near"), (300.32, "differ")],
)
def test_temperatures_agree_within_both_bands_together(value: float, verdict: str) -> None:
    """0.2 and 0.1 K; near is within 0.01 % of a span of 50 K more."""
    row = Compared("wall.min", 300.0, 0.2, 50.0)
    assert judged(row, value, 0.1, WALL, 0.0) == verdict


@pytest.mark.parametrize(
    ("ours", "theirs", "verdict"),
    [
        (11.95, 0.05, "agree"),
        (12.0, 6.0, "agree"),
        (0.3, 0.0, "agree"),
        (0.0, 0.8, "differ"),
        (6.0, 9.0, "differ"),
    ],
)
def test_places_agree_next_to_each_other_or_where_the_wall_is_as_cold(
    ours: float, theirs: float, verdict: str
) -> None:
    row = Compared("wall.min_clock", ours, 0.0, 50.0)
    assert judged(row, theirs, 0.0, WALL, ROOM) == verdict


@pytest.fixture(scope="module")
def result() -> SectionResult:
    sensor = [{"name": "S1", "clock": 9.0}]
    return solve_section(only(line(FLAT, sensor=sensor, title="<b>Line</b> & more")), fineness=1.0)


def elements_reply(result: SectionResult, off: float = 0.0) -> dict[str, Any]:
    """Finite elements that say what we say, warmer by so much everywhere."""
    group: dict[str, dict[str, float]] = {}
    for path, banded in result.quantities.items():
        name, _, last = path.rpartition(".")
        group.setdefault(name, {})[last] = banded.value + (0.0 if last.endswith("_clock") else off)
    around = compare(result, {FIPY: Reply(failure="-"), ELEMENTS: Reply(failure="-")}).around["ours"]
    one = {
        "wall": group["wall"],
        "barrier": group["barrier"],
        "contents": group["contents"],
        "gas": None,
        "tracers": {"T1": group["tracers.T1"]},
        "heat_out": result.value("heat_out"),
        "heat_from_contents": 0.0,
        "around": {"wall": (around.wall[0], around.wall[1] + off), "cover": around.cover},
        "unknowns": 1000,
    }
    return {"coarse": one, "fine": one, "refine": (0.5, 1.0)}


def fipy_reply(result: SectionResult, off: float = 0.0) -> dict[str, Any]:
    return {"temperature": result.solution.temperature + off, "sweeps": 5}


def opinion(result: SectionResult, fipy: Reply, elements: Reply) -> Opinion:
    return Opinion(result.case, (compare(result, {FIPY: fipy, ELEMENTS: elements}),))


def test_equal_answers_agree_and_shifted_ones_differ(result: SectionResult) -> None:
    same = opinion(result, Reply(fipy_reply(result)), Reply(elements_reply(result)))
    assert same.exit_code == 0
    rows = {row.quantity: row for row in same.conditions[0].rows}
    assert {row.fipy_verdict for row in rows.values()} == {"agree"}
    assert {row.elements_verdict for row in rows.values()} == {"agree"}
    assert "sensors.S1.reading" in rows
    assert "from_contents" not in rows

    far = opinion(result, Reply(fipy_reply(result)), Reply(elements_reply(result, 3.0)))
    assert far.exit_code == 1
    assert "sensors.S1.reading" in {row.quantity for row in far.conditions[0].differing}
    assert all(row.fipy_verdict == "agree" for row in far.conditions[0].rows)

    swept = opinion(result, Reply(fipy_reply(result, 1e-5)), Reply(elements_reply(result)))
    assert swept.exit_code == 1
    assert swept.conditions[0].farthest_node == pytest.approx(1e-5, rel=1e-3)


def test_a_peer_without_an_answer_is_said_and_is_no_agreement(result: SectionResult) -> None:
    half = opinion(result, Reply(fipy_reply(result)), Reply(failure="not covered: stacked"))
    assert half.exit_code == 3
    assert half.conditions[0].missing == {ELEMENTS: "not covered: stacked"}
    both = opinion(result, Reply(fipy_reply(result, 1.0)), Reply(failure="not covered: stacked"))
    assert both.exit_code == 1


def test_a_folder_that_lists_itself_and_text_that_is_text(result: SectionResult, tmp_path: Path) -> None:
    second = opinion(result, Reply(fipy_reply(result)), Reply(elements_reply(result, 0.5)))
    out = io.StringIO()
    show_opinion(second, out)
    assert "not a certificate" in out.getvalue()
    write_opinion(second, tmp_path)
    shown = json.loads((tmp_path / "opinion.json").read_text())
    assert sorted(shown["files"]) == sorted(p.name for p in tmp_path.iterdir())
    page = (tmp_path / "opinion.html").read_text()
    assert "&lt;b&gt;Line&lt;/b&gt; &amp; more" in page
    assert "<b>Line" not in page


def test_conditions_are_asked_for_by_name_and_stacked_tracers_are_not_covered(tmp_path: Path) -> None:
    raw = line(FLAT, ROUND | {"name": "T2", "diameter": "6 mm", "over": "T1"})
    path = tmp_path / "case.toml"
    path.write_text(to_toml(only(raw)))
    gathered: list[str] = []

    def peers(jobs: Any, seconds: float) -> dict[str, Reply]:
        gathered.extend(jobs)
        return {FIPY: Reply(failure="fipy not installed")}

    second = second_opinion(path, "now", fineness=1.0, peers=peers)
    assert gathered == [FIPY]
    assert "stacked" in second.conditions[0].missing[ELEMENTS]
    assert second.exit_code == 3
    with pytest.raises(ValueError, match='"then" is not in the case; accepted: now'):
        second_opinion(path, "then", peers=peers)
    path.write_text("title = 1")
    with pytest.raises(CaseError):
        second_opinion(path, peers=peers)


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (["none.toml"], "none.toml: cannot be read"),
        (["CASE", "--full"], "--full and --page belong to the published checks"),
        (["CASE", "--condition", "then"], '"then" is not in the case; accepted: now'),
        (["--condition", "now"], "--condition: needs a case file"),
    ],
)
def test_bad_use_of_the_command_is_one_line(words: list[str], text: str, tmp_path: Path) -> None:
    path = tmp_path / "case.toml"
    path.write_text(to_toml(only(line(FLAT))))
    result = CliRunner().invoke(app, ["verify", *(str(path) if w == "CASE" else w for w in words)])
    assert result.exit_code == 2
    assert text in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


def test_what_the_finite_elements_do_not_cover_is_said() -> None:
    foil = {"thickness": "0.1 mm", "contact_conductance": "bonded"}
    pressed = {"thickness": "0.1 mm"}
    apart, close = FLAT | {"name": "T2", "clock": 7.0}, FLAT | {"name": "T2", "clock": 5.9}
    assert not_covered(only(line(FLAT, apart, foil=foil))) == ""
    assert not_covered(only(line(FLAT, close))) == ""
    assert "contact resistance" in not_covered(only(line(FLAT, apart, foil=pressed)))
    assert not_covered(only(line(FLAT, apart, foil=pressed, insulation__fit="bridged"))) == ""
    assert "hulls meet" in not_covered(only(line(FLAT, close, foil=foil)))
    assert "move" in not_covered(only(line(FLAT, contents__state="buoyant")))


def module(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, body: str) -> str:
    name = f"peer_{abs(hash(body))}"
    (tmp_path / f"{name}.py").write_text(body)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    return name


SERVED = "from validation.peers.process import serve\ndef work(given):\n    {}\nserve(work)\n"


def test_peers_answer_fail_or_are_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bodies = {
        "answers": SERVED.format("return {'twice': 2 * given['x']}"),
        "refuses": SERVED.format("raise ValueError('too hot')"),
        "lacks": SERVED.format("raise OSError('libGLU.so.1: cannot open shared object file')"),
        "dies": "import sys; sys.exit('gone')",
    }
    jobs = {k: Job(module(tmp_path, monkeypatch, b), (), {"x": 4}) for k, b in bodies.items()}
    answers = ask(jobs | {"absent": Job("nothing", ("no_such_package",), {})}, 60.0)
    assert answers["answers"].answer == {"twice": 8}
    assert answers["refuses"].failure == "too hot"
    assert "libGLU.so.1" in answers["lacks"].failure
    assert "pip install 'coldspot[validation]'" in answers["lacks"].failure
    assert "gone" in answers["dies"].failure
    assert answers["absent"].failure == "no_such_package not installed: pip install 'coldspot[validation]'"


@pytest.mark.parametrize("interrupted", [False, True])
def test_no_peer_is_left_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, interrupted: bool) -> None:
    messages = tmp_path / "pid"
    body = f"import os, time, pathlib\npathlib.Path({str(messages)!r}).write_text(str(os.getpid()))\ntime.sleep(60)"
    jobs = {"sleeps": Job(module(tmp_path, monkeypatch, body), (), {})}
    pause = peer.time.sleep

    def sleep(seconds: float) -> None:
        pause(seconds)
        if interrupted and messages.exists() and messages.read_text():
            raise KeyboardInterrupt

    monkeypatch.setattr(peer.time, "sleep", sleep)
    if interrupted:
        with pytest.raises(KeyboardInterrupt):
            ask(jobs, 60.0)
    else:
        assert ask(jobs, 0.6)["sleeps"].failure == "no answer within 0.6 s"
    with pytest.raises(ProcessLookupError):
        os.kill(int(messages.read_text()), 0)


SMALL = {
    "half full, mixed, foil, air beside the tracer": line(
        FLAT | {"output": {"at": [["-20 degC", "40 W/m"], ["80 degC", "0 W/m"]]}},
        insulation__fit="bridged",
        foil={"thickness": "0.1 mm"},
        contents__state="mixed",
        contents__fill=0.4,
    ),
    "empty, hanging shell, wind from one side": line(
        ROUND,
        insulation__fit="oversize",
        insulation__bore="140 mm",
        contents__state="empty",
        outside={},
        condition__wind="3 m/s",
        condition__wind_from=9.0,
    ),
    "flowing, partly full, two layers": line(
        ROUND,
        contents__state="flowing",
        contents__fill=0.6,
        contents__temperature="40 degC",
        contents__velocity="0.2 m/s",
        barrier={"thickness": "0.6 mm", "material": "aluminium"},
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", SMALL)
def test_fipy_and_finite_elements_agree_on_real_cases(name: str, tmp_path: Path) -> None:
    pytest.importorskip("skfem")
    pytest.importorskip("fipy")
    path = tmp_path / "case.toml"
    path.write_text(to_toml(only(SMALL[name])))
    second = second_opinion(path, fineness=2.0).conditions[0]
    assert not second.missing
    assert second.farthest_node is not None
    assert second.farthest_node < 1e-6
    assert [row.quantity for row in second.rows if row.fipy_verdict != "agree"] == []
    known = [row for row in second.rows if row.elements is not None and row.measure is not CLOCK]
    assert len(known) >= 10
    for row in known:
        assert abs(row.apart(row.elements)) < 0.005 * row.span, row
        assert abs(row.apart(row.elements)) <= 2 * (row.band + row.elements_band) + 1e-4 * row.span, row


RISING = [["-20 degC", "3 W/m"], ["5 degC", "4 W/m"], ["25 degC", "15 W/m"], ["100 degC", "38 W/m"]]
TWO_STATES = line(FLAT | {"output": {"at": RISING}})


def test_each_steady_state_is_asked_about_with_its_own_outputs() -> None:
    """The finite elements are given the outputs of the state in question, FiPy its field to start from."""
    given: list[dict[str, Any]] = []

    def peers(jobs: Any, seconds: float) -> dict[str, Reply]:
        given.append({name: job.given for name, job in jobs.items()})
        return {name: Reply(failure="not asked here") for name in jobs}

    case = only(TWO_STATES)
    second = of_condition(case, MeshStore(), 1.0, lambda what: None, peers)
    assert len({opinion.name for opinion in second}) == 2
    outputs = [each[ELEMENTS]["case"].tracers[0].output for each in given]
    assert [output.kind for output in outputs] == ["fixed", "fixed"]
    assert outputs[1].power > 2 * outputs[0].power
    assert given[1][FIPY]["start"] > given[0][FIPY]["start"] + 20


@pytest.mark.slow
def test_both_peers_agree_on_both_steady_states(tmp_path: Path) -> None:
    pytest.importorskip("skfem")
    pytest.importorskip("fipy")
    path = tmp_path / "case.toml"
    path.write_text(to_toml(only(TWO_STATES)))
    second = second_opinion(path, fineness=3.0)
    assert len(second.conditions) == 2
    assert second.exit_code == 0
