"""Units that are read without the library of units: each as the library gives it."""

import subprocess
import sys
from pathlib import Path

import pytest

from sim.case import units


@pytest.mark.parametrize(("expression", "si"), units.COMMON)
def test_spellings_read_without_pint_are_what_pint_gives(expression: str, si: str) -> None:
    assert units.COMMON[expression, si] == units.scale_by_pint(expression, si)


@pytest.mark.parametrize("name", units.OFFSETS)
def test_zeros_read_without_pint_are_what_pint_gives(name: str) -> None:
    assert units.OFFSETS[name] == units.offset_by_pint(name)


@pytest.mark.parametrize("kind", units.KINDS)
def test_every_kind_is_written_without_pint(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_pint(expression: str, si: str) -> float:
        raise AssertionError(f"pint is asked for {expression}")

    monkeypatch.setattr(units, "scale_by_pint", no_pint)
    units.unit_conversion.cache_clear()
    assert units.parse_quantity(units.write_quantity(300.0, kind), kind) == 300.0


def test_a_shipped_case_is_read_and_written_without_pint() -> None:
    root = Path(__file__).resolve().parents[2]
    script = """
import sys, sim
from sim.case import to_toml
to_toml(sim.load_case('cases/winter-brine.toml'))
print('pint' in sys.modules)
"""
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=root, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "False"
