"""An output folder that is either the old one or the new one, never half of each.

It is written under a hidden name beside its place and takes it by a change of names. One run at a time: a lock on the
new folder ends with its process, and the next run removes or puts back what a killed one left.
"""

import errno
import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

MANIFEST = "results.json"
"""The file whose `files` lists what a folder of ours holds."""

NEW, OLD, KEPT = "coldspot-new", "coldspot-old", "coldspot-kept"
"""Ends of the hidden names: a folder being written, a former one on its way out, what a stopped run goes on with."""


class OutputError(Exception):
    """An output folder that cannot be used; `str(error)` is the whole message.

    late: found only when the run was under way, so that the machine is at fault and not what was asked for.
    """

    def __init__(self, message: str, late: bool = False) -> None:
        super().__init__(message)
        self.late = late


def foreign(folder: Path, manifest: str = MANIFEST) -> list[str]:
    """Names in a folder that a former run did not write; empty for an empty folder.

    manifest: the file that says what the run wrote.
    """
    present = sorted(entry.name for entry in folder.iterdir())
    if not present:
        return []
    try:
        manifest_tree = json.loads((folder / manifest).read_text(encoding="utf-8"))
        ours = set(manifest_tree["files"]) if manifest_tree["program"] == "coldspot" else set()
    except (OSError, ValueError, KeyError, TypeError):
        ours = set()
    return [name for name in present if name not in ours]


def _target(out: Path, manifest: str) -> Path:
    """The folder to be written, resolved. Raises OutputError if it may not be replaced."""
    try:
        target = Path(os.path.abspath(out)) if not out.is_symlink() else out.resolve(strict=False)
        looping = target.is_symlink()
    except (RuntimeError, OSError):  # a loop of links is the one or the other, by the version of Python
        looping = True
    if looping:
        raise OutputError(f"{out}: is a link that leads nowhere; accepted: a folder")
    if target.exists() and not target.is_dir():
        raise OutputError(f"{out}: is a file; accepted: a folder that does not exist, or one of a former run")
    if target == target.parent or Path.cwd().is_relative_to(target):
        raise OutputError(
            f"{out}: is the folder you are in, or above it; accepted: a folder below it or elsewhere"
        )
    if target.is_dir():
        _refuse_foreign(target, out, manifest)
    return target


def _refuse_foreign(target: Path, out: Path, manifest: str, late: bool = False) -> None:
    others = foreign(target, manifest)
    if others:
        raise OutputError(
            f"{out}: holds files that are not of a former run ({', '.join(others[:3])}"
            f"{', ...' if len(others) > 3 else ''}); accepted: a new or empty folder, or one of a former run",
            late,
        )


