"""The worked example is followed as it is written, from the empty folder to the page that is signed."""

import re
import runpy
from hashlib import sha256
from pathlib import Path

import pytest

EXAMPLE = runpy.run_path(str(Path(__file__).parents[2] / "docs/example.py"))
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")
MOVES = 0.3  # K, and o'clock: what a finer method may move a number that the page shows


def test_a_change_must_find_its_lines() -> None:
    changed = EXAMPLE["changed"]
    assert changed("a\nb\nc\n", "-b\n+d\n+e\n") == "a\nd\ne\nc\n"
    for text in ("a\n", "b\nb\n"):
        with pytest.raises(ValueError, match="not once"):
            changed(text, "-b\n+d\n")


@pytest.mark.slow
def test_the_worked_example_is_as_it_says(tmp_path: Path) -> None:
    steps = list(EXAMPLE["follow"](EXAMPLE["PAGE"].read_text(encoding="utf-8"), tmp_path))
    assert [step.code for step in steps] == [step.told_code for step in steps] == [0, 2, 1, 0]
    for step in steps:
        values = [line for line in step.told if not line.startswith("exit code")]
        for line, answer in zip(values, step.answered, strict=False):
            assert NUMBER.sub("#", line) == NUMBER.sub("#", answer)
            numbers = [[float(n) for n in NUMBER.findall(text)] for text in (line, answer)]
            assert numbers[0] == pytest.approx(numbers[1], abs=MOVES)
    page = (tmp_path / "answer/report.html").read_text(encoding="utf-8")
    resolved = (tmp_path / "answer/resolved.toml").read_bytes()
    for words in ("25-W-0107", "prepared by", "checked by", sha256(resolved).hexdigest()[:12]):
        assert words in page
    assert list((tmp_path / "answer").glob("section_*.png"))
