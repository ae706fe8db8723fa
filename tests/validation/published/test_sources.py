"""Every number's source: an entry of the bibliography, or a mark in exact words."""

import re
from pathlib import Path

import pytest

import validation
from validation.published.sources import KEY, bibliography, complaint, parse

CHECKS = Path(validation.__path__[0]) / "checks"


def test_every_entry_is_cited_and_every_key_exists() -> None:
    files = [path for path in CHECKS.rglob("*") if path.suffix in (".py", ".toml")]
    cited = {key for path in files for key in KEY.findall(_strings(path))}
    assert cited == set(bibliography())


def _strings(path: Path) -> str:
    """The text of a module without its decorators."""
    return re.sub(r"^\s*@\w.*$", "", path.read_text(), flags=re.MULTILINE)


@pytest.mark.parametrize(
    ("source", "text"),
    [
        ("@iso10211, Annex C, case 1 (table from memory)", ""),
        ("common practice, no source", ""),
        ("closed form, written out in fourier.py: two resistances", ""),
        ("resistances in series, closed form, from the definition", ""),
        ("symmetry, from the definition", ""),
        ("closed form, written out in nowhere.py", "no file nowhere.py"),
        ("@nobody2099, table 3", "no entry nobody2099 in sources.bib"),
        ("a handbook", "cites no entry of sources.bib and is not marked"),
        ("", "cites no entry of sources.bib and is not marked"),
    ],
)
def test_complaint(source: str, text: str) -> None:
    assert complaint(source) == text


@pytest.mark.parametrize(
    "text",
    ["@book{a,\n  title = {T},\n}\n", "@book{a,\n  title = {T}\n", "@book{a,\n  broken\n}\n", "stray"],
)
def test_what_is_not_understood_is_an_error(text: str) -> None:
    with pytest.raises(ValueError, match=r"line|closed"):
        parse(text)
