"""The list of planted faults: one small edit each of one file of `sim`, read from the TOML files beside this one."""

from __future__ import annotations

import ast
import hashlib
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
KEYS = {"name", "effect", "file", "old", "new", "of", "at", "why"}


@dataclass(frozen=True)
class Fault:
    """One planted fault: in `file`, `old` becomes `new`.

    name: unique; effect: the physical or numerical effect it breaks; of, at: `old` occurs `of` times and the `at`-th
    is changed; why: what is known of a fault that nothing catches.
    """

    name: str
    effect: str
    file: str
    old: str
    new: str
    of: int = 1
    at: int = 1
    why: str = ""

    @property
    def key(self) -> str:
        """Changes with anything that makes the fault what it is."""
        text = "\0".join((self.name, self.file, self.old, self.new, str(self.of), str(self.at)))
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    def place(self, text: str) -> int:
        """Where the edit begins in the file's text. Raises ValueError where the list no longer fits the source."""
        found = text.count(self.old)
        if found != self.of:
            raise ValueError(f"{self.name}: {self.old!r} occurs {found} times in {self.file}, not {self.of}")
        start = -1
        for _ in range(self.at):
            start = text.index(self.old, start + 1)
        return start

    def planted(self, text: str) -> str:
        """The file's text with the fault in it. Raises ValueError as `place`, SyntaxError if it is no Python."""
        start = self.place(text)
        changed = text[:start] + self.new + text[start + len(self.old) :]
        compile(changed, self.file, "exec")
        return changed

    def function(self, text: str) -> int | None:
        """First line of the function that the edit is in, as its code object counts; None outside any function."""
        start = self.place(text)
        same = next(
            (i for i, (a, b) in enumerate(zip(self.old, self.new, strict=False)) if a != b),
            min(len(self.old), len(self.new)),
        )
        line = text.count("\n", 0, start + same) + 1
        first: int | None = None
        size = 10**9
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                begin = min([node.lineno, *(d.lineno for d in node.decorator_list)])
                end = node.end_lineno or node.lineno
                if node.body[0].lineno <= line <= end and end - begin < size:
                    first, size = begin, end - begin
        return first


def faults() -> tuple[Fault, ...]:
    """All planted faults. Raises ValueError for a key that is unknown, or a name that is there twice."""
    found = tuple(_read())
    names = [fault.name for fault in found]
    for name in names:
        if names.count(name) > 1:
            raise ValueError(f"two faults are called {name!r}")
    return found


def _read() -> Iterator[Fault]:
    for path in sorted(HERE.glob("*.toml")):
        for entry in tomllib.loads(path.read_text(encoding="utf-8"))["fault"]:
            unknown = set(entry) - KEYS
            if unknown:
                raise ValueError(f"{path.name}: unknown key {sorted(unknown)}")
            yield Fault(**entry)
