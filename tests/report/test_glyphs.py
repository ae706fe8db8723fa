"""Letters in pictures: drawn where a font has them, else replaced, never boxes or warnings."""

import warnings

import pytest
from matplotlib.figure import Figure

from sim.report import glyphs
from sim.report.glyphs import drawable, drawn_name


@pytest.mark.parametrize("text", ["冷盐水 A", "ठंडी रात", "🧊🔥", "Ж Ω é", "كابل", "a\u0351\u036b"])
def test_what_is_drawn_has_glyphs(text: str) -> None:
    with warnings.catch_warnings():
        warnings.filterwarnings("error", message="Glyph")
        figure = Figure(figsize=(2, 1))
        figure.text(0.1, 0.5, drawable(text))
        from matplotlib.backends.backend_agg import FigureCanvasAgg

        FigureCanvasAgg(figure).draw()


def test_a_name_that_cannot_be_drawn_is_its_number(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(glyphs, "_fallbacks", tuple)
    assert drawable("冷盐水 A 冷") == "? A ?"
    assert drawn_name("冷盐水", "tracer 2") == "tracer 2"
    assert drawn_name("Ж1", "tracer 2") == "Ж1"


def test_letters_that_change_with_their_neighbours_need_shaping(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(glyphs, "_SHAPES", False)
    assert drawn_name("كابل", "tracer 1") == "tracer 1"
    monkeypatch.setattr(glyphs, "_SHAPES", True)
    assert drawn_name("كابل", "tracer 1") == "كابل"
    assert drawn_name("كابل", "tracer 1", among_numbers=True) == "tracer 1"
