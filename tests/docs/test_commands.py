"""Every command that README and documentation quote is one that the program has, on a file that is there."""

import re
import shlex
from pathlib import Path

import pytest
import typer

from sim.cli import app

ROOT = Path(__file__).parents[2]
PAGES = [*sorted(ROOT.glob("*.md")), *sorted(ROOT.glob("docs/**/*.md"))]
PROGRAM = typer.main.get_command(app)


def quoted(page: Path) -> list[str]:
    """Commands in blocks of shell, without those that only show a form."""
    blocks = re.findall(r"^```(?:sh|console)[^\n]*\n(.*?)^```", page.read_text(encoding="utf-8"), re.M | re.S)
    lines = [line.split("  ")[0] for block in blocks for line in block.splitlines()]
    return [match[1] for line in lines if (match := re.search(r"(?:^|[ /])coldspot (.*)", line))]


@pytest.mark.parametrize(
    ("page", "words"), [pytest.param(p.name, q, id=f"{p.stem}: {q}") for p in PAGES for q in quoted(p)]
)
def test_a_quoted_command_is_one_of_the_program(page: str, words: str) -> None:
    name, *rest = shlex.split(words, comments=True)
    command = PROGRAM.commands[name]  # type: ignore[attr-defined]
    known = {option for parameter in command.params for option in parameter.opts}
    for word in rest:
        if word.startswith("-"):
            assert word in known, f"{page}: {name} has no {word}"
        elif word.endswith(".toml") and "/" in word:
            assert (ROOT / word).is_file(), f"{page}: {word} is not there"


def test_links_between_pages_lead_somewhere() -> None:
    """The quick guard; the site's own build also checks anchors and the pages that are made."""
    made = {"keys.md", "results.md", "studies.md"}
    for page in PAGES:
        for link in re.findall(r"\]\(([^)#]+)[^)]*\)", page.read_text(encoding="utf-8")):
            path = (page.parent / link).resolve()
            inside = path.relative_to(ROOT)
            in_site = (
                ROOT / inside.relative_to("docs") if inside.parts[:2] == ("docs", "validation") else path
            )
            assert in_site.is_file() or path.name in made, f"{page.name}: {link}"
