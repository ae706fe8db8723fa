"""The table of keys and the JSON schema come from the declarations the case is read by."""

import json
import pickle
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from sim.case import json_schema, key_table, load_case

ANYTHING_INSIDE = re.compile(
    r"condition\[\]\.(pipe|contents|tracer|insulation|foil|barrier|outside|sensor|support|limits|design)\b"
    r"|episode\[\]\.\w+\.at$"  # a number over time is a table of its moments
)


def keys_in(raw: Any, path: str = "") -> list[str]:
    if isinstance(raw, list):
        return [key for entry in raw if isinstance(entry, dict) for key in keys_in(entry, f"{path}[]")]
    if not isinstance(raw, dict):
        return []
    return [
        computed for key, value in raw.items() for computed in _with_inner(f"{path}.{key}".lstrip("."), value)
    ]


def _with_inner(path: str, value: Any) -> list[str]:
    return [path, *keys_in(value, path)]


def test_every_key_of_the_shipped_cases_is_in_the_table(cases: list[Path]) -> None:
    table = {key.replace("[]", "") for key, *_ in key_table()}
    for path in cases:
        for key in keys_in(tomllib.loads(path.read_text(encoding="utf-8"))):
            if not ANYTHING_INSIDE.match(key):
                assert key.replace("[]", "") in table, key


def test_every_key_has_a_meaning_and_dimensions_have_a_unit() -> None:
    rows = {key: (unit, default, meaning) for key, unit, default, meaning in key_table()}
    assert len(rows) == len(key_table())
    assert all(meaning for _, _, meaning in rows.values())
    assert rows["pipe.wall"][0] == "m"
    assert rows["condition[].ambient"][:2] == ("K", "required")
    assert rows["tracer[].contact_conductance"][:2] == ("W/m2/K", "400")


def test_json_schema_accepts_the_shipped_cases(cases: list[Path]) -> None:
    schema = json_schema()
    json.dumps(schema)
    assert schema["properties"]["tracer"]["type"] == "array"
    validator = pytest.importorskip("jsonschema")
    for path in cases:
        validator.validate(tomllib.loads(path.read_text(encoding="utf-8")), schema)
    with pytest.raises(validator.ValidationError):
        validator.validate({"pipe": {"material": "PP"}, "condition": [], "pip": {}}, schema)


def test_a_case_travels_to_another_process(cases: list[Path]) -> None:
    for path in cases:
        case = load_case(path)
        assert pickle.loads(pickle.dumps(case)) == case
