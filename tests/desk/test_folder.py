"""What a desk may read and write: the case files of its folder, whatever it is asked for."""

import os
import shlex
from pathlib import Path
from typing import Any

import pytest

from sim.case import CaseError, load_case
from sim.case.shipped import shipped
from sim.case.text import printable
from sim.desk.folder import Folder, settings_of

from .conftest import CASE, TOKEN, Ask, Browser

NAMES = r"""
../secret.toml ..\secret.toml /etc/passwd /secret.toml C:\secret.toml \\host\share\secret.toml .. . .toml
.hidden.toml sub/inside.toml ./case.toml case.toml/../../secret.toml %2e%2e%2fsecret.toml ....//secret.toml
file:///etc/passwd ~/secret.toml link.toml linked/inside.toml case.toml:stream shipped: shipped:../case.toml
shipped:../../pyproject.toml shipped:studies/clock-full.toml shipped:/etc/passwd CASE notes.txt con?.toml
"""
ODD = ("case.toml\0.png", "case.toml\n", "\u202elmot.toml", "x" * 300 + ".toml", "", None, 5, ["case.toml"])
ATTACKS = [*NAMES.split(), *ODD]


@pytest.fixture
def secret(folder: Folder) -> Path:
    """A file outside the folder, with ways that lead to it."""
    outside = folder.path.parent / "secret.toml"
    outside.write_text(CASE.replace("Small line", "SECRET"), encoding="utf-8")
    (folder.path / "link.toml").symlink_to(outside)
    (folder.path / "linked").symlink_to(outside.parent)
    (folder.path / "sub").mkdir()
    (folder.path / "sub" / "inside.toml").write_text(CASE, encoding="utf-8")
    (folder.path / "notes.txt").write_text("SECRET", encoding="utf-8")
    (folder.path / ".hidden.toml").write_text(CASE.replace("Small line", "SECRET"), encoding="utf-8")
    return outside


def tree(place: Path) -> dict[str, bytes]:
    return {str(p): p.read_bytes() for p in sorted(place.rglob("*")) if p.is_file()}


@pytest.mark.parametrize("name", ATTACKS)
def test_no_other_file_is_read(ask: Ask, secret: Path, name: Any) -> None:
    for do in ("open", "move", "compare"):
        answer = ask(do, case=name, pinned=[])
        assert "SECRET" not in str(answer)
        if name != "":  # the starter, which no file holds
            assert answer["faults"]


# the one with % is a plain name once it is not decoded
@pytest.mark.parametrize("name", [n for n in ATTACKS if "%" not in str(n)])
def test_no_other_file_is_written(ask: Ask, secret: Path, name: Any) -> None:
    before = tree(secret.parent)
    assert ask("save", (["tracer", "T1", "clock"], "4"), target=name, digest="")["faults"]
    assert tree(secret.parent) == before


@pytest.mark.parametrize("name", [n for n in ATTACKS if isinstance(n, str) and printable(n) == n])
def test_no_other_file_is_served(browser: Browser, secret: Path, name: str) -> None:
    for way in ("page", "report"):
        reply = browser.get(f"/{TOKEN}/{way}/{name}")
        assert reply.status_code in (400, 403, 404) or name in ("..", ".")  # the page itself
        assert "SECRET" not in reply.text


def test_a_report_is_served_only_from_the_folder_of_that_case(
    browser: Browser, folder: Folder, secret: Path
) -> None:
    (secret.parent / "elsewhere").mkdir()
    (secret.parent / "elsewhere" / "report.html").write_text("SECRET")
    (folder.path / "case-report").symlink_to(secret.parent / "elsewhere")
    assert browser.get(f"/{TOKEN}/report/case").status_code == 404
    (folder.path / "case-report").unlink()
    (folder.path / "case-report").mkdir()
    (folder.path / "case-report" / "report.html").write_text("the report")
    assert browser.get(f"/{TOKEN}/report/case").text == "the report"


def test_weather_outside_the_folder_is_not_read(ask: Ask, folder: Folder) -> None:
    (folder.path.parent / "weather.csv").write_text("SECRET,SECRET\n1,2\n")
    episode = '{ condition = "cold", lasts = "1 h", weather = "%s" }'
    for path in ("../weather.csv", "/etc/passwd", "sub/../../weather.csv"):
        answer = ask("open", (["episode", "E"], episode % path))
        assert answer["faults"][0]["key"] == 'episode[1] "E".weather'
        assert "leads out of the case's folder" in answer["faults"][0]["message"]
        assert "SECRET" not in str(answer)


def test_only_cases_are_listed(folder: Folder, secret: Path) -> None:
    (folder.path / "study.toml").write_text('[study]\ncase = "case.toml"\n')
    (folder.path / "broken.toml").write_text("[[[")
    assert folder.names() == ["case.toml"]


