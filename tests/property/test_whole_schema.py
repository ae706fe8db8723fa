"""Random cases over the whole schema: every key and choice is among them, and each has a sound answer."""

import json
import math
import re
from functools import lru_cache
from typing import Any, Literal, get_args, get_origin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_episodes import finite
from random_whole import whole_raw
from test_random_sections import ROUNDING, hold

from sim.case import Case, case_for, key_table, parse_case, resolved
from sim.case.operation import OVERRIDABLE
from sim.case.validation_errors import table_in
from sim.heat.network import network
from sim.heat.sun import sky_temperature
from sim.judge.check import Answer, check
from sim.report.results import as_json, results
from sim.section.layout import place
from sim.section.mesh import plan_mesh
from sim.solve.steady import solve

REFUSED = {"contents.gas.phase": {"liquid"}}  # choices that no valid case can have
DRAWN = 140  # cases in which every key must have turned up


# a gas is read by the same table as a liquid, and refuses to freeze
OF_LIQUIDS = ("contents.gas.freezes_at", "contents.gas.latent_heat", "contents.gas.frozen")


@lru_cache(maxsize=1)
def drawn() -> list[dict[str, Any]]:
    return [whole_raw(seed) for seed in range(DRAWN)]


def given_values(raw: Any, path: str = "") -> list[tuple[str, Any]]:
    """(key, value) of everything in a raw case, keys as in the table of keys."""
    if isinstance(raw, list):
        return [pair for entry in raw if isinstance(entry, dict) for pair in given_values(entry, path)]
    if not isinstance(raw, dict):
        return []
    gathered = []
    for key, value in raw.items():
        here = f"{path}.{key}" if path else key
        gathered += [(here, value), *given_values(value, here)]
    return gathered


def choices(annotation: Any) -> set[str]:
    """The words a key chooses from; empty for other keys."""
    if get_origin(annotation) is Literal:
        return set(get_args(annotation))
    return set().union(*(choices(part) for part in get_args(annotation))) if get_args(annotation) else set()


def keys_with_choices(model: Any, path: str = "") -> dict[str, set[str]]:
    by_name: dict[str, set[str]] = {}
    for name, field in model.model_fields.items():
        if field.exclude:
            continue
        key = f"{path}.{field.alias or name}" if path else field.alias or name
        inner = table_in(field.annotation)
        by_name[key] = choices(field.annotation) if inner is None else set()
        if inner is not None:
            by_name |= keys_with_choices(inner, key)
    return by_name


def test_every_key_and_every_choice_is_drawn() -> None:
    """A key added to the schema fails here until `random_whole` draws it."""
    seen: dict[str, set[str]] = {}
    for raw in drawn():
        for key, value in given_values(raw):
            seen.setdefault(key, set()).add(value if isinstance(value, str) else "")
    expected = keys_with_choices(Case)
    assert set(expected) == {key.replace("[]", "") for key, *_ in key_table()}
    missing = [key for key in expected if key not in seen and not key.startswith(OF_LIQUIDS)]
    assert not missing
    for key, words in expected.items():
        assert words - seen.get(key, set()) == REFUSED.get(key, set()), key


def test_every_table_is_overridden_in_some_condition() -> None:
    over = {key for raw in drawn() for condition in raw["condition"] for key in condition}
    assert set(OVERRIDABLE) <= over


def test_every_drawn_case_reads_back_equal() -> None:
    for raw in drawn()[:15]:
        case = parse_case(raw)
        assert parse_case(resolved(case)) == case


def sound(case: Case) -> None:
    """One condition's section as `solve` has it; contents in natural convection are taken as standing."""
    if case.contents.state == "buoyant":
        case = case.model_copy(update={"contents": case.contents.model_copy(update={"state": "still"})})
    hold(case, solve(network(case, plan_mesh(place(case), 1.0))))


@settings(max_examples=2)
@given(st.integers(10_000, 20_000))
def test_sections_of_the_whole_schema_hold(seed: int) -> None:
    raw = whole_raw(seed)
    sound(case_for(parse_case(raw), raw["condition"][-1]["name"]))


def answered(case: Case) -> tuple[Answer | None, str]:
    """The answer, or the one message of a case whose section or support cannot be meshed this coarsely."""
    try:
        return check(case, fineness=1.0, memory=1e9), ""
    except ValueError as refusal:
        return None, str(refusal)


@pytest.mark.slow
@pytest.mark.parametrize("block", range(10))
def test_fifty_answers(block: int) -> None:
    """The whole answer, supports and moving contents included: balances close, bounds hold, all JSON is finite."""
    refused = 0
    for seed in range(5 * block, 5 * block + 5):
        raw = whole_raw(seed)
        raw = {key: value for key, value in raw.items() if key not in ("episode", "control")}
        if "support" in raw:  # one field in three dimensions is enough
            raw |= {"condition": raw["condition"][-1:], "support": raw["support"][:1]}
        case = parse_case(raw)
        answer, text = answered(case)
        if answer is None:
            assert re.search("to be meshed|memory", text), (seed, text)
            refused += 1
            continue
        assert finite(json.loads(as_json(results(answer)))), seed
        for condition in answer.conditions:
            if condition.result is None:
                assert condition.failure, seed
                assert "\n" not in condition.failure, seed
                continue
            alone = case_for(case, condition.name)
            numbers = {path: banded.value for path, banded in condition.result.quantities.items()}
            assert numbers["closure"] < 1e-6, seed
            coldest = [alone.conditions[0].ambient]
            if alone.contents.temperature is not None:
                coldest.append(alone.contents.temperature)
            if alone.conditions[0].sky is not None:
                coldest.append(sky_temperature(alone.conditions[0].sky, alone.conditions[0].ambient))
            for path in ("wall.min", "barrier.min", "contents.min"):
                if not math.isnan(numbers.get(path, math.nan)):
                    assert numbers[path] >= min(coldest) - ROUNDING - 1e-6, (seed, path)
        for text in answer.supports:
            assert (text.result is None) == bool(text.failure), seed
    assert refused <= 3
