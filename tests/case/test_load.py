"""Files, conditions, overrides, and the case written out again."""

import copy
import tomllib
from pathlib import Path
from typing import Any

import pytest

from sim.case import (
    Case,
    CaseError,
    assumptions,
    case_for,
    load_case,
    parse_case,
    resolved,
    to_toml,
    with_overrides,
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


def spoiled(plastic: dict[str, Any], **overrides: Any) -> Case:
    raw = copy.deepcopy(plastic)
    raw["condition"][0].update(overrides)
    return case_for(parse_case(raw), "winter-night")


def test_override_forms(plastic: dict[str, Any]) -> None:
    wet = {"from_clock": 5, "to_clock": 7, "factor": 3}
    for layer in ({"1": {"wet": wet}}, [{"material": "rock wool", "thickness": "50 mm", "wet": wet}]):
        case = spoiled(plastic, insulation={"layer": layer})
        assert case.insulation.layers[0].wet is not None
        assert case.insulation.layers[0].thickness == 0.05
    for tracer in ({"T1": {"on": False}}, {"1": {"on": False}}):
        assert [t.on for t in spoiled(plastic, tracer=tracer).tracers] == [False, True]
    case = spoiled(plastic, tracer={"T1": {"output": "5 W/m"}}, pipe={"size": "DN 100", "schedule": "10S"})
    assert case.tracers[0].output.kind == "fixed"
    assert case.pipe.wall == 0.00305
    case = spoiled(plastic, contents={"fluid": "water", "fill": 0.5}, limits={"contents_min": "1 degC"})
    assert (case.contents.fluid.name, case.contents.fill, case.limits.contents_min) == ("water", 0.5, 274.15)
    assert case.limits.wall_max == 343.15


def test_one_of_a_pair_takes_the_other_away(plastic: dict[str, Any]) -> None:
    raw = copy.deepcopy(plastic)
    raw["insulation"]["layer"][0]["wet"] = {"from_clock": 5, "to_clock": 7, "factor": 3}
    case = spoiled(
        raw,
        insulation={
            "layer": {"1": {"wet": {"conductivity": "0.2 W/m/K"}}},
            "void": {"conductivity": "1 W/m/K"},
        },
    )
    assert case.insulation.layers[0].wet is not None
    assert case.insulation.layers[0].wet.factor is None
    assert case.insulation.void.filling is None


def test_overrides_for_studies(plastic: dict[str, Any]) -> None:
    case = parse_case(plastic)
    moved = with_overrides(case, {"tracer": {"T1": {"clock": 2}}})
    assert moved.tracers[0].clock == 2.0
    assert moved.tracers[1] == case.tracers[1]
    assert len(moved.conditions) == 3
    with pytest.raises(CaseError, match="overlaps"):
        with_overrides(case, {"tracer": {"T1": {"clock": 8}}})


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


def test_a_misspelt_required_key_is_named_and_not_only_missed(plastic: dict[str, Any]) -> None:
    raw = copy.deepcopy(plastic)
    raw["condition"][1]["ambiant"] = raw["condition"][1].pop("ambient")
    with pytest.raises(
        CaseError, match=r'condition\[2\] "summer-day"\.ambiant: .* did you mean "ambient"'
    ) as caught:
        parse_case(raw)
    assert caught.value.key == 'condition[2] "summer-day".ambiant'


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
