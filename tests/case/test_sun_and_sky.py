"""What a case may say of sun, sky and rain, and what it is told where it says it wrongly."""

from typing import Any

import pytest
from plain_lines import line

from sim.case import CaseError, parse_case, sun_and_sky, to_toml

BEAM = {"irradiance": "500 W/m2", "clock": 3, "absorptivity": 0.4}
DAY = {"date": "2026-06-21", "hour": 12, "latitude": 45, "bearing": 90, "absorptivity": 0.4}


def case(**more: Any) -> Any:
    raw = line()
    raw["outside"] = more.pop("outside", {})
    raw["condition"] = [{"name": "a", "ambient": "-5 degC"} | more]
    return parse_case(raw)


@pytest.mark.parametrize(
    ("more", "key", "words"),
    [
        ({"sun": {"absorptivity": 0.4}}, "sun", "exactly one of: irradiance"),
        ({"sun": BEAM | DAY}, "sun", "exactly one of: irradiance"),
        ({"sun": {"irradiance": "500 W/m2", "absorptivity": 0.4}}, "sun.clock", "missing beside irradiance"),
        ({"sun": BEAM | {"bearing": 10}}, "sun.bearing", "does not belong beside irradiance"),
        ({"sun": {k: v for k, v in DAY.items() if k != "latitude"}}, "sun.latitude", "missing beside date"),
        ({"sun": DAY | {"date": "2026-02-30"}}, "sun.date", "is not a date"),
        ({"sun": DAY | {"diffuse": "10 W/m2"}}, "sun.diffuse", "does not belong beside date"),
        ({"sky": {}}, "sky.temperature", "exactly one of"),
        ({"sky": {"temperature": "-40 degC", "cloud": 0.5}}, "sky.cloud", "does not belong beside temperature"),
        (
            {"sky": {"dew_point": "-9 degC", "cloud": 0.5, "correlation": "Berdahl and Martin"}},
            "sky.cloud",
            "clear sky",
        ),
        ({"sky": {"dew_point": "0 degC"}}, "sky.dew_point", "above the ambient"),
        ({"rain": True, "sun": BEAM}, "sun", "no effect beside rain"),
        ({"rain": True, "sky": {"temperature": "-40 degC"}}, "sky", "no effect beside rain"),
        ({"outside": {"coefficient": "9 W/m2/K"}, "sky": {"temperature": "-40 degC"}}, "sky", "has no effect"),
        ({"outside": {"coefficient": "0 W/m2/K"}, "sun": BEAM}, "sun", "has no effect"),
    ],
)  # fmt: skip
def test_refused_with_its_key(more: dict[str, Any], key: str, words: str) -> None:
    with pytest.raises(CaseError, match=words) as caught:
        case(**more)
    assert caught.value.key is not None
    assert caught.value.key in (f'condition "a".{key}', f'condition[1] "a".{key}')


def test_a_date_without_pvlib_is_one_message(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sun_and_sky, "find_spec", lambda name: None)
    with pytest.raises(CaseError, match=r"needs pvlib.*coldspot\[weather\]") as caught:
        case(sun=DAY)
    assert "\n" not in str(caught.value)


def test_written_out_and_read_again() -> None:
    import tomllib

    pytest.importorskip("pvlib")
    for more in ({"sun": BEAM}, {"sun": DAY, "sky": {"dew_point": "-9 degC", "cloud": 0.5}}, {"rain": True}):
        first = case(**more)
        assert parse_case(tomllib.loads(to_toml(first))) == first
