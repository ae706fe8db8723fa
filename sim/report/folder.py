"""An output folder that is either the old one or the new one, never half of each."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

MANIFEST = "results.json"
"""The file whose `files` lists what a folder of ours holds."""


class OutputError(Exception):
    """An output folder that cannot be used; `str(error)` is the whole message."""


def foreign(folder: Path, manifest: str = MANIFEST) -> list[str]:
    """Names in a folder that a former run did not write; empty for an empty folder.

    manifest: the file that says what the run wrote.
    """
    present = sorted(entry.name for entry in folder.iterdir())
    if not present:
        return []
    try:
        said = json.loads((folder / manifest).read_text(encoding="utf-8"))
        ours = set(said["files"]) if said["program"] == "coldspot" else set()
    except (OSError, ValueError, KeyError, TypeError):
        ours = set()
    return [name for name in present if name not in ours]


def target_of(out: Path, manifest: str = MANIFEST) -> Path:
    """The folder to be written, resolved. Raises OutputError if it may not be replaced."""
    target = Path(os.path.abspath(out)) if not out.is_symlink() else out.resolve()
    if target.exists() and not target.is_dir():
        raise OutputError(f"{out}: is a file; accepted: a folder that does not exist, or one of a former run")
    if target == target.parent or Path.cwd().is_relative_to(target):
        raise OutputError(
            f"{out}: is the folder you are in, or above it; accepted: a folder below it or elsewhere"
        )
    if target.is_dir():
        try:
            others = foreign(target, manifest)
        except OSError as error:
            raise OutputError(f"{out}: cannot be read: {error.strerror}") from None
        if others:
            raise OutputError(
                f"{out}: holds files that are not of a former run ({', '.join(others[:3])}"
                f"{', ...' if len(others) > 3 else ''}); accepted: a new or empty folder, or one of a former run"
            )
    return target


@contextmanager
def written_folder(out: Path, manifest: str = MANIFEST) -> Iterator[Path]:
    """A new folder to write into that takes the place of `out` when the block ends without an error.

    Raises OutputError where `out` may not be replaced or its parent cannot be written. On any error inside the
    block the new folder is removed and the old one stays as it was.
    """
    made: list[Path] = []
    try:
        target = target_of(out, manifest)
        made = _missing_parents(target)
        target.parent.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=f".{target.name[:60]}.", suffix=".part", dir=target.parent))
    except OSError as error:
        _remove_empty(made)
        raise OutputError(f"{out}: cannot be written: {error.strerror or error}") from None
    try:
        umask = os.umask(0)
        os.umask(umask)
        work.chmod(0o777 & ~umask)
        yield work
        _take_place(work, target)
    except OSError as error:
        raise OutputError(f"{out}: cannot be written: {error.strerror or error}") from error
    finally:
        if work.exists():
            shutil.rmtree(work, ignore_errors=True)
            _remove_empty(made)


def _take_place(work: Path, target: Path) -> None:
    if not target.exists():
        work.rename(target)
        return
    aside = Path(tempfile.mkdtemp(prefix=f".{target.name[:60]}.", suffix=".old", dir=target.parent))
    old = aside / "old"
    try:
        target.rename(old)
        try:
            work.rename(target)
        except BaseException:
            if not target.exists():
                old.rename(target)
            raise
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _missing_parents(target: Path) -> list[Path]:
    return [parent for parent in target.parents if not parent.exists()]


def _remove_empty(folders: list[Path]) -> None:
    for folder in folders:
        try:
            folder.rmdir()
        except OSError:
            return
