"""The page that defines the model names functions: each of them is there, and docstrings cite no page that is not."""

import re
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
NAMED = sorted(set(re.findall(r"`(sim(?:\.\w+)+)`", (ROOT / "docs/model.md").read_text(encoding="utf-8"))))


def test_the_page_names_functions() -> None:
    assert len(NAMED) > 50


@pytest.mark.parametrize("dotted", NAMED)
def test_every_named_function_is_there(dotted: str) -> None:
    parts = dotted.split(".")
    for cut in range(len(parts) - 1, 0, -1):
        try:
            thing = import_module(".".join(parts[:cut]))
        except ModuleNotFoundError:
            continue
        for name in parts[cut:]:
            thing = getattr(thing, name)
        assert callable(thing)
        return
    raise AssertionError(f"{dotted}: no such module")


def test_pages_that_the_source_cites_are_there() -> None:
    cited = set()
    for file in [*ROOT.glob("sim/**/*.py"), *ROOT.glob("tests/**/*.py"), *ROOT.glob("validation/**/*.py")]:
        cited |= set(re.findall(r"\b(?:[\w-]+/)*[\w-]+\.md\b", file.read_text(encoding="utf-8")))
    assert "docs/model.md" in cited
    missing = {name for name in cited if name.startswith(("docs/", "DESIGN")) and not (ROOT / name).is_file()}
    assert not missing
