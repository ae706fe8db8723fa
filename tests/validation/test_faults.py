"""Planted faults: matched as syntax, up to the names of local variables; and a handful that a check notices."""

import subprocess
import sys
from pathlib import Path

import pytest

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
