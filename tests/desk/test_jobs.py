"""What the desk answers is the library's: the same numbers, messages and verdicts, for each request alone."""

import base64
import shlex
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

import sim
from sim.case import load_case
from sim.case.keys import key_table
from sim.cli import app
from sim.desk.folder import Folder

from .conftest import CASE, TOKEN, Ask, Browser

CLOCK = ["tracer", "T1", "clock"]


def of(rows: list[dict[str, Any]], path: str) -> dict[str, Any]:
    return next(row for row in rows if row["path"] == path)


def unpack(text: str, kind: str = "<f4") -> np.ndarray:
    return np.frombuffer(base64.b64decode(text), kind)


def at_three(folder: Folder, fineness: float) -> sim.Answer:
    """The library's answer with the tracer moved to 3 o'clock."""
    case = sim.with_overrides(load_case(folder.path / "case.toml"), {"tracer": {"T1": {"clock": 3}}})
    return sim.check(case, fineness=fineness)


def test_a_case_is_opened_with_every_key_that_it_may_have(ask: Ask) -> None:
    reply = ask("open")["done"]
    assert reply["conditions"] == ["cold", "warm"]
    assert reply["title"] == "Small line (invented)"
    assert any("fire" in text for text in reply["cautions"])
    rows = [row for group in reply["groups"] for row in group["rows"]]
    shown = {row["key"].replace('[1] "T1"', "[]").replace("[1]", "[]") for row in rows}
    for key, unit, _, meaning in key_table():
        if key.startswith(("tracer[].", "pipe.", "insulation.layer[].", "limits.")) and key.count(".") < 3:
            if key.startswith(("pipe.material.", "insulation.layer[].wet.", "tracer[].output.")):
                continue  # written as one value here, which is one row
            row = next((r for r in rows if r["label"] == key.rpartition(".")[2] and r["unit"] == unit), None)
            assert key in shown, key
            assert row is not None
            assert row["meaning"] or not meaning
    clock = next(row for row in rows if row["key"] == 'tracer[1] "T1".clock')
    assert (clock["text"], clock["unit"], clock["path"]) == ("5", "o'clock", CLOCK)
    assert next(r for r in rows if r["key"] == "contents.state")["choices"]


def test_another_tracer_like_it_is_added_on_the_other_side(ask: Ask) -> None:
    group = next(g for g in ask("open")["done"]["groups"] if g["path"] == ["tracer", "T1"])
    text = '{ name = "T1b", ' + group["copy"][1:]
    handles = ask("open", (["tracer", "T1b"], text))["done"]["handles"]
    clocks = {h["name"]: h["value"] for h in handles if h["kind"] == "tracer"}
    assert clocks == {"tracer T1": 5.0, "tracer T1b": 11.0}


def test_the_field_while_dragging_is_that_of_the_coarse_mesh_without_a_band(ask: Ask, folder: Folder) -> None:
    reply = ask("move", (CLOCK, "3"))["done"]
    answer = at_three(folder, 1.0)
    wanted = answer["cold"]
    for path in ("contents.min", "tracers.T1.sheath_max", "sensors.S1.reading", "heat_out"):
        row = of(reply["numbers"], path)
        assert row["value"] == pytest.approx(wanted[path].value, abs=1e-6)
        assert row["band"] is None
        assert "±" not in row["text"]
    field = reply["picture"]["field"]
    values, corners = unpack(field["value"]), unpack(field["corner"], "<u4")
    assert corners.max() < len(values) == len(unpack(field["point"])) / 2
    assert [values.min(), values.max()] == pytest.approx(field["range"], abs=1e-3)
    assert reply["picture"]["cells"] == [answer["cold"].answer.result.cells[-1]]


def test_on_release_the_verdict_is_that_of_the_command(ask: Ask, folder: Folder) -> None:
    reply = ask("answer", (CLOCK, "3"), fineness=1.5)
    answer = at_three(folder, 1.5)
    done = reply["done"]
    assert done["verdict"] == answer.verdict
    assert [row["condition"] for row in done["limits"]] == ["cold", "warm"]
    part = next(line for line in reply["told"] if "numbers" in line)
    row, wanted = of(part["numbers"], "wall.min"), answer["cold"]["wall.min"]
    assert (row["value"], row["band"]) == (pytest.approx(wanted.value), pytest.approx(wanted.band))
    assert "±" in row["text"]
    assert any("section" in line.get("progress", "") for line in reply["told"])
    command = shlex.split(done["command"])
    assert command == ["coldspot", "check", "case.toml", "--fineness", "1.5", "--set", "tracer.T1.clock=3"]
    result = CliRunner().invoke(app, ["check", str(folder.path / "case.toml"), *command[3:]])
    assert result.exit_code == answer.exit_code
    assert f"Verdict: {answer.verdict}" in result.stdout


