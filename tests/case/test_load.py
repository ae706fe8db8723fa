"""Files, conditions, overrides, and the case written out again."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from sim.case import (
    CaseError,
    assumptions,
    case_for,
    load_case,
    parse_case,
    resolved,
    to_toml,
)


def test_shipped_cases_load_in_every_condition_and_say_they_are_invented(cases: list[Path]) -> None:
    assert len(cases) >= 5
    for path in cases:
        case = load_case(path)
        assert "invented" in path.read_text(encoding="utf-8").split("title")[0].lower()
        for condition in case.conditions:
            alone = case_for(case, condition.name)
            assert [c.name for c in alone.conditions] == [condition.name]


def test_the_resolved_case_reads_back_equal(cases: list[Path]) -> None:
    for path in cases:
        case = load_case(path)
        assert parse_case(resolved(case), str(path)) == case
        again = parse_case(tomllib.loads(to_toml(case)), str(path))
        assert again == case
        for condition in case.conditions:
            assert case_for(again, condition.name) == case_for(case, condition.name)


def test_a_condition_overrides_and_the_case_keeps_its_own(plastic: dict[str, Any]) -> None:
    case = parse_case(plastic)
    failed = case_for(case, "one-tracer-failed")
    assert [tracer.on for tracer in failed.tracers] == [True, False]
    assert [tracer.on for tracer in case.tracers] == [True, True]
    assert case.conditions[2].overrides == {"tracer": {"T2": {"on": False}}}
    assert case_for(failed, "one-tracer-failed") == failed
    with pytest.raises(CaseError, match='did you mean "summer-day"'):
        case_for(case, "summer_day")


def test_a_changed_copy_is_not_rebuilt_from_the_old_file(plastic: dict[str, Any]) -> None:
    case = parse_case(plastic)
    changed = case.model_copy(update={"foil": None})
    for condition in case.conditions:
        assert case_for(changed, condition.name).foil is None


def test_defaults_are_listed_as_assumptions(plastic: dict[str, Any]) -> None:
    rows = {key: (value, source) for key, value, source in assumptions(parse_case(plastic))}
    assert rows['tracer[1] "T1".contact_conductance'] == ("400 W/m2/K", "from memory")
    assert "TIASA" in rows["insulation.layer[1].conductivity"][1]
    assert rows["contents.fluid"][1] == "from memory"
    assert "foil.thickness" not in rows
    assert all(source for _, source in rows.values())


def test_files_that_are_no_cases(tmp_path: Path) -> None:
    path = tmp_path / "line.toml"
    for content, words in (
        (b'title = "a"\npipe = {\n', "line 2"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b'title = "\x00"', "TOML"),
        (bytes(range(256)), "UTF-8"),
        (b"a" * 10 + b" = " + b"[" * 5000, "TOML"),
        (b"", "pipe: is missing"),
        (b'title = "a"\ntitle = "b"', "line 2"),
    ):
        path.write_bytes(content)
        with pytest.raises(CaseError) as caught:
            load_case(path)
        assert str(caught.value).startswith(str(path)), caught.value
        assert words in str(caught.value)
        assert "\n" not in str(caught.value)
    for place in (tmp_path, tmp_path / "none.toml", "\0"):
        with pytest.raises(CaseError, match="cannot be read"):
            load_case(place)


def test_not_a_dict() -> None:
    for raw in (None, [], "text", 5):
        with pytest.raises(CaseError):
            parse_case(raw)  # type: ignore[arg-type]


def test_a_byte_order_mark_and_other_languages(tmp_path: Path, cases: list[Path]) -> None:
    winter = next(path for path in cases if path.stem == "winter-brine")
    text = winter.read_text(encoding="utf-8").replace('name = "S1"', 'name = "底部 датчик é"')
    path = tmp_path / "línea.toml"
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert load_case(path).sensors[0].name == "底部 датчик é"
