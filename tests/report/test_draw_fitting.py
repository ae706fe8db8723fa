"""The picture of a fitting: what is drawn is what is solved, and the command writes it before anything is."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from fitting_lines import across, along, narrowed
from typer.testing import CliRunner

from sim.cli import app
from sim.report.draw_fitting import NAMES, _index, dimensions, draw_fitting, sources
from sim.section.bodies import bodies_of


def test_points_are_drawn_as_what_they_are() -> None:
    case = narrowed(along(180, 90, cover="40 mm"), across(90, 250))
    bodies = bodies_of(case, case.fittings[0])
    x, z = np.zeros(6), np.array([0.0, 0.08, 0.08, 0.3, 0.3, 0.3])
    y = np.array([0.2, 0.07, 0.11, 0.054, 0.08, 0.3])
    body1, body2 = len(NAMES), len(NAMES) + 1
    wanted = [
        body2,
        body1,
        NAMES.index("cover"),
        NAMES.index("pipe wall"),
        NAMES.index("line's insulation"),
        0,
    ]
    assert _index(bodies, x, y, z).tolist() == wanted


def test_each_body_has_its_lengths(tmp_path: Path) -> None:
    case = narrowed(fitting={"family": "gate_valve", "cover": "40 mm"})
    rows = dimensions(case, case.fittings[0])
    assert len(rows) == 1 + len(case.fittings[0].body)
    assert "diameter 230.0" in rows[2]
    draw_fitting(case, case.fittings[0], tmp_path / "v.png")
    assert (tmp_path / "v.png").stat().st_size > 5000


def test_the_command_draws_and_refuses_a_case_without_fittings(tmp_path: Path) -> None:
    from sim.case import to_toml

    fitted = narrowed(along(180, 90))
    path = tmp_path / "case.toml"
    path.write_text(to_toml(fitted), encoding="utf-8")
    made = CliRunner().invoke(app, ["draw", str(path), "--out", str(tmp_path)])
    assert made.exit_code == 0
    assert (tmp_path / "fitting_V1.png").exists()
    path.write_text(to_toml(fitted.model_copy(update={"fittings": ()})), encoding="utf-8")
    assert CliRunner().invoke(app, ["draw", str(path)]).exit_code == 2


@pytest.mark.parametrize(
    "family", ["flange_pair", "gate_valve", "ball_valve", "strainer", "pump", "branch", "stub"]
)
def test_each_default_length_has_its_source(family: str) -> None:
    fitting = narrowed(fitting={"family": family}).fittings[0]
    rows = sources(fitting)
    assert len(rows) == len(fitting.body)
    assert all("from memory" in row or "as tabled" in row for row in rows)
    assert sources(narrowed(along(180, 90)).fittings[0]) == ["lengths as the case gives them"]
