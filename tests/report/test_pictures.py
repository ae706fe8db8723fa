"""What pictures show: a scale with its unit on every map, wet sectors hatched and named, the exposed leg."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

import sim.report.draw_around as draw_around
import sim.report.draw_section as draw_section
from sim.case import parse_case
from sim.judge.check import check
from sim.report.scene import scene

Small = Callable[..., dict[str, Any]]


def words(made: Figure) -> str:
    from matplotlib.text import Text

    return "\n".join(text.get_text() for text in made.findobj(Text))


def bars(made: Figure) -> list[str]:
    """Units over the colour bars, which are parts of the figure or axes of their own."""
    scales = [bar for bar in made.artists if isinstance(bar, PolyCollection)]
    units = [text.get_text() for text in made.texts if text.get_text() == "degC"]
    assert len(units) == len(scales)
    return units + [axes.get_title() for axes in made.axes if axes.get_title() and axes.collections]


def drawn(module: Any, monkeypatch: pytest.MonkeyPatch, draw: Callable[[], None]) -> Figure:
    gathered: list[Figure] = []
    monkeypatch.setattr(module, "save", lambda made, path: gathered.append(made))
    draw()
    return gathered[0]


def test_wet_sector_is_hatched_and_named(small: Small, monkeypatch: pytest.MonkeyPatch) -> None:
    layer = {"conductivity": "0.04 W/m/K", "thickness": "30 mm"}
    wet = layer | {"wet": {"from_clock": 4, "to_clock": 8, "factor": 5}}
    answer = check(parse_case(small(insulation={"fit": "snug", "layer": [wet]})), fineness=1.0)
    shown = scene(answer.conditions[0].result)
    made = drawn(draw_section, monkeypatch, lambda: draw_section.draw_section(shown, Path("x.png")))
    assert bars(made) == ["degC", "degC"]
    assert "wet" in words(made).splitlines()
    hatched = [p for axes in made.axes for p in axes.patches if isinstance(p, Polygon) and p.get_hatch()]
    assert len(hatched) == 1
    corners = hatched[0].get_xy()
    angle = np.mod(np.arctan2(*corners.T) * 6 / np.pi, 12)
    assert angle.min() == pytest.approx(4, abs=0.01)
    assert angle.max() == pytest.approx(8, abs=0.01)
    around = drawn(draw_around, monkeypatch, lambda: draw_around.draw_around(shown, Path("x.png")))
    assert "wet insulation" in words(around)
    assert "o'clock" in words(around)
    dry = scene(check(parse_case(small()), fineness=1.0).conditions[0].result)
    made = drawn(draw_section, monkeypatch, lambda: draw_section.draw_section(dry, Path("x.png")))
    assert "wet" not in words(made)
