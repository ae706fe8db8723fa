"""Planted faults: matched as syntax, up to the names of local variables; and a handful that a check notices."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from validation.faults.fault import Fault, NoFit

TEXT = """
LIMIT = 2.0
NAMES = "metre = 1; inch = 0.0254"

def outer(size, gap):
    def inner(x):
        return x - 1
    total = size / (LIMIT + gap)
    other = gap * size
    return inner(total) + other

class Film:
    def at(self, speed):
        if speed > self.least:
            speed = self.least
            self.count += 1
        return speed ** 0.8
"""


def changed(place: str, old: str, new: str, text: str = TEXT) -> str:
    before = ast.unparse(ast.parse(text)).splitlines()
    after = ast.unparse(Fault("n", "e", f"m:{place}", old, new).planted(text)).splitlines()
    return "; ".join(line.strip() for line in after if line not in before)


@pytest.mark.parametrize(
    ("place", "old", "new", "computed"),
    [
        ("outer", "size / (LIMIT + gap)", "size / LIMIT", "total = size / LIMIT"),
        ("outer", "area / (LIMIT + b)", "b / LIMIT", "total = gap / LIMIT"),
        ("outer.inner", "x - 1", "x + 1", "return x + 1"),
        ("", "2.0", "3.0", "LIMIT = 3.0"),
        ("", "'inch = 0.0254'", "'inch = 0.0245'", "NAMES = 'metre = 1; inch = 0.0245'"),
        ("Film.at", "v ** 0.8", "v ** 0.5", "return speed ** 0.5"),
        ("Film.at", "v = self.least\nself.count += 1", "", "pass"),
    ],
)
def test_a_piece_is_changed_whatever_its_locals_are_called(
    place: str, old: str, new: str, computed: str
) -> None:
    assert changed(place, old, new) == computed


@pytest.mark.parametrize(
    ("place", "old", "new", "why"),
    [
        ("outer", "size / (gap + LIMIT)", "0", "0 pieces"),
        ("outer", "size / (OTHER + gap)", "0", "0 pieces"),
        ("outer", "a / (LIMIT + a)", "0", "0 pieces"),
        ("outer", "a", "0", "pieces of"),
        ("gone", "a", "0", "no function gone"),
        ("outer", "size / (LIMIT + gap)", "missing", "has no missing"),
    ],
)
def test_what_does_not_fit_once_has_no_place(place: str, old: str, new: str, why: str) -> None:
    with pytest.raises(NoFit, match=why):
        changed(place, old, new)


PLANT = """
import sys
from functools import partial
from validation.faults.fault import faults
from validation.faults.trial import check, in_child, plant
def work():
    plant({fault.name: fault for fault in faults()}[sys.argv[1]])
    return check(sys.argv[2])
print("without:", in_child(partial(check, sys.argv[2])))
print("with:", in_child(work))
"""


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "check", "noticed"),
    [
        ("tracer contact lost", "tracers.contacts.contacts", "contact"),
        ("Churchill and Chu with digits swapped", "films.outside.films", "still air"),
        ("GCI without its safety factor", "judging.answers.bands", "band"),
    ],
)
def test_a_planted_fault_is_noticed(name: str, check: str, noticed: str) -> None:
    """In a process of its own, which has not imported the program; nothing is noticed without the fault."""
    root = Path(__file__).parents[2]
    words = [sys.executable, "-c", PLANT, name, check]
    done = subprocess.run(words, cwd=root, capture_output=True, text=True, check=True)
    without, planted = done.stdout.splitlines()
    assert without == "without: "
    assert noticed in planted
    assert "crash" not in planted
