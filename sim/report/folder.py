"""An output folder that is either the old one or the new one, never half of each.

It is written under a hidden name beside its place, held by a lock that ends with the process. Where the system can
exchange two names in one step, not even a process that is killed leaves the place empty; elsewhere the next run puts
the old folder back. What a killed run leaves under a hidden name, the next run of the same folder removes.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sim.report.exchange import exchanged
from sim.study.signals import held_signals

MANIFEST = "results.json"
"""The file whose `files` lists what a folder of ours holds."""


PART, OLD = ".part", ".old"
"""Ends of the hidden names: a folder being written, and a former one on its way out."""


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
            raise OutputError(_holds(out, others))
    return target


def _holds(out: Path, others: list[str]) -> str:
    return (
        f"{out}: holds files that are not of a former run ({', '.join(others[:3])}"
        f"{', ...' if len(others) > 3 else ''}); accepted: a new or empty folder, or one of a former run"
    )


def _nothing(_: str = "") -> None:
    """A listener that does not listen."""


@contextmanager
def written_folder(
    out: Path,
    manifest: str = MANIFEST,
    say: Callable[[str], None] = _nothing,
    placed: Callable[[], None] = _nothing,
) -> Iterator[Path]:
    """A new folder to write into that takes the place of `out` when the block ends without an error.

    manifest: the file that says what a run wrote; say: told what an earlier, killed run had left and this one tidied;
    placed: called once the new folder is in place.
    Raises OutputError where `out` may not be replaced or its parent cannot be written. On any error or signal inside
    the block the new folder is removed and the old one stays as it was.
    """
    made: list[Path] = []
    work: Path | None = None
    lock: int | None = None
    try:
        with held_signals():
            target = target_of(out, manifest)
            made = _missing_parents(target)
            target.parent.mkdir(parents=True, exist_ok=True)
            _tidy(target, say)
            work, lock = _new_folder(target)
            umask = os.umask(0)
            os.umask(umask)
            work.chmod(0o777 & ~umask)
        yield work
        with held_signals():
            _take_place(work, target, out, manifest)
            placed()
    except OSError as error:
        raise OutputError(f"{out}: cannot be written: {error.strerror or error}") from error
    finally:
        with held_signals():
            if work is not None and work.exists():
                shutil.rmtree(work, ignore_errors=True)
            _remove_empty(made)
            if lock is not None:
                os.close(lock)


def _take_place(work: Path, target: Path, out: Path, manifest: str) -> None:
    """Put the new folder in its place; afterwards the old one is under the new one's former name, or gone."""
    try:
        work.rename(target)  # a place that is free, or an empty folder
        return
    except OSError as error:
        if error.errno not in (errno.ENOTEMPTY, errno.EEXIST, errno.EACCES) or not target.is_dir():
            raise
    others = foreign(target, manifest)  # asked again: the run may have taken long
    if others:
        raise OutputError(_holds(out, others))
    if not exchanged(work, target):
        _change_places(work, target)


def _change_places(work: Path, target: Path) -> None:
    """The same in two steps, for file systems that cannot exchange two names."""
    old, lock = work.with_suffix(OLD), None
    with suppress(OSError):
        lock = _lock(target)
    try:
        target.rename(old)
        try:
            work.rename(target)
        except BaseException:
            old.rename(target)
            raise
        shutil.rmtree(old, ignore_errors=True)
    finally:
        if lock is not None:
            os.close(lock)


def _label(target: Path) -> str:
    name = target.name
    if len(os.fsencode(name)) <= 200:
        return f".{name}."
    return f".{name[:40]}-{hashlib.sha256(os.fsencode(name)).hexdigest()[:12]}."


def _new_folder(target: Path) -> tuple[Path, int | None]:
    """A new hidden folder beside the target, with its lock. Raises OSError."""
    while True:
        work = Path(tempfile.mkdtemp(prefix=_label(target), suffix=PART, dir=target.parent))
        try:
            lock = _lock(work)
        except (BlockingIOError, FileNotFoundError):
            continue  # another run took it for a dead one's before it was locked, and removes it
        if work.exists():
            return work, lock
        if lock is not None:
            os.close(lock)


def _lock(folder: Path) -> int | None:
    """A lock on a folder that ends with the process; None where there are none. Raises OSError where another has it."""
    try:
        import fcntl
    except ImportError:
        return None
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        os.close(handle)
        if error.errno in (errno.ENOLCK, errno.ENOTSUP, errno.EINVAL, errno.EBADF):
            return None
        raise
    return handle


def _tidy(target: Path, say: Callable[[str], None]) -> None:
    """Remove what killed runs into this folder left, and put back an old folder that one had moved aside."""
    pattern = re.compile(re.escape(_label(target)) + r"[a-z0-9_]{8}(?:\.part|\.old)")
    for left in [e for e in target.parent.iterdir() if pattern.fullmatch(e.name) and not e.is_symlink()]:
        try:
            lock = _lock(left)
        except OSError:
            continue  # of a run that is at work
        if lock is None:
            continue
        try:
            if left.suffix == OLD and not target.exists():
                left.rename(target)
                say(f"{target}: put back as it was before a run that was killed")
            else:
                shutil.rmtree(left, ignore_errors=True)
                say(f"{left}: removed, left by a run that was killed")
        finally:
            os.close(lock)


def _missing_parents(target: Path) -> list[Path]:
    return [parent for parent in target.parents if not parent.exists()]


def _remove_empty(folders: list[Path]) -> None:
    for folder in folders:
        try:
            folder.rmdir()
        except OSError:
            return
