"""The output folder is the old one or the new one, never half of each."""

import errno
import json
import os
from pathlib import Path

import pytest

from sim.report.folder import OutputError, kept_beside, written_folder


def write(out: Path, text: str) -> None:
    with written_folder(out) as work:
        (work / "report.html").write_text(text)
        files = ["report.html", "results.json"]
        (work / "results.json").write_text(json.dumps({"program": "coldspot", "files": files}))


def alone(parent: Path, *names: str) -> bool:
    return sorted(os.listdir(parent)) == sorted(names)


def test_new_folder_and_its_parents(tmp_path: Path) -> None:
    write(tmp_path / "a" / "b", "one")
    assert (tmp_path / "a" / "b" / "report.html").read_text() == "one"
    assert alone(tmp_path / "a", "b")


def test_former_run_is_replaced_whole(tmp_path: Path) -> None:
    write(tmp_path / "out", "one")
    write(tmp_path / "out", "two")
    assert (tmp_path / "out" / "report.html").read_text() == "two"
    assert alone(tmp_path, "out")


@pytest.mark.parametrize(
    "error", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt(), ValueError()]
)
def test_an_error_leaves_the_old_folder(tmp_path: Path, error: BaseException) -> None:
    write(tmp_path / "out", "one")

    def stop_half_way() -> None:
        with written_folder(tmp_path / "out") as work:
            (work / "report.html").write_text("half")
            raise error

    with pytest.raises((OutputError, KeyboardInterrupt, ValueError)):
        stop_half_way()
    assert (tmp_path / "out" / "report.html").read_text() == "one"
    assert alone(tmp_path, "out")


@pytest.mark.parametrize("error", [OSError(errno.EIO, "Input/output error"), KeyboardInterrupt()])
def test_a_failed_rename_puts_the_old_folder_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: BaseException
) -> None:
    write(tmp_path / "out", "one")
    rename = Path.rename

    def refuse(self: Path, target: Path) -> Path:
        if self.name.endswith("-new"):
            raise error
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", refuse)
    with pytest.raises((OutputError, KeyboardInterrupt)):
        write(tmp_path / "out", "two")
    assert (tmp_path / "out" / "report.html").read_text() == "one"
    assert alone(tmp_path, "out")


def test_a_folder_with_other_files_is_refused(tmp_path: Path) -> None:
    out = tmp_path / "out"
    write(out, "one")
    (out / "notes.txt").write_text("mine")
    with pytest.raises(OutputError, match=r"notes\.txt"):
        write(out, "two")
    assert (out / "notes.txt").read_text() == "mine"
    (tmp_path / "thesis").mkdir()
    (tmp_path / "thesis" / "results.json").write_text("{}")
    with pytest.raises(OutputError, match=r"results\.json"):
        write(tmp_path / "thesis", "two")


def test_an_empty_folder_is_taken(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    write(tmp_path / "out", "one")
    assert (tmp_path / "out" / "report.html").exists()


def test_refusals(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputError, match="is a file"):
        write(tmp_path / "file", "one")
    with pytest.raises(OutputError, match="cannot be written"):
        write(tmp_path / "file" / "below", "one")
    monkeypatch.chdir(tmp_path)
    with pytest.raises(OutputError, match="the folder you are in"):
        write(Path("."), "one")
    assert alone(tmp_path, "file")


def test_permissions_follow_the_umask(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write(tmp_path / "out", "one")
    finally:
        os.umask(before)
    assert (tmp_path / "out").stat().st_mode & 0o777 == 0o750


def test_what_a_stopped_run_keeps_is_told_and_goes_when_it_ends_well(tmp_path: Path) -> None:
    told: list[str] = []

    def stopped() -> None:
        with kept_beside(tmp_path / "out", told.append) as folder:
            assert folder is not None
            folder.mkdir()
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stopped()
    (kept,) = tmp_path.iterdir()
    assert "the same command goes on" in told[0]
    with kept_beside(tmp_path / "out", told.append) as again:
        assert again == kept
    assert not kept.exists()
    assert len(told) == 1
