"""Letters that a picture can show: what no font here can draw is replaced, so that no picture shows empty boxes.

Imports matplotlib.
"""

from functools import lru_cache

import matplotlib
from matplotlib import ft2font

from sim.case.text import ordered

FONT = "DejaVu Sans"
OTHER_FONTS = (
    *("Noto Sans CJK SC", "Noto Sans CJK JP", "WenQuanYi Zen Hei", "Microsoft YaHei", "PingFang SC"),
    *("Noto Sans", "Noto Sans Arabic", "Noto Sans Hebrew", "Noto Sans Devanagari"),
)
# Scripts that run from right to left, or whose letters change shape and place with their neighbours: Hebrew to Arabic
# Extended, the scripts of India to Myanmar, Khmer, the joiners, Arabic presentation forms.
_SHAPED = ((0x590, 0x8FF), (0x900, 0x109F), (0x1780, 0x17FF), (0x200C, 0x200D), (0xFB1D, 0xFEFC))
_SHAPES = hasattr(ft2font, "__libraqm_version__")
"""Whether matplotlib joins and orders such letters (from 3.11 on); before, they would stand alone and backwards."""


@lru_cache(maxsize=1)
def _fallbacks() -> tuple[str, ...]:
    """Fonts of this machine with the letters of more languages."""
    from matplotlib.font_manager import fontManager

    present = {entry.name for entry in fontManager.ttflist}
    return tuple(name for name in OTHER_FONTS if name in present)


@lru_cache(maxsize=16)
def _glyphs(font: str) -> frozenset[int]:
    from matplotlib.font_manager import findfont

    return frozenset(ft2font.FT2Font(findfont(font)).get_charmap())


def _can(c: str) -> bool:
    if not _SHAPES and any(low <= ord(c) <= high for low, high in _SHAPED):
        return False
    return any(ord(c) in _glyphs(font) for font in (FONT, *_fallbacks()))


def drawable(text: str, instead: str = "?") -> str:
    """The text with every run of characters that no font here can draw replaced."""
    if text.isascii():
        return text
    if any(ord(c) not in _glyphs(FONT) for c in text):
        matplotlib.rcParams["font.family"] = [FONT, *_fallbacks()]
    out: list[str] = []
    for c in text:
        if _can(c) or c in "\n\t":
            out.append(c)
        elif not out or out[-1] != instead:
            out.append(instead)
    return "".join(out)


def drawn_name(name: str, number: str, *, among_numbers: bool = False) -> str:
    """A name, or where it cannot be drawn whole what stands for it, such as "tracer 2": the second of the report.

    among_numbers: it is drawn in one line with numbers, whose order a name written from right to left would turn
    around ("44.5 ± 1.4" would be read as "1.4 ± 44.5"); the number stands for such a name too.
    """
    if drawable(name, "\0") != name or (among_numbers and ordered(name) != name):
        return number
    return name
