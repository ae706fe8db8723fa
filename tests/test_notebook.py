"""The library in a notebook: short texts, units beside every number, figures and tables of an answer."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure

import sim
from sim.solve.paths import quantity

TOML = """title = "Line <1> (invented)"
pipe = { outer_diameter = "60 mm", wall = "2 mm", material = "stainless steel" }
insulation = { layer = [{ thickness = "30 mm", conductivity = "0.04 W/m/K" }] }
outside = { coefficient = "10 W/m2/K" }
tracer = [{ name = "T1", clock = 5.0, shape = "flat", width = "12 mm", height = "5 mm", output = "20 W/m" }]
condition = [{ name = "cold", ambient = "-10 degC" }, { name = "mild", ambient = "5 degC" }]
limits = { wall_min = "5 degC" }
"""


@pytest.fixture(scope="module")
def answer() -> sim.Answer:
    return sim.check(tomllib.loads(TOML), fineness=1.0)


def test_a_path_a_dict_and_a_case_are_one_case(answer: sim.Answer, tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text(TOML, encoding="utf-8")
    for given in (tmp_path / "case.toml", str(tmp_path / "case.toml"), answer.case):
        assert sim.notebook.as_case(given) == answer.case
    with pytest.raises(sim.CaseError, match="float is no case; accepted: a Case"):
        sim.check(4.0)  # type: ignore[arg-type]


def test_numbers_name_their_units(answer: sim.Answer) -> None:
    """A temperature is in degC with a band in K; the same number inside is in kelvin."""
    wall = answer["cold"]["wall.min"]
    assert (wall.unit, wall.band_unit) == ("degC", "K")
    result = answer.conditions[0].result
    assert result is not None
    assert wall.value + 273.15 == pytest.approx(result.quantities["wall.min"].value)
    assert "degC ±" in repr(wall)
    assert repr(wall).endswith(" K")
    with pytest.raises(KeyError, match="known: cold, mild"):
        answer["warm"]


def test_tables(answer: sim.Answer) -> None:
    pytest.importorskip("pandas")
    table = answer.table().set_index(["condition", "quantity"])
    assert table.loc[("cold", "wall.min"), "unit"] == "degC"
    for (_, path), row in table.iterrows():
        assert row["unit"] == quantity(path).measure.unit
    checks = answer.limits()
    assert list(checks["verdict"]) == ["pass", "pass"]
    assert np.allclose(checks["value"] - checks["allowed"], checks["margin"])


@pytest.mark.parametrize("kind", ["section", "around", "mesh"])
def test_figures(answer: sim.Answer, kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    made = answer.figure(kind, "mild")
    assert isinstance(made, Figure)
    assert made.axes
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(ValueError, match="accepted: section, around, mesh"):
        answer.figure("pie")


def test_html_is_escaped_and_carries_the_caution(answer: sim.Answer) -> None:
    text = answer._repr_html_()
    assert "Line &lt;1&gt; (invented)" in text
    assert "never a certificate" in text


def test_clock_and_study(answer: sim.Answer, tmp_path: Path) -> None:
    pandas = pytest.importorskip("pandas")
    turned = sim.clock(answer.case, positions=(4, 12), states=("still",), fineness=1.0)
    assert len(repr(turned)) < 200
    assert set(turned.table()["clock"]) == {0, 4}
    assert "at every position that was computed" in turned._repr_html_()
    (tmp_path / "case.toml").write_text(TOML, encoding="utf-8")
    text = (
        'case = "case.toml"\nmeshes = 1\nfineness = 1\n[[axis]]\nkey = "tracer.T1.clock"\nvalues = [3, 6]\n'
    )
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    computed = sim.study(tmp_path / "study.toml")
    assert len(repr(computed)) < 200
    assert isinstance(computed.table(), pandas.DataFrame)
    assert len(computed.table()) == 4
    assert any("[degC]" in name for name in computed.table().columns)
    assert "never a certificate" in computed._repr_html_()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["case.toml", "study.toml"]