def test_what_is_not_solved_is_named(ask: Ask) -> None:
    around = (["support", "S1"], "{ family = 'clamp' }"), (["fitting", "V1"], "{ family = 'globe_valve' }")
    over_time = (["episode", "E1"], "{ condition = 'cold', lasts = '1 h' }")
    edits = (*around, over_time, (["pipe", "size"], "DN 100"))
    assert ask("open", *edits)["done"]["around"] == ["support S1", "fitting V1"]
    done = ask("answer", *edits, fineness=1)["done"]
    assert done["left_out"] == ["support S1", "fitting V1", "episode E1"]
    assert {row["place"] for row in done["limits"]} == {"section"}


@pytest.mark.slow
def test_supports_and_fittings_have_numbers_and_a_picture_on_request(ask: Ask) -> None:
    edits = [(["support", "S1"], "{ family = 'clamp' }"), (["fitting", "V1"], "{ family = 'globe_valve' }")]
    edits += [
        (["pipe", "size"], "DN 100"),
        (["design"], "{ maintain = '5 degC' }"),
        (["condition", "warm"], ""),
    ]
    done = ask("answer", *edits, fineness=1, around=True)["done"]
    assert done["left_out"] == []
    shown = {one["name"]: one for one in done["supports"]}
    assert [shown[name]["kind"] for name in ("S1", "V1")] == ["support", "fitting"]
    for one in shown.values():
        assert base64.b64decode(one["picture"]).startswith(b"\x89PNG")
        assert one["name"] in one["alt"]
        assert one["single"]
        assert one["both"]
        assert any(one["name"] in row["place"] for row in done["limits"])


def test_a_condition_with_a_clock_of_its_own_is_moved_there(ask: Ask) -> None:
    paths = {c: ask("move", condition=c)["done"]["handles"][0]["paths"] for c in ("cold", "warm")}
    assert paths == {"cold": [CLOCK], "warm": [["condition", "warm", *CLOCK]]}
    moved = ask("move", (paths["warm"][0], "9"), condition="warm")["done"]
    assert moved["handles"][0]["value"] == 9.0
    assert ask("move", (paths["warm"][0], "9"), condition="cold")["done"]["handles"][0]["value"] == 5.0


def test_what_can_be_moved_follows_its_key(ask: Ask) -> None:
    wet = (["insulation", "layer", "1", "wet"], "{ from_clock = 5, to_clock = 7, factor = 3 }")
    handles = {h["name"]: h for h in ask("move", wet)["done"]["handles"]}
    assert len(handles) == 6
    for handle in handles.values():
        text = {"clock": "4:35", "share": "0.4", "mm": "45 mm"}[handle["as"]]
        moved = ask("move", wet, *((path, text) for path in handle["paths"]))["done"]
        one = next(h for h in moved["handles"] if h["name"] == handle["name"])
        assert one["value"] == pytest.approx({"clock": 4 + 35 / 60, "share": 0.4, "mm": 45.0}[handle["as"]])


def test_stacked_tracers_move_together(ask: Ask) -> None:
    over = '{ clock = 5, shape = "flat", width = "12 mm", height = "5 mm", output = "5 W/m", over = "T1" }'

    stacked = (["condition", "warm", "tracer"], ""), (["tracer", "T2"], over)
    (handle,) = [h for h in ask("move", *stacked)["done"]["handles"] if h["kind"] == "tracer"]
    assert [path[1] for path in handle["paths"]] == ["T1", "T2"]
    assert "done" in ask("move", *stacked, *((path, "4") for path in handle["paths"]))


@pytest.mark.parametrize(
    ("path", "text", "key", "part"),
    [
        (CLOCK, "4:75", 'tracer[1] "T1".clock', "no position on a clock face"),
        (["pipe", "size"], "DN 51", "pipe.size", "DN"),
        (["contents", "fill"], "2", "contents.fill", "0 to 1"),
        (["insulation", "layer", "1", "thickness"], "30", "insulation.layer[1].thickness", "unit"),
        (["condition", "cold", "ambient"], "5 m", 'condition[1] "cold".ambient', ""),
        (["tracer", "T7", "clock"], "4", "tracer.T7", "accepted: T1"),
        (["colour"], "red", "colour", "unknown key"),
    ],
)
def test_what_is_wrong_stands_with_its_key(ask: Ask, path: list[str], text: str, key: str, part: str) -> None:
    for do in ("open", "move", "answer", "save"):
        fault = ask(do, (path, text), target="other.toml", digest="")["faults"][0]
        assert fault["key"] == key
        assert part in fault["message"]
        assert "\n" not in fault["message"]


