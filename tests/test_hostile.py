"""Every file of the hostile corpus: one message or an answer, never a traceback, and nothing that steers a terminal."""

import csv
import json
import os
import re
import shutil
import unicodedata
import warnings
from html.parser import HTMLParser
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sim.case import CaseError, load_case
from sim.case.text import steers
from sim.cli import app
from sim.report.words import file_names
from sim.study.cells import cell

CORPUS = Path(__file__).parent / "hostile"
REFUSED, ACCEPTED = sorted((CORPUS / "refused").iterdir()), sorted((CORPUS / "accepted").iterdir())
STUDIES = [path for path in sorted((CORPUS / "studies").iterdir()) if path.name != "line.toml"]
MARK = "\u200e"  # left-to-right, set after names written from right to left
runner = CliRunner()


def run(*words: str) -> tuple[int, str, str]:
    result = runner.invoke(app, list(words))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert not steers(result.stdout, allowed="\n")
    return result.exit_code, result.stdout, result.stderr


def refused(*words: str, named: str = "") -> str:
    """The lines that a command ends with, one a fault; each names the file, or the one that this file leads to."""
    code, out, err = run(*words)
    assert (code, out) == (2, ""), (code, out, err)
    assert err.endswith("\n")
    lines = err[:-1].split("\n")
    assert len(lines) <= 21
    for line in lines:
        assert not steers(line)
        assert (named or words[1]) in line
        assert len(line) < 2000
    return err


def test_every_file_is_described() -> None:
    text = (CORPUS / "README.md").read_text(encoding="utf-8")
    sections = [re.findall(r"^\| `(.+?)` \|", part, re.MULTILINE) for part in text.split("\n## ")[1:]]
    assert sections == [[path.name for path in paths] for paths in (REFUSED, ACCEPTED, STUDIES)]


@pytest.mark.parametrize("path", REFUSED, ids=lambda path: path.stem)
def test_refused(path: Path, tmp_path: Path) -> None:
    refused("check", str(path), "--out", str(tmp_path / "out"))
    assert os.listdir(tmp_path) == []


@pytest.mark.slow
@pytest.mark.parametrize("path", REFUSED, ids=lambda path: path.stem)
def test_refused_by_the_other_commands(path: Path, tmp_path: Path) -> None:
    assert refused("clock", str(path)) == refused("check", str(path))
    led_to = "LICENSE" if path.stem == "case-climbs" else ""
    refused("study", str(path), "--out", str(tmp_path / "study"), named=led_to)
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("path", STUDIES, ids=lambda path: path.stem)
def test_studies_are_refused(path: Path, tmp_path: Path) -> None:
    led_to = "LICENSE" if path.stem == "case-climbs" else ""
    refused("study", str(path), "--out", str(tmp_path / "study"), named=led_to)
    assert os.listdir(tmp_path) == []


def test_what_is_no_file(tmp_path: Path) -> None:
    """A folder, a named pipe that nobody writes, a loop of links, files too large, a path that is too long."""
    made = {"folder": "Is a directory", "pipe": "is a pipe", "loop": "symbolic links", "large": "too large"}
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "loop").symlink_to("loop")
    with open(tmp_path / "large", "wb") as file:
        file.truncate(2**40)  # a terabyte with nothing in it
    for name, words in made.items():
        assert words in refused("check", str(tmp_path / name))
        assert words in refused("study", str(tmp_path / name))
    assert "cannot be read" in refused("check", str(tmp_path / ("x" * 5000))[:1000])
    assert "is a pipe or a device" in refused("check", "/dev/zero")


@pytest.mark.parametrize(
    "text",
    ["a = 1\n" * 2, "[t]\n" + "".join(f"k{n} = 1\n" for n in range(5000)), "[[tracer]]\n" * 3000],
    ids=["twice", "many keys", "many tables"],
)
def test_many_of_everything_ends_in_a_few_lines(text: str, tmp_path: Path) -> None:
    (tmp_path / "many.toml").write_text(text)
    refused("check", str(tmp_path / "many.toml"))


@pytest.mark.parametrize("path", ACCEPTED, ids=lambda path: path.stem)
def test_accepted_names_make_file_names(path: Path) -> None:
    case = load_case(path)
    names = file_names([c.name for c in case.conditions])
    for name in names.values():
        assert all(unicodedata.category(c)[0] in "LMN" or c in "_.+-" for c in name)
        assert len(os.fsencode(f"section_{name}.png")) <= 255
        assert unicodedata.is_normalized("NFC", name)
    assert len({name.casefold() for name in names.values()}) == len(names)


class Shown(HTMLParser):
    """What a page shows: its elements, and the text outside of styles."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.elements: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.text: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        if self.elements[-1:] != ["style"]:
            self.text.append(data)


def shown_as_text(path: Path, out: Path) -> None:
    with warnings.catch_warnings():
        warnings.filterwarnings(
            "error", message="Glyph"
        )  # a letter without a glyph must not end on the terminal
        code, printed, err = run("check", str(path), "--out", str(out), "--fineness", "1")
    assert code == 0
    assert not steers(err, allowed="\n")
    assert all(
        messages.startswith("coldspot: ") for messages in err.splitlines()
    )  # its progress, a line a stage
    case = load_case(path)
    page = Shown((out / "report.html").read_text(encoding="utf-8"))
    text = "".join(page.text).replace(MARK, "")
    assert text.count(case.title) >= 2  # the window's title and the heading
    for name in (*(c.name for c in case.conditions), *(t.name for t in case.tracers)):
        assert name in text
        assert re.sub(r"\s", "", name) in re.sub(rf"[\s{MARK}]", "", printed)
    assert not {"script", "svg", "b", "iframe", "object", "base", "link"} & set(page.elements)
    for name, value in page.attributes:
        assert not name.startswith("on")
        assert name not in ("src", "href") or (value or "").startswith("data:image/png;base64,")
    tree = json.loads((out / "results.json").read_text(encoding="utf-8"))
    assert sorted(tree["files"]) == sorted(os.listdir(out))
    for row in csv.reader((out / "three_meshes.csv").read_text(encoding="utf-8").splitlines()):
        assert all(text == cell(text) for text in row)
    assert load_case(out / "resolved.toml").title == case.title


@pytest.mark.slow
@pytest.mark.parametrize("path", ACCEPTED, ids=lambda path: path.stem)
def test_every_accepted_file_has_a_report_that_shows_text(path: Path, tmp_path: Path) -> None:
    shown_as_text(path, tmp_path / "out")


@pytest.mark.parametrize("text", ["=1+1", "@SUM(A1)", "-2+3", "+1(2)", "\t=1", "-cmd!A1", "=a"])
def test_cells_that_a_spreadsheet_would_compute_are_text(text: str) -> None:
    assert cell(text) == f"'{text}"


@pytest.mark.parametrize("text", ["-10 degC", "+5", "-1.5e-3 W/m2/K", "cold", "a=b", "", "5 - 3", -3.0, None])
def test_numbers_and_words_stay_as_they_are(text: object) -> None:
    assert cell(text) == text


def test_nothing_of_a_spoilt_message_reaches_the_terminal(tmp_path: Path) -> None:
    """File names may hold escapes too."""
    path = tmp_path / "\x1b[2Jcase.toml"
    shutil.copy(CORPUS / "refused" / "empty.toml", path)
    code, out, err = run("check", str(path))
    assert (code, out) == (2, "")
    assert not steers(err, allowed="\n")
    with pytest.raises(CaseError, match=r"^.* \[2Jcase\.toml: pipe"):
        load_case(path)
