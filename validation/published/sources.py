"""The published sources: reading `sources.bib`, and how a row's source is spoken.

A row's source is text in which `@key` stands for an entry: "@iso10211, Annex C, case 1 (table from memory)". What
has no entry says so in exact words: `PRACTICE`, `DERIVED`, or `WRITTEN_OUT` with a file of `validation/checks`.
"""

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

BIBLIOGRAPHY = Path(__file__).with_name("sources.bib")
CHECKS = BIBLIOGRAPHY.parents[1] / "checks"
PRACTICE = "common practice, no source"
DERIVED = "from the definition"
WRITTEN_OUT = re.compile(r"written out in (\w+\.py)")
MEMORY = "from memory"

KEY = re.compile(r"@([a-z][a-z0-9]*)")
_HEAD = re.compile(r"@(\w+)\{([a-z][a-z0-9]*),")
_FIELD = re.compile(r"\s+(\w+) = \{(.+)\},?")


@dataclass(frozen=True)
class Entry:
    """One source. short: how a row names it; text: all that is known of it, for a list."""

    key: str
    short: str
    text: str


@cache
def bibliography() -> dict[str, Entry]:
    """Every entry by key, in the order of the file."""
    return parse(BIBLIOGRAPHY.read_text(encoding="utf-8"))


def parse(text: str) -> dict[str, Entry]:
    """Entries of BibTeX with one field a line. Raises ValueError naming a line that is not understood."""
    entries: dict[str, Entry] = {}
    key, fields = "", dict[str, str]()
    for number, line in enumerate(text.splitlines(), start=1):
        head, given = _HEAD.fullmatch(line), _FIELD.fullmatch(line)
        if not line.strip() or line.startswith("%"):
            continue
        if head and not key and head[2] not in entries:
            key, fields = head[2], {}
        elif given and key:
            fields[given[1]] = given[2]
        elif line == "}" and key:
            if "shorthand" not in fields or "title" not in fields:
                raise ValueError(f"line {number}: {key} has no title or no shorthand")
            entries[key] = Entry(key, fields["shorthand"], _listed(fields))
            key = ""
        else:
            raise ValueError(f"line {number}: {line.strip()[:60]}")
    if key:
        raise ValueError(f"{key} is not closed")
    return entries


def _listed(fields: dict[str, str]) -> str:
    authors = fields.get("author", "")
    if not authors.startswith("{"):  # in braces one name, with "and" in it perhaps
        authors = authors.replace(" and ", "; ")
    year = f" ({fields['year']})" if "year" in fields else ""
    where = fields.get("journal", fields.get("institution", fields.get("publisher", "")))
    numbers = ", ".join(fields[name] for name in ("volume", "pages") if name in fields)
    edition = fields.get("edition", "")
    note = f"({fields['note']})" if "note" in fields else ""
    parts = [f"{authors}{year}", fields["title"], edition, f"{where} {numbers}".strip(), note]
    return re.sub(
        r"[{}]|\\(?=&)", "", ". ".join(part.rstrip(".") for part in parts if part) + ("" if note else ".")
    )


def keys(source: str) -> list[str]:
    """Keys that a row's source cites."""
    return KEY.findall(source)


def spoken(source: str) -> str:
    """A row's source as a person reads it: each key as its entry's short name, an unknown one as it stands."""
    known = bibliography()
    return KEY.sub(lambda match: known[match[1]].short if match[1] in known else match[0], source)


def complaint(source: str) -> str:
    """What is wrong with a row's source; empty where all it cites exists, or it says exactly that it has none."""
    cited = keys(source)
    unknown = [key for key in cited if key not in bibliography()]
    if unknown:
        return f"no entry {', '.join(unknown)} in {BIBLIOGRAPHY.name}"
    if cited or source == PRACTICE or DERIVED in source:
        return ""
    if match := WRITTEN_OUT.search(source):
        return "" if any(CHECKS.rglob(match[1])) else f"no file {match[1]}"
    return f"cites no entry of {BIBLIOGRAPHY.name} and is not marked"
