"""What identifies a calculation when it is signed: tag, revision, date, hash of the case, version of the program."""

from datetime import UTC, datetime
from hashlib import sha256

from sim.case import Case, to_toml
from sim.report.words import NONE
from sim.version import __version__

TO_SIGN = ("prepared by, date", "checked by, date")
SHORT = 12  # hexadecimal digits of the hash that are printed


def case_hash(case: Case) -> str:
    """SHA-256 of the case with every default filled in: two calculations of one hash had the same input."""
    return sha256(to_toml(case).encode("utf-8")).hexdigest()


def today() -> str:
    """The date of the calculation, in UTC."""
    return datetime.now(UTC).date().isoformat()


def sign_off(case: Case) -> list[tuple[str, str]]:
    """(what, text) of the head of the first page."""
    return [
        ("tag", case.tag or NONE),
        ("revision", case.revision or NONE),
        ("date", today()),
        ("case", case_hash(case)[:SHORT]),
        ("program", f"coldspot {__version__}"),
    ]


def page_foot(case: Case) -> str:
    """The foot of every printed page: what the page belongs to."""
    named = [
        case.tag,
        f"revision {case.revision}" if case.revision else None,
        f"case {case_hash(case)[:SHORT]}",
    ]
    return ", ".join(part for part in named if part)


def css_string(text: str) -> str:
    """Text as a quoted CSS string that neither ends its style sheet nor its line."""
    plain = (c if c.isalnum() or c in " .,-_()" else f"\\{ord(c):x} " for c in text)
    return '"' + "".join(plain) + '"'
