"""What the pictures and the page say of an episode."""

import copy
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from sim.case import parse_case
from sim.judge.check import Answer, check
from sim.report.draw_episode import draw_moments
from sim.report.episode_page import episode_scene
from sim.report.output import write_all
from sim.report.painter import Painter
from sim.report.words import file_names


def _raw(small: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    raw = copy.deepcopy(small())
    raw["contents"] = {"state": "mixed", "fluid": "water"}
    raw["limits"] = {"contents_min": "0.2 degC"}
    limits, cut = {"frozen_share": 0.9, "hold": "12 h"}, [{"at": "30 min", "supply": 0}]
    episode = {"name": "cut", "condition": raw["condition"][0]["name"], "start": "0.5 degC", "lasts": "3 h"}
    raw["episode"] = [episode | {"limits": limits, "change": cut}]
    return raw


@pytest.fixture(scope="module")
def answer(small: Callable[..., dict[str, Any]]) -> Answer:
    return check(parse_case(_raw(small)), fineness=0.75)


def _words(made: Figure) -> str:
    return "\n".join(text.get_text() for text in made.findobj(Text))


def test_moments_stand_side_by_side_with_their_ice(answer: Answer) -> None:
    scene = episode_scene(answer.episodes[0])
    made = draw_moments(scene, None)
    assert [f"{still.hour:.1f} h" in _words(made) for still in scene.stills] == [True] * len(scene.stills)
    share = answer.episodes[0].result.series["frozen"].value[-1]  # type: ignore[union-attr]
    radius = scene.outline.inner_radius
    assert scene.stills[0].ring == radius
    assert scene.stills[-1].ring == pytest.approx(radius * np.sqrt(1 - share), rel=1e-6)


def test_page_holds_the_answers_and_a_slider_without_outside_addresses(
    answer: Answer, tmp_path: Path
) -> None:
    with Painter() as painter:
        write_all(answer, tmp_path, painter)
    text = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "43200" not in text  # times are in hours
    for expected in ("Episode cut", "first ice at", "energy of", "power lost at", 'type="range"'):
        assert expected in text
    assert not re.search(r'(?:src|href)="https?:', text)
    name = file_names(["cut"])["cut"]
    assert (tmp_path / f"course_{name}.png").stat().st_size > 1000
    assert (tmp_path / f"moments_{name}.png").stat().st_size > 1000
    assert (tmp_path / f"episode_{name}.csv").exists()


@pytest.mark.slow
def test_what_was_not_run_is_told(small: Callable[..., dict[str, Any]], tmp_path: Path) -> None:
    left = check(parse_case(_raw(small)), fineness=0.75, episodes=())
    with Painter() as painter:
        write_all(left, tmp_path, painter)
    assert "were not run: cut" in (tmp_path / "report.html").read_text(encoding="utf-8")
