"""One version in every place that names it, and the README's own case is one."""

import re
import tomllib
from pathlib import Path

import sim
from sim.case import parse_case

ROOT = Path(__file__).parents[2]


def test_one_version_everywhere() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    citation = re.search(r"^version: (\S+)$", (ROOT / "CITATION.cff").read_text(encoding="utf-8"), re.M)
    changes = re.search(r"^## (\d\S+?),", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"), re.M)
    assert citation is not None
    assert changes is not None
    assert project["version"] == sim.__version__ == citation[1] == changes[1]


def test_pythons_that_are_named_are_allowed() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    named = [c.rpartition(" :: ")[2] for c in project["classifiers"] if re.search(r":: 3\.\d+$", c)]
    assert project["requires-python"] == f">={named[0]}"


def test_the_readme_shows_a_case() -> None:
    blocks = re.findall(r"^```toml\n(.*?)^```", (ROOT / "README.md").read_text(encoding="utf-8"), re.M | re.S)
    case = parse_case(tomllib.loads("".join(blocks)))
    assert case.supports
    assert case.episodes
    assert len(case.conditions) == 2
