"""File names made from condition names."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence


def file_names(names: Sequence[str]) -> dict[str, str]:
    """A part of a file name for each condition name: no separators or blanks, unique even where case is ignored."""
    taken: set[str] = set()
    names_of: dict[str, str] = {}
    for name in names:
        plain = unicodedata.normalize("NFKC", name)
        plain = "".join(
            c if unicodedata.category(c)[0] == "M" else re.sub(r"[^\w.+-]", " ", c) for c in plain
        )
        plain = re.sub(r" +", "-", plain).strip("-.")[:48] or "condition"
        unique, count = plain, 2
        while unique.casefold() in taken:
            unique, count = f"{plain}-{count}", count + 1
        taken.add(unique.casefold())
        names_of[name] = unique
    return names_of
