"""The picture of a fitting: what is drawn is what is solved, and the command writes it before anything is."""

from pathlib import Path

import numpy as np
import pytest
from fitting_lines import across, along, narrowed
from typer.testing import CliRunner

from sim.cli import app
from sim.report.draw_fitting import dimensions, draw_fitting
from sim.section.bodies import bodies_of


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


@pytest.mark.slow
def test_the_field_is_drawn_and_written_of_the_cells_that_there_are(tmp_path: Path) -> None:
    """A point of a cut has the temperature of its nearest site; the file has every site once, in range."""
    from sim.judge.support import judge_support
    from sim.report.draw_fitting_field import draw_fitting_field, sampled
    from sim.report.field import write_fitting_field
    from sim.solve.fitting_space import sites_in_space

    flow = {"state": "flowing", "temperature": "60 degC", "film_coefficient": "300 W/m2/K"}
    case = narrowed(along(180, 40), across(60, 150), contents=flow)
    answer = judge_support(case, case.fittings[0], None, 0.5)
    result = answer.result
    assert result is not None
    site, value = sites_in_space(result, result.alone)
    assert len(np.unique(site.round(9), axis=0)) == len(site)
    bodies = bodies_of(case, case.fittings[0])
    metal = np.array([[0.0, 0.07, 0.0], [0.0, 0.13, 0.0], [0.0, 0.4, 0.0]])
    found = sampled(result, result.alone, bodies, metal)
    assert (
        found[0] > found[1] > case.conditions[0].ambient - 273.15
    )  # warmer beside the bore than at the free end
    assert np.isnan(found[2])
    assert value.min() >= case.conditions[0].ambient - 1e-6
    draw_fitting_field(answer, tmp_path / "field.png")
    write_fitting_field(result, tmp_path / "field.vtu")
    assert (tmp_path / "field.png").stat().st_size > 5000
    assert f'NumberOfPoints="{len(site)}"' in (tmp_path / "field.vtu").read_text(encoding="ascii")
