"""A TOML file as a nested dict, or one clear message: whatever the file is, reading it takes a moment and ends."""

import os
import re
import stat
import tomllib
from pathlib import Path
from typing import Any

from .errors import CaseError

LARGEST_FILE = 1_000_000  # bytes; a case is a few kilobytes
DEEPEST_KEY = 40  # dots in one key; the parser's time grows with their square
_PART = r"""(?>[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*+"""
_DEEP_KEY = re.compile(rf"(?<![\w\"'-])(?>{_PART}\.[ \t]*+){{{DEEPEST_KEY}}}")


def read_toml(path: str | Path, what: str) -> dict[str, Any]:
    """The nested dict of a file; `what` names the kind of file in messages. Raises CaseError with the file."""
    name = str(path)

    def bad(message: str) -> CaseError:
        return CaseError(message, file=name)

    try:
        content = _content(path)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise bad(f"cannot be read: {reason}; accepted: a {what} file in TOML") from None
    if content is None:
        raise bad(f"is a pipe or a device, not a file; accepted: a {what} file in TOML")
    if len(content) > LARGEST_FILE:
        raise bad(f"is too large to be a {what} file (more than {LARGEST_FILE // 1_000_000} MB)")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise bad(f"is not text in UTF-8 (line {line}); accepted: a {what} file in TOML") from None
    if "\0" in text:
        raise bad(f"is a binary file; accepted: a {what} file in TOML")
    deep = _DEEP_KEY.search(text)
    if deep is not None:
        line = text.count("\n", 0, deep.start()) + 1
        raise bad(f"is not valid TOML here: a key is nested too deeply (line {line})")
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        end = f"at line {text.count(chr(10)) + 1}, the end of the file"
        deeply = "nested too deeply" if isinstance(error, RecursionError) else str(error)
        raise bad(f"is not valid TOML: {deeply.replace('at end of document', end)}") from None


def _content(path: str | Path) -> bytes | None:
    """The bytes of a file, as far as they may be looked at; None where it is none. Raises OSError, ValueError.

    A named pipe is not waited for.
    """
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with open(handle, "rb") as file:
        kind = os.fstat(handle).st_mode
        if not (stat.S_ISREG(kind) or stat.S_ISDIR(kind)):
            return None
        return file.read(LARGEST_FILE + 1)