def test_a_file_that_cannot_be_read_has_a_form_to_mend_it(ask: Ask, folder: Folder) -> None:
    text = (
        CASE.replace("clock = 5", 'clock = "4:75"').replace('"30 mm"', "30").replace('"-10 degC"', '"-10 m"')
    )
    text = text.replace('material = "carbon steel"', 'material = "carbon steel"\nwal = "4 mm"')
    (folder.path / "broken.toml").write_text(text, encoding="utf-8")
    wrong = {"case": "broken.toml", "mend": True}
    assert ask("open", case="broken.toml")["faults"]  # the last good field stays, elsewhere
    reply = ask("open", **wrong)["done"]
    rows = {row["key"]: row for group in reply["groups"] for row in group["rows"]}
    paths = {fault["key"]: rows[fault["key"]]["path"] for fault in reply["faults"]}  # each beside a row
    assert len(paths) == 4
    mended = {CLOCK[-1]: "4:45", "thickness": "30 mm", "ambient": "-10 degC", "wal": ""}
    edits = [(path, mended[path[-1]]) for path in paths.values()]
    fewer = ask("open", *edits[:2], **wrong)["done"]["faults"]
    assert {fault["key"] for fault in fewer} == set(list(paths)[2:])
    assert ask("open", *edits, **wrong)["done"]["title"] == "Small line (invented)"
    digest = folder.digest("broken.toml")
    assert ask("save", *edits[:2], case="broken.toml", target="broken.toml", digest=digest)["faults"]
    assert ask("save", *edits, case="broken.toml", target="broken.toml", digest=digest)["done"]
    assert load_case(folder.path / "broken.toml").tracers[0].clock == 4.75
    assert "# by the drawing" in (folder.path / "broken.toml").read_text()


@pytest.mark.parametrize(
    "text",
    [
        "pipe = 5",
        "tracer = 3\npipe = {}",
        "[[tracer]]\n[[tracer]]\nname = ''\n[pipe]",
        "[pipe]\nsize = []\n[[condition]]\nname = 3",
    ],
)
def test_whatever_a_file_holds_its_form_can_be_shown(ask: Ask, folder: Folder, text: str) -> None:
    (folder.path / "odd.toml").write_text(text, encoding="utf-8")
    reply = ask("open", case="odd.toml", mend=True)["done"]
    assert reply["faults"]
    assert reply["groups"]


def test_a_section_that_does_not_converge_is_told(ask: Ask) -> None:
    reply = ask("move", (["outside", "coefficient"], "0 W/m2/K"))
    assert "did not converge" in reply["failed"]


def test_the_state_is_the_page_s_own(ask: Ask) -> None:
    """Two pages at once, and undo: an answer depends on nothing but what it is asked with."""
    first = ask("move", (CLOCK, "3"))["done"]["numbers"]
    ask("move", (CLOCK, "9"), (["condition", "cold", "ambient"], "-20 degC"))
    assert ask("move", (CLOCK, "3"))["done"]["numbers"] == first


def test_two_states_are_compared_key_by_key(ask: Ask) -> None:
    ambient = (["condition", "cold", "ambient"], "-20 degC")
    edits = ((CLOCK, "4"), ambient, (["sensor", "S2"], "{ clock = 3 }"))
    reply = ask("compare", *edits, pinned=[])["done"]["inputs"]
    assert 'tracer "T1".clock: 5 -> 4' in reply
    assert 'condition "cold".ambient: -10 degC -> -20 degC' in reply
    assert 'sensor "S2": added' in reply
    assert ask("compare", pinned=[])["done"]["inputs"] == []


def test_contents_that_stir_are_said_to_stand_still_while_dragging(ask: Ask) -> None:
    reply = ask("move", (["contents", "state"], "buoyant"), (["contents", "fluid"], "water"))["done"]
    assert "as if they stood still" in reply["note"]


def test_an_unknown_fineness_is_refused(ask: Ask) -> None:
    for fineness in (0, 100, "3", None, True):
        assert "fineness" in ask("answer", fineness=fineness)["faults"][0]["message"]


def test_the_page_needs_nothing_from_elsewhere(browser: Browser) -> None:
    from importlib.resources import files

    home = browser.get(f"/{TOKEN}/").text
    assert 'data-case="case.toml"' in home
    for entry in files("sim.desk").joinpath("page").iterdir():
        text = entry.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
        assert "http:" not in text
        assert "https:" not in text
        assert "//cdn" not in text
        if entry.name != "index.html":
            assert browser.get(f"/{TOKEN}/page/{entry.name}").status_code == 200