@contextmanager
def kept_beside(out: Path | None, say: Callable[[str], None]) -> Iterator[Path | None]:
    """A hidden folder beside `out` for what a run that is stopped can go on with; removed where the block ends well.

    say: told, where it does not, that something is kept.
    """
    if out is None:
        yield None
        return
    target = Path(os.path.abspath(out))
    folder = target.with_name(f".{_short(target.name)}.{KEPT}")
    try:
        yield folder
    except BaseException:
        if folder.exists():
            say(f"{out}: what is finished is kept; the same command goes on")
        raise
    shutil.rmtree(folder, ignore_errors=True)


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
    Raises OutputError, before the block is entered, where `out` may not be replaced, cannot be, or another run is
    writing it; `late` where it cannot be written afterwards. On any error or signal inside the block the new folder is
    removed and the old one stays as it was.
    """
    late, new_parents, lock = False, list[Path](), None
    target = new = old = None
    try:
        target = _target(out, manifest)
        new_parents = [parent for parent in target.parents if not parent.exists()]
        target.parent.mkdir(parents=True, exist_ok=True)
        hidden = f".{_short(target.name)}."
        new, old = (target.with_name(hidden + end) for end in (NEW, OLD))
        lock = _locked(new)
        if lock is None:
            raise OutputError(f"{out}: another run is writing it; accepted: another folder")
        _tidy(target, new, old, say)
        if target.exists():
            target.rename(old)  # what will be done at the end can be done: no mount point, no missing right
            old.rename(target)
        late = True
        yield new
        if target.exists():
            _refuse_foreign(target, out, manifest, late)  # asked again: the run may have taken long
            target.rename(old)
        new.rename(target)
        placed()
    except OSError as error:
        # a folder that may not get another name is in use, mostly as a mount point
        hint = "; accepted: a folder in it" if error.errno == errno.EBUSY and not late else ""
        raise OutputError(f"{out}: cannot be written: {error.strerror or error}{hint}", late) from error
    finally:
        if target is not None and new is not None and old is not None:
            try:
                _clear(target, new, old, lock)
            except BaseException:  # stopped while it was clearing: what is begun is finished
                _clear(target, new, old, lock)
                raise
        with suppress(OSError):
            for folder in new_parents:
                folder.rmdir()


def _clear(target: Path, new: Path, old: Path, lock: int | None) -> None:
    """Put the old folder back where no new one took its place, and remove what of them is left and is ours."""
    if old.exists() and not target.exists():
        old.rename(target)
    if lock is None and new.exists():
        lock = _locked(new)  # stopped before it was known to be ours
    if lock is not None:
        for folder in (new, old):
            shutil.rmtree(folder, ignore_errors=True)
        if lock != NO_LOCK:
            with suppress(OSError):
                os.close(lock)


def _short(name: str) -> str:
    """A name that leaves room for ours in the length a file system allows."""
    if len(os.fsencode(name)) <= 200:
        return name
    return f"{name[:40]}-{hashlib.sha256(os.fsencode(name)).hexdigest()[:12]}"


NO_LOCK = -1


def _locked(folder: Path) -> int | None:
    """Make a folder and lock it until the handle is closed or the process ends; None where another run has it."""
    try:
        import fcntl
    except ImportError:  # a system without these locks
        folder.mkdir(exist_ok=True)
        return NO_LOCK
    while True:
        folder.mkdir(exist_ok=True)
        handle = os.open(folder, os.O_RDONLY)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if folder.exists() and os.path.samestat(os.fstat(handle), folder.stat()):
                return handle
            os.close(handle)  # the run before put it in its place meanwhile
        except BlockingIOError:
            os.close(handle)
            return None
        except OSError:
            os.close(handle)
            return NO_LOCK  # a file system without locks
        except BaseException:
            os.close(handle)
            raise


def _tidy(target: Path, new: Path, old: Path, say: Callable[[str], None]) -> None:
    """Put back the old folder that a killed run had moved aside, and remove what else one left."""
    if old.is_dir() and not target.exists():
        old.rename(target)
        say(f"{target}: put back as it was before a run that was killed")
    left = list(new.iterdir())
    for entry in left:
        shutil.rmtree(entry) if entry.is_dir() and not entry.is_symlink() else entry.unlink()
    if left or old.is_dir():
        shutil.rmtree(old, ignore_errors=True)
        say(f"{new if left else old}: removed, left by a run that was killed")


@contextmanager
def unfinished(work: Path, out: Path, say: Callable[[str], None]) -> Iterator[None]:
    """Keep what a run had finished when the program or the machine fails in the block: as `OUT-unfinished`.

    An input that is refused (CaseError, ValueError, MemoryError) or an interrupt keeps nothing.
    """
    from sim.case import CaseError

    try:
        yield
    except (CaseError, ValueError, MemoryError):
        raise
    except Exception:
        with suppress(OSError, ValueError, OutputError):
            place = _target(out.with_name(f"{out.name}-unfinished"), MANIFEST)
            names = sorted({entry.name for entry in work.iterdir()} | {MANIFEST})
            if names != [MANIFEST]:
                written = work / MANIFEST
                tree = json.loads(written.read_text("utf-8")) if written.exists() else {"program": "coldspot"}
                tree |= {"unfinished": True, "files": names}
                written.write_text(json.dumps(tree, indent=1), encoding="utf-8")
                shutil.rmtree(place, ignore_errors=True)
                work.rename(place)
                say(f"{place}: what was finished before the fault")
        raise
