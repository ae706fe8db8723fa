"""Every key of every shipped case, spoilt in every way: one message on one line with the file and the key."""

import copy
import math
import random
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sim.case import CaseError, parse_case, to_toml
from sim.case.errors import dotted

CASES = sorted((Path(__file__).parents[2] / "cases").glob("*.toml"))
# Nothing that any key takes.
NEVER = {
    "nan": math.nan,
    "inf": math.inf,
    "a list of lists": [[[]]],
    "a list of true": [True],
    "long text": "x" * 10_000,
    "empty text": "",
    "control": "a\x1bb",
    "huge": 10**400,
}
# What some keys take, and others not; or what makes the case a different one.
SOMETIMES = {
    "no unit": "5",
    "wrong unit": "5 bananas",
    "unit of something else": "5 kg/m3",
    "digits of another script": "٥ mm",
    "huge length": "1e300 m",
    "tiny length": "1e-300 m",
    "negative": "-5 mm",
    "negative number": -1,
    "not finite": "nan mm",
    "true": True,
    "empty table": {},
    "empty list": [],
    "unknown key": {"bogus": 1},
    "surrogate": "\ud800",
}


def places(raw: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place below the top of a nested raw case."""
    entries = raw.items() if isinstance(raw, dict) else enumerate(raw) if isinstance(raw, list) else ()
    for key, value in entries:
        yield (*path, key)
        yield from places(value, (*path, key))


def spoilt(raw: dict[str, Any], path: tuple[Any, ...], value: Any) -> dict[str, Any]:
    raw = copy.deepcopy(raw)
    node: Any = raw
    for step in path[:-1]:
        node = node[step]
    node[path[-1]] = value
    return raw


def message_of(raw: dict[str, Any]) -> str:
    """The refusal, or "" where the case is accepted."""
    try:
        case = parse_case(raw, source="line.toml")
    except CaseError as refusal:
        error = refusal
    else:
        to_toml(case)
        return ""
    assert error.key
    assert error.lines[0] == f"line.toml: {error.key}: {error.message}"
    assert str(error).isprintable()
    return str(error)


def spoilings(path: Path) -> list[tuple[tuple[Any, ...], str, Any]]:
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    return [(place, name, value) for place in places(raw) for name, value in (NEVER | SOMETIMES).items()]


def hold(path: Path, some: list[tuple[tuple[Any, ...], str, Any]]) -> None:
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    for place, name, value in some:
        message = message_of(spoilt(raw, place, value))
        if name not in NEVER:
            continue
        assert message, (place, name)
        # the key, or the table or list that it stands in; an override is named in its own words
        parents = [dotted(place[:n], raw).split(" ")[0].split("[")[0] for n in range(1, len(place) + 1)]
        assert any(parent in message for parent in parents), (place, name, message)
        named = next((str(step) for step in reversed(place) if isinstance(step, str)), "")
        if isinstance(place[-1], str) and place[0] != "condition":
            assert named in message, (place, name, message)


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_some_spoilings_of_every_case(path: Path) -> None:
    every = spoilings(path)
    hold(path, random.Random(path.stem).sample(every, 12))


@pytest.mark.slow
@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_every_spoiling_of_every_case(path: Path) -> None:
    hold(path, spoilings(path))


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_a_name_given_twice_is_one_message(path: Path) -> None:
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    for table in ("condition", "tracer", "sensor", "support"):
        for again in raw.get(table, [])[:1]:
            message = message_of(raw | {table: [*raw[table], again | {"name": again["name"].upper()}]})
            assert f"{table}[{len(raw[table]) + 1}]" in message
            assert "already" in message
