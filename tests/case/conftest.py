"""A valid case to spoil, and the message its spoiled form gives."""

import copy
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from sim.case import CaseError, parse_case

CASES = Path(__file__).parents[2] / "cases"
GONE = object()


@pytest.fixture(scope="session")
def cases() -> list[Path]:
    """The shipped case files."""
    return sorted(CASES.glob("*.toml"))


@pytest.fixture(scope="session")
def plastic() -> dict[str, Any]:
    """The raw case with two tracers, foil and three conditions."""
    return tomllib.loads((CASES / "plastic-two-tracers.toml").read_text(encoding="utf-8"))


@pytest.fixture
def refusal(plastic: dict[str, Any]) -> Callable[..., str]:
    """refusal("tracer/0/clock", 13): the message after one key is set; without a value it is taken out."""

    def spoiled(path: str, value: Any = GONE) -> str:
        raw = copy.deepcopy(plastic)
        steps = [int(step) if step.isdecimal() else step for step in path.split("/")]
        place: Any = raw
        for step in steps[:-1]:
            place = place[step] if isinstance(step, int) else place.setdefault(step, {})
        if value is GONE:
            del place[steps[-1]]
        else:
            place[steps[-1]] = value
        with pytest.raises(CaseError) as caught:
            parse_case(raw, source="line.toml")
        return str(caught.value)

    return spoiled
