"""Supports in results.json, on the terminal, in the page and as files."""

import io
import json
from pathlib import Path

import pytest
from support_lines import line

from sim.case import parse_case
from sim.judge.check import Answer, check
from sim.report.output import write_supports
from sim.report.results import as_json, results
from sim.report.support_page import support_section
from sim.report.terminal import show
from sim.solve.multigrid import TooLarge

NUMBERS = (
    "heat_sink",
    "chi",
    "equivalent_tracer_length",
    "equivalent_line_length",
    "wall_min",
    "wall_min_clock",
)
NUMBERS += ("wall_min_z", "contents_min", "dip", "reach", "sheath_max", "leg_heat")


def test_results_carry_every_number_with_its_band(shoe: Answer) -> None:
    tree = json.loads(as_json(results(shoe)))
    computed = tree["supports"]["S1"]["conditions"]["a"]
    for name in NUMBERS:
        assert isinstance(computed[name], float), name
        assert computed["band"][name] >= 0
        assert isinstance(computed["with_allowance"][name], float), name
        assert computed["with_allowance"]["band"][name] >= 0
    assert computed["with_allowance"]["dip"] < computed["dip"]
    assert computed["chi"] == pytest.approx(computed["heat_sink"] / 60.0)
    assert computed["equivalent_tracer_length"] == pytest.approx(computed["heat_sink"] / 25.0)
    assert computed["allowance"]["common_practice"] == pytest.approx(2 * 0.15 + 0.4)
    assert -10 < computed["wall_min"] < 60  # degC
    assert {checks["verdict"] for checks in computed["limits"]} == {"pass"}


def test_page_terminal_and_files(shoe: Answer, tmp_path: Path) -> None:
    write_supports(shoe, tmp_path, {"a": "a"})
    assert sorted(p.name for p in tmp_path.iterdir()) == ["support_1_a.png", "support_1_a.vtu"]
    meshio = pytest.importorskip("meshio")
    field = meshio.read(tmp_path / "support_1_a.vtu")
    assert field.point_data["temperature_degC"].shape == (len(field.points),)
    assert field.point_data["temperature_degC"].max() < 120
    low = field.points[:, 2] == 0.0  # the plane of symmetry is there
    assert low.sum() > 100
    assert set(field.point_data["part"][low]) == {0, 1, 2}  # pad and leg of the shoe, named in the field data
    assert (field.field_data["part 1: pad"], field.field_data["part 2: leg"]) == ([1], [2])
    assert set(field.point_data["region"]) <= {n[0] for k, n in field.field_data.items() if "region" in k}
    section = support_section(shoe.supports[0])
    assert section["allowance"][0][1] == "0.4 m"
    stream = io.StringIO()
    show(shoe, stream)
    assert "S1" in stream.getvalue()
    assert "just enough" in stream.getvalue()


def test_memory_is_refused_before_anything_is_computed_and_says_how_to_ask_for_more() -> None:
    """The second condition's support is the one that is too large: nothing of the first was solved."""
    raw = line(condition=[{"name": "a", "ambient": "0 degC"}, {"name": "b", "ambient": "0 degC"}])
    raw["condition"][1]["support"] = {"S1": {"spacing": "30 m"}}
    gathered: list[str] = []
    with pytest.raises(TooLarge, match=r"around S1 needs .* GB allowed; accepted: .*--memory"):
        check(parse_case(raw), fineness=1.0, memory=110e6, progress=lambda *what: gathered.append(str(what)))
    assert gathered == []
