"""The key of a row changes with everything that can change the row: source, data, libraries, Python."""

import re
import sys
from importlib import import_module
from pathlib import Path

import pytest

from sim.study import program
from sim.study.program import imported, libraries, program_version, sources


def fresh() -> str:
    program_version.cache_clear()
    try:
        return program_version()
    finally:
        program_version.cache_clear()


@pytest.mark.parametrize("library", ["iapws", "fluids", "ht", "pyamg", "scipy", "numpy", "pint"])
def test_a_library_of_another_version_makes_another_program(library, monkeypatch) -> None:
    before, real = fresh(), program.version

    def other(name: str) -> str:
        return "0.0.1" if name == library else real(name)

    monkeypatch.setattr(program, "version", other)
    assert fresh() != before
    assert f"{library} 0.0.1" in fresh()


def test_every_library_that_computing_a_row_loads_is_named() -> None:
    """What the modules of the rooms hold at run time, against what is read out of their text."""
    checks = set()
    for name, _ in sources():
        if name.endswith(".py"):
            module = import_module(f"sim.{name[:-3].replace('/', '.').removesuffix('.__init__')}")
            owners = [
                getattr(v, "__module__", None) or getattr(v, "__name__", "") for v in vars(module).values()
            ]
            checks |= {owner.partition(".")[0] for owner in owners if isinstance(owner, str)}
    outside = {n for n in checks if n in sys.modules and n not in sys.stdlib_module_names} - {"sim"}
    assert {"numpy", "scipy", "fluids"} <= outside | imported()
    named = set(libraries(imported()))
    assert {re.sub("[-_.]+", "-", n).lower() for n in outside} <= named


def test_data_beside_the_source_counts(monkeypatch) -> None:
    before = fresh()
    real = list(sources())
    monkeypatch.setattr(program, "sources", lambda: [*real, ("case/catalogue/new.csv", b"1,2")])
    assert fresh() != before
    assert {Path(name).parts[0] for name, _ in real} == {*program.ROOMS, "study"}