def test_saving_keeps_comments_mode_and_nothing_beside_it(ask: Ask, folder: Folder) -> None:
    path = folder.path / "case.toml"
    os.chmod(path, 0o640)
    digest = folder.digest("case.toml")
    edits = ((["tracer", "T1", "clock"], "4:30"), (["limits", "wall_min"], "1 degC"))
    answer = ask("save", *edits, target="case.toml", digest=digest)
    assert answer["done"] == {"case": "case.toml", "digest": folder.digest("case.toml")}
    text = path.read_text(encoding="utf-8")
    assert 'clock = "4:30" # by the drawing' in text
    assert text.startswith("# An invented line.\n")
    assert 'size = "DN 50" # as ordered' in text
    assert load_case(path).tracers[0].clock == 4.5
    assert path.stat().st_mode & 0o777 == 0o640
    assert [p.name for p in folder.path.iterdir()] == ["case.toml"]


def test_a_file_changed_meanwhile_is_not_written_over_until_it_is_said(ask: Ask, folder: Folder) -> None:
    path, edit = folder.path / "case.toml", (["tracer", "T1", "clock"], "4")
    digest = folder.digest("case.toml")
    path.write_text(CASE.replace("30 mm", "50 mm"), encoding="utf-8")
    before = path.read_bytes()
    answer = ask("save", edit, target="case.toml", digest=digest)["done"]
    assert "has changed" in answer["conflict"]
    assert path.read_bytes() == before
    assert ask("save", edit, target="case.toml", digest=answer["digest"])["done"]["case"] == "case.toml"
    case = load_case(path)  # the other's change is kept: the edit is laid over the file as it is
    assert (case.tracers[0].clock, case.insulation.layers[0].thickness) == (4.0, pytest.approx(0.05))


def test_a_new_name_never_takes_the_place_of_a_file(ask: Ask, folder: Folder) -> None:
    edit = (["tracer", "T1", "clock"], "4")
    assert ask("save", edit, target="new.toml", digest="")["done"]["case"] == "new.toml"
    assert load_case(folder.path / "new.toml").tracers[0].clock == 4.0
    assert "there is a file" in ask("save", edit, target="new.toml", digest="")["done"]["conflict"]
    assert (folder.path / "case.toml").read_text() == CASE


def test_a_case_that_is_not_valid_is_not_saved(ask: Ask, folder: Folder) -> None:
    digest = folder.digest("case.toml")
    answer = ask("save", (["tracer", "T1", "clock"], "13"), target="case.toml", digest=digest)
    assert answer["faults"][0]["key"] == 'tracer[1] "T1".clock'
    assert (folder.path / "case.toml").read_text() == CASE


def test_the_starter_is_saved_under_a_name(ask: Ask, folder: Folder) -> None:
    edit = (["title"], '"Mine"')
    assert ask("save", edit, case="", target="mine.toml", digest="")["done"]["case"] == "mine.toml"
    assert load_case(folder.path / "mine.toml").title == "Mine"
    assert "#" in (folder.path / "mine.toml").read_text()


@pytest.mark.parametrize(
    "edits",
    [
        5,
        "x",
        {},
        [5],
        [{}],
        [{"path": "a", "text": ""}],
        [{"path": [], "text": ""}],
        [{"path": [1], "text": ""}],
        [{"path": ["a"] * 13, "text": ""}],
        [{"path": ["a"], "text": 5}],
        [{"path": ["a"], "text": "x" * 30_000}],
        [{"path": ["a" * 61], "text": ""}],
        [{"path": ["title"], "text": "x"}] * 3000,
    ],
)
def test_changes_that_are_none_are_told(ask: Ask, edits: Any) -> None:
    assert ask("open", edits=edits)["faults"]
    with pytest.raises(CaseError):
        settings_of(edits)


def test_a_case_that_comes_with_the_program_is_opened_and_saved_beside_the_own(
    ask: Ask, folder: Folder
) -> None:
    listed = ask("open")["done"]["shipped"]
    assert {"shipped:winter-brine.toml", "shipped:fittings/gate-valve.toml"} <= set(listed)
    assert not any("studies" in name for name in listed)
    for name in listed:
        assert ask("open", case=name)["done"]["title"]
    before = shipped()["winter-brine.toml"].read_bytes()
    name = "shipped:winter-brine.toml"
    edit = (["tracer", "T1", "clock"], "9")
    assert ask("save", edit, case=name, target=name, digest="")["faults"]
    assert ask("save", edit, case=name, target="mine.toml", digest="")["done"]["case"] == "mine.toml"
    assert load_case(folder.path / "mine.toml").tracers[0].clock == 9.0
    assert shipped()["winter-brine.toml"].read_bytes() == before
    command = shlex.split(ask("open", edit, case=name)["done"]["command"])
    assert load_case(command[2]).tracers[0].clock != 9.0
    assert command[3:] == ["--set", "tracer.T1.clock=9"]
