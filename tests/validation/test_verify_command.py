"""`coldspot verify` end to end, on planted checks."""

import csv
import json
from pathlib import Path

import planted_checks as planted
import pytest
from planted_checks import plant
from typer.testing import CliRunner

from sim.cli import app
from validation.published import pictures

runner = CliRunner()


def verify(*words: str) -> tuple[int, str, str]:
    result = runner.invoke(app, ["verify", *words])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.stdout, result.stderr


@pytest.fixture(autouse=True)
def _one_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pictures, "PICTURES", pictures.PICTURES[:1])


@pytest.mark.parametrize(
    ("check", "code"),
    [(planted.right, 0), (planted.wrong, 1), (planted.stops, 1), (planted.elsewhere, 3)],
)
def test_exit_code(monkeypatch: pytest.MonkeyPatch, check: object, code: int) -> None:
    plant(monkeypatch, check)
    assert verify("--quiet")[0] == code


def test_bad_use(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    plant(monkeypatch, planted.right)
    assert verify("--no-such-option")[0] == 2
    assert verify("--page", str(tmp_path / "page.html"))[0] == 2
    assert verify("--page", str(tmp_path / "nowhere" / "page.md"))[0] == 2
    (tmp_path / "mine.txt").write_text("kept")
    code, _, error = verify("--out", str(tmp_path))
    assert code == 2
    assert "mine.txt" in error


def test_quiet_says_only_what_failed(monkeypatch: pytest.MonkeyPatch) -> None:
    plant(monkeypatch, planted.right, planted.wrong)
    code, output, error = verify("--quiet")
    assert (code, output) == (1, "")
    assert "planted.wrong" in error
    assert "planted.right" not in error


def test_folder_holds_every_row(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    plant(monkeypatch, planted.many, planted.endless, planted.elsewhere)
    out = tmp_path / "out"
    assert verify("--quiet", "--out", str(out))[0] == 1
    assert verify("--quiet", "--out", str(out))[0] == 1  # over a former run

    def refuse(word: str) -> None:
        raise AssertionError(word)

    tree = json.loads((out / "checks.json").read_text(), parse_constant=refuse)
    rows = [row for check in tree["checks"] for row in check["rows"]]
    assert len(rows) == 13
    assert rows[3] == rows[3] | {"published": 1.0, "tolerance": 0.5, "keys": ["carslaw1959"], "passed": True}
    assert rows[-1]["computed"] is None
    assert "no_such_package" in tree["checks"][2]["not_run"]
    assert sorted(tree["files"]) == sorted(entry.name for entry in out.iterdir())
    table = list(csv.DictReader((out / "checks.csv").read_text().splitlines()))
    assert [line["passed"] for line in table] == ["pass"] * 12 + ["FAIL", "not run"]
    page = (out / "checks.md").read_text()
    assert page.count("| number ") == 12
    assert "(pictures/checks-differences.png)" in page
    assert (out / "pictures" / "checks-differences.png").stat().st_size > 1000


def test_stopped_run_leaves_the_old_page_and_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    page, out = tmp_path / "page.md", tmp_path / "out"
    plant(monkeypatch, planted.right)
    verify("--quiet", "--page", str(page), "--out", str(out))
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    plant(monkeypatch, planted.right, planted.interrupted)
    assert verify("--quiet", "--page", str(page), "--out", str(out))[0] == 130
    plant(monkeypatch, planted.right)

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("validation.published.files.draw", interrupt)
    assert verify("--quiet", "--page", str(page))[0] == 130
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before
