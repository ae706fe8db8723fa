"""The list of planted faults fits the source: each edit is found where it says, and what it makes is Python."""

from pathlib import Path

import pytest

from validation.faults.listing import Fault, faults

ROOT = Path(__file__).parents[2]


def test_every_fault_still_fits_the_source() -> None:
    wrong = []
    for fault in faults():
        text = (ROOT / fault.file).read_text(encoding="utf-8")
        try:
            assert fault.planted(text) != text
        except (ValueError, SyntaxError, AssertionError) as error:
            wrong.append(f"{fault.name}: {error}")
    assert not wrong


def test_at_least_a_hundred_and_over_every_room_that_computes() -> None:
    every = faults()
    assert len(every) >= 110
    rooms = {Path(fault.file).parts[1] for fault in every}
    assert rooms >= {"case", "section", "heat", "solve", "judge", "study"}


def test_the_function_an_edit_is_in() -> None:
    text = "x = 1\n\n\n@cache\ndef f(a=2):\n    def g():\n        return 3\n    return g\n"
    make = lambda old, new: Fault("", "", "f.py", old, new)  # noqa: E731
    assert make("x = 1", "x = 2").function(text) is None
    assert make("a=2", "a=4").function(text) is None
    assert make("return 3", "return 4").function(text) == 6
    assert make("return g", "return f").function(text) == 4


def test_an_edit_must_occur_as_often_as_it_says() -> None:
    with pytest.raises(ValueError, match="occurs 2 times"):
        Fault("", "", "f.py", "a", "b").place("a a")
    assert Fault("", "", "f.py", "a", "b", of=2, at=2).planted("a, a = 1, 2") == "a, b = 1, 2"
