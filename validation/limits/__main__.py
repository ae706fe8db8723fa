"""Measure what the model leaves out and write the page: python -m validation.limits [--page docs/limits.md]."""

import argparse
import sys
from math import isfinite
from pathlib import Path

from jinja2 import Environment, FileSystemLoader

from sim.heat import air, bore, wind
from sim.judge import field_notes
from sim.solve.moving import VERIFIED
from sim.version import __version__
from validation.limits.derived import numbers
from validation.limits.measured import Effect, all_effects
from validation.limits.supports import all_support_effects

HERE = Path(__file__).parent
PAGE = HERE.parents[1] / "docs" / "limits.md"


def _no_minus(value: float, digits: int) -> float:
    """Rounded, and without a sign where nothing is left."""
    return round(value, digits) + 0.0


def kelvin(value: float) -> str:
    """A change in K with its sign."""
    return f"{_no_minus(value, 2):+.2f} K" if isfinite(value) else "–"


def part(value: float) -> str:
    """A part as a signed percentage."""
    return f"{_no_minus(100 * value, 1):+.1f} %" if isfinite(value) else "–"


def _largest(effects: list[Effect]) -> str:
    """The three effects that move the coldest contents or the sheath the most, in words."""
    moves = sorted(effects, key=lambda e: -max(abs(e.coldest), abs(e.sheath)))[:3]
    return "; ".join(f"{e.name} ({kelvin(e.coldest)} coldest, {kelvin(e.sheath)} sheath)" for e in moves)


def main() -> int:
    """Measure and write."""
    parser = argparse.ArgumentParser(prog="python -m validation.limits", description=__doc__)
    parser.add_argument("--page", type=Path, default=PAGE)
    options = parser.parse_args()
    effects = all_effects()
    environment = Environment(loader=FileSystemLoader(HERE), autoescape=False, keep_trailing_newline=True)
    text = environment.get_template("limits.md.jinja").render(
        version=__version__,
        effects=effects,
        supports=list(all_support_effects()),
        derived=numbers(),
        largest=_largest(effects),
        kelvin=kelvin,
        part=part,
        air=air,
        bore=bore,
        profile=wind.PROFILE_REYNOLDS,
        quiet=field_notes.QUIET,
        verified=VERIFIED,
        matters=field_notes.MATTERS,
    )
    options.page.write_text(text, encoding="utf-8")
    print(f"Written: {options.page}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
