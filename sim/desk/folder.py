"""The one folder a desk reads and writes: the case files in it, and nothing else of the machine."""

import hashlib
import os
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from sim.case import Case, CaseError, parse_case
from sim.case.settings import Setting, lay
from sim.case.shipped import shipped
from sim.case.starter import starter
from sim.case.text import steers
from sim.case.toml import read_toml
from sim.desk.names import SHIPPED

LONGEST_NAME, MOST_FILES, MOST_SETTINGS, LONGEST_TEXT = 120, 100, 2000, 20_000
STARTER = ""
"""Name of the case that no file holds yet: the commented one to start from."""
ACCEPTED = "accepted: the name of a .toml file in the desk's folder"


def settings_of(given: Any) -> tuple[Setting, ...]:
    """Changes as a page sends them: [{"path": [step, ...], "text": "..."}, ...]. Raises CaseError."""
    if not isinstance(given, list) or len(given) > MOST_SETTINGS:
        raise CaseError(f"the changes are no list of at most {MOST_SETTINGS}")
    settings = []
    for entry in given:
        path, text = (entry.get("path"), entry.get("text")) if isinstance(entry, dict) else (None, None)
        steps = path if isinstance(path, list) else []
        if not 1 <= len(steps) <= 12 or not all(isinstance(s, str) and 0 < len(s) <= 60 for s in steps):
            raise CaseError("a change has no path of one to twelve steps")
        if not isinstance(text, str) or len(text) > LONGEST_TEXT:
            raise CaseError(f"is no text of at most {LONGEST_TEXT} characters", key=".".join(steps))
        settings.append((tuple(steps), text.strip()))
    return tuple(settings)


@dataclass(frozen=True)
class Folder:
    """path: absolute, its links followed."""

    path: Path

    def file(self, name: Any) -> Path:
        """The path of a case file by its name. Raises CaseError for whatever is no plain name of a file in here."""
        plain = isinstance(name, str) and name.endswith(".toml") and len(name) <= LONGEST_NAME
        if not plain or name.startswith(".") or any(c in name for c in '/\\:\0"<>|*?') or steers(name):
            raise CaseError(f"is no name of a case file; {ACCEPTED}", file=str(name)[:40])
        path = self.path / name
        if path.is_symlink() or path.resolve().parent != self.path:
            raise CaseError(f"leads out of the desk's folder; {ACCEPTED}", file=name)
        return path

    def names(self) -> list[str]:
        """Names of the case files."""
        toml_names = []
        for path in sorted(self.path.glob("*.toml"))[:MOST_FILES]:
            with suppress(CaseError):
                if "pipe" in read_toml(self.file(path.name), "case"):
                    toml_names.append(path.name)
        return toml_names

    def raw(self, name: Any) -> dict[str, Any]:
        """The case as its file gives it, or the starter's. Raises CaseError."""
        return tomlkit.parse(starter()).unwrap() if name == STARTER else read_toml(self.source(name), "case")

    def source(self, name: Any) -> Path:
        """The file of a case of the folder, or of one that comes with the program. Raises CaseError."""
        file = shipped().get(name.removeprefix(SHIPPED)) if _ships(name) else self.file(name)
        if file is None:
            raise CaseError("comes with this program under no such name", file=name[:60])
        return file

    def laid(self, name: Any, settings: Sequence[Setting]) -> dict[str, Any]:
        """A raw case with changes laid over it. Raises CaseError."""
        raw = self.raw(name)
        lay(raw, settings)
        return raw

    def case(self, name: Any, settings: Sequence[Setting]) -> tuple[dict[str, Any], Case]:
        """A case with changes laid over it, raw and read. Raises CaseError."""
        raw = self.laid(name, settings)
        return raw, self.parsed(raw, name)

    def digest(self, name: Any) -> str:
        """What a file holds, as a short text; "" where there is no file."""
        if name == STARTER or _ships(name):
            return ""
        try:
            return hashlib.sha256(self.file(name).read_bytes()).hexdigest()
        except FileNotFoundError:
            return ""

    def save(self, name: Any, settings: Sequence[Setting], target: Any, known: Any) -> str | None:
        """Write a case with its changes, its comments kept, to a file; its digest then.

        known: digest of the target as the page knows it, "" for a file that is not there yet. None, and nothing
        written, where the target holds something else by now. Raises CaseError; OSError of the machine.
        """
        path = self.file(target)
        content = starter() if name == STARTER else _text(self.source(name))
        try:
            document = tomlkit.parse(content)
        except TOMLKitError as error:
            raise CaseError(f"cannot be saved with its comments: {error}", file=str(name)) from None
        lay(document, settings)
        self.parsed(document.unwrap(), target)
        return _replaced(path, tomlkit.dumps(document).encode(), lambda: self.digest(target) == known)

    def parsed(self, raw: dict[str, Any], name: Any) -> Case:
        """The case of a raw one, which names no file outside the folder. Raises CaseError."""
        source = self.path / "starter.toml" if name == STARTER else self.source(name)
        episodes = raw.get("episode")
        for n, episode in enumerate(episodes if isinstance(episodes, list) else [], start=1):
            weather = episode.get("weather") if isinstance(episode, dict) else None
            if isinstance(weather, str) and not _holds(source.parent, weather):
                message = (
                    "leads out of the case's folder, of which alone the desk reads; accepted: a file in it"
                )
                raise CaseError(message, key=f'episode[{n}] "{str(episode.get("name"))[:40]}".weather')
        return parse_case(raw, source=str(source))


def _ships(name: Any) -> bool:
    """Whether a name is one of the cases that come with the program."""
    return isinstance(name, str) and name.startswith(SHIPPED)


def _holds(folder: Path, relative: str) -> bool:
    with suppress(OSError, ValueError, RuntimeError):
        return (folder / relative).resolve().is_relative_to(folder)
    return False


def _text(path: Path) -> str:
    read_toml(path, "case")  # whatever the file is, this ends in a moment and says what is wrong
    return path.read_bytes().decode("utf-8-sig")


def _replaced(path: Path, content: bytes, as_known: Any) -> str | None:
    """Put content into the place of a file in one step, if it is still as known; its digest."""
    handle, beside = tempfile.mkstemp(prefix=".coldspot-", suffix=".toml", dir=path.parent)
    try:
        with open(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        with suppress(FileNotFoundError):
            os.chmod(beside, path.stat().st_mode & 0o777)
        if not as_known():
            return None
        os.replace(beside, path)
    finally:
        with suppress(FileNotFoundError):
            os.unlink(beside)
    return hashlib.sha256(content).hexdigest()
