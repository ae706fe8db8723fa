"""One clear message for whatever is wrong with a case: the file, the key, what is wrong, what is accepted."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, NoReturn, Protocol, TypeVar

from pydantic_core import PydanticCustomError

from .text import printable

MOST = 20  # faults of one case that are told


class CaseError(Exception):
    """A case that cannot be used. `str(error)` is the whole message on one line.

    Attributes: message (what is wrong and what is accepted), file (or None), key (dotted path, or None), others (what
    else is wrong with the same case), lines (one line for each fault).
    """

    def __init__(
        self,
        message: str,
        *,
        file: str | None = None,
        key: str | None = None,
        others: Sequence[CaseError] = (),
    ) -> None:
        self.message = printable(message)
        self.others = tuple(others)
        self.file = file
        self.key = None if key is None else printable(key)
        whole = ": ".join(part for part in (printable(file or ""), self.key, self.message) if part)
        self.lines: tuple[str, ...] = (whole, *(line for other in self.others for line in other.lines))
        super().__init__(f"{whole} (and {len(self.lines) - 1} more)" if self.others else whole)


def raise_all(faults: Sequence[CaseError], file: str | None) -> None:
    """Raise the first of the faults with the others in it, all of one file; nothing where there is none."""
    if faults:
        first, *others = (CaseError(fault.message, file=file, key=fault.key) for fault in faults)
        raise CaseError(first.message, file=file, key=first.key, others=others)


class Named(Protocol):
    """An entry of a list that has a name."""

    @property
    def name(self) -> str: ...


Entry = TypeVar("Entry", bound=Named)


def named(kind: str, entries: Iterable[Entry]) -> Iterator[tuple[str, Entry]]:
    """(key, entry) of every entry of a list: 'tracer[2] "T2"'."""
    for position, entry in enumerate(entries, start=1):
        yield f'{kind}[{position}] "{entry.name}"', entry


def first_faults(kind: str, entries: Iterable[Entry], check: Callable[[str, Entry], None]) -> list[CaseError]:
    """The first fault that a check of (key, entry) raises for each entry of a list."""
    faults = []
    for key, entry in named(kind, entries):
        try:
            check(key, entry)
        except CaseError as fault:
            faults.append(fault)
    return faults


def refuse(message: str, key: str = "") -> NoReturn:
    """Raise the validation error that carries `message` unchanged; `key` is a key within it."""
    raise PydanticCustomError("case", "{message}", {"message": printable(message), "key": key})


def nearest(word: object, known: Iterable[str]) -> str:
    """'; did you mean "x"?' for the nearest known word, or '' where nothing is near."""
    by_lower = {name.lower(): name for name in known}
    close = difflib.get_close_matches(str(word)[:80].lower(), by_lower, n=1, cutoff=0.55)
    return f'; did you mean "{by_lower[close[0]]}"?' if close else ""


def join_key(parent: str, child: str) -> str:
    """Dotted path of a child key."""
    return f"{parent}.{child}" if parent and child else parent or child


def dotted(location: Iterable[str | int], data: Any) -> str:
    """Dotted path of a place in the raw case; entries of list tables are counted from 1 and named.

    ("tracer", 1, "clock") becomes 'tracer[2] "T2".clock'.
    """
    path = ""
    for step in location:
        if isinstance(step, int):
            path += f"[{step + 1}]"
            data = data[step] if isinstance(data, list | tuple) and step < len(data) else None
            if isinstance(data, dict) and isinstance(data.get("name"), str):
                path += f' "{data["name"][:40]}"'
        else:
            path = join_key(path, step[:60])
            data = data.get(step) if isinstance(data, dict) else None
    return path
