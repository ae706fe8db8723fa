"""Numbers and clock positions as text, the same on the terminal and in the report."""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from math import isfinite

from sim.basics import ZERO_CELSIUS as ZERO
from sim.solve.convergence import Banded, rounded_margin, rounded_up

NONE = "–"


def number(value: float | None, decimals: int = 2) -> str:
    """A number with fixed decimals and no negative zero; a dash where there is none."""
    if value is None or not isfinite(value):
        return NONE
    text = f"{value:.{decimals}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def with_band(value: float, band: float) -> str:
    """Value and band: "29.31 ± 0.04"; the band is rounded up as it is judged, so it never looks smaller than it is."""
    if not isfinite(value):
        return NONE
    if not isfinite(band):
        return f"{number(value)} (no band)"
    shown, decimals = rounded_up(band)
    return f"{number(value, decimals)} ± {number(shown, decimals)}"


def margin_text(margin: float, band: float) -> str:
    """A margin as it is judged: with its sign, to the decimals of its band, towards the unsafe side."""
    if not isfinite(margin) or not isfinite(band):
        return signed(margin)
    return signed(rounded_margin(margin, band), rounded_up(band)[1])


def celsius(value: Banded) -> str:
    """A banded temperature in degC, with its band in K."""
    return with_band(value.value - ZERO, value.band)


def plain(value: Banded) -> str:
    """A banded value in its own unit."""
    return with_band(value.value, value.band)


def clock(hours: float | None) -> str:
    """A clock position to a tenth of an hour: "5.2 o'clock"; a dash where there is none."""
    if hours is None or not isfinite(hours):
        return NONE
    tenth = round(hours, 1) % 12
    return f"{tenth + 12.0 if tenth < 1.0 else tenth:g} o'clock"


def coldest_at(values: Mapping[str, Banded], part: str) -> str:
    """Where a part of the section is coldest: "at 5.2 o'clock"; no place where its temperatures differ by less than
    their bands; a dash where it has none."""
    low, high = values[f"{part}.min"], values[f"{part}.max"]
    at = clock(values[f"{part}.min_clock"].value) if f"{part}.min_clock" in values else NONE
    if at == NONE:
        return NONE
    return f"at {at}" if high.value - low.value > max(low.band, high.band) else "no place stands out"


def counted(number: int, what: str) -> str:
    """ "1 note", "2 notes"."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def signed(value: float | None, decimals: int = 2, unit: str = "") -> str:
    """A number with its sign, or a dash."""
    if value is None or not isfinite(value):
        return NONE
    text = f"{value:+.{decimals}f}"
    text = text if text.strip("+-0.") else "+" + text[1:]
    return f"{text} {unit}" if unit else text


def inputs_text(worth: float) -> str:
    """What the inputs' usual uncertainty is worth, to two digits, rounded up; a dash where it is not known."""
    if not isfinite(worth):
        return NONE
    shown, decimals = rounded_up(worth, 1)
    return number(shown, decimals)


def file_names(names: Sequence[str]) -> dict[str, str]:
    """A part of a file name for each condition name: no separators or blanks, unique even where case is ignored."""
    taken: set[str] = set()
    names_of: dict[str, str] = {}
    for name in names:
        plain = unicodedata.normalize("NFKC", name)
        plain = "".join(
            c if unicodedata.category(c)[0] == "M" else re.sub(r"[^\w.+-]", " ", c) for c in plain
        )
        plain = re.sub(r" +", "-", plain).strip("-.")[:48] or "condition"
        unique, count = plain, 2
        while unique.casefold() in taken:
            unique, count = f"{plain}-{count}", count + 1
        taken.add(unique.casefold())
        names_of[name] = unique
    return names_of
