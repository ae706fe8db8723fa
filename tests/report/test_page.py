"""Pictures and page: what is written shows as text, all is inside, odd cases draw."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.path import Path as Corners

from sim.case import parse_case
from sim.judge import check as judging
from sim.judge.check import check
from sim.report import write_report
from sim.report.painter import Painter
from sim.report.scene import fills, scene
from sim.section.layout import place
from sim.solve.steady import NotConverged

Small = Callable[..., dict[str, Any]]


def written(raw: dict[str, Any], folder: Path) -> str:
    write_report(check(parse_case(raw), fineness=1.0), folder)
    return (folder / "report.html").read_text(encoding="utf-8")


def test_hostile_words_show_as_text(hostile: Path) -> None:
    page = (hostile / "report.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert all(words in page for words in ("banner pass", "electric shock", "not a certificate"))
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "{{7*7}}" in page
    assert page.count("</title>") == 1
    assert "冬夜 &amp; night" in page
    assert not re.search(r"(?:src|href)=\"(?!data:image/png;base64,)", page)
    assert page.count("data:image/png;base64,") == 3
    assert (hostile / "section_冬夜-night.png").exists()


@pytest.mark.parametrize(
    "changes",
    [
        {"tracer": None, "sensor": None, "limits": None, "design": None},
        pytest.param(
            {"contents": {"state": "mixed", "film_coefficient": "0 W/m2/K"}}, marks=pytest.mark.slow
        ),
        pytest.param({"contents": {"state": "still", "fill": 0.4}, "barrier": None}, marks=pytest.mark.slow),
        pytest.param(
            {"foil": {"thickness": "0.1 mm"}, "outside": {"coefficient": "8 W/m2/K"}}, marks=pytest.mark.slow
        ),
    ],
    ids=["plain pipe", "adiabatic bore", "partly filled", "foil"],
)
def test_odd_cases_have_a_page(small: Small, tmp_path: Path, changes: dict[str, Any]) -> None:
    page = written(small(**changes), tmp_path / "out")
    assert "nan" not in re.sub(r"base64,[^\"]*", "", page).lower().split()
    assert len(list((tmp_path / "out").glob("*.png"))) == 3


def test_condition_that_does_not_converge(
    small: Small, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object) -> None:
        raise NotConverged("the heat balance did not settle: 3 W/m left")

    monkeypatch.setattr(judging, "solve_section", never)
    page = written(small(), tmp_path / "out")
    assert "banner not-converged" in page
    assert "did not settle: 3 W/m left" in page
    assert "<img" not in page


@pytest.mark.slow
def test_pictures_without_a_second_process(small: Small, tmp_path: Path) -> None:
    shown = scene(check(parse_case(small()), fineness=1.0).conditions[0].result)
    painter = Painter()
    painter.stop()
    painter.add((shown, "around", str(tmp_path / "a.png")))
    painter.finish()
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")
    other = Painter()
    other.add((shown, "around", str(tmp_path / "nowhere" / "a.png")))
    with pytest.raises(OSError, match="nowhere"):
        other.finish()


def test_fills_cover_the_section_as_the_layout_has_it(small: Small) -> None:
    """The painted outlines give every probe the region the layout gives it."""
    layer = {
        "conductivity": "0.04 W/m/K",
        "thickness": "30 mm",
        "wet": {"from_clock": 5, "to_clock": 7, "factor": 3},
    }
    insulation = {"fit": "oversize", "bore": "90 mm", "layer": [layer]}
    layout = place(parse_case(small(insulation=insulation, contents={"fill": 0.3})))
    rng = np.random.default_rng(3)
    probe = rng.uniform(-1, 1, (4000, 2)) * layout.cover_radius * 1.1
    painted = np.full(len(probe), "outside", dtype=object)
    for kind, _, corners in fills(layout):
        painted[Corners(corners).contains_points(probe)] = kind
    number = layout.region_of(probe[:, 0], probe[:, 1])
    kinds = np.array([r.kind for r in layout.regions] + ["outside"], dtype=object)[number]
    assert (painted == kinds).mean() > 0.995
