"""Units at the boundary of a case: the factors of NIST SP 811, and one line written both ways.

NIST Special Publication 811 (2008), appendix B.8, the factors as printed there (from memory); degF by definition.
"""

from pathlib import Path

from sim.case.units import parse_quantity
from validation.published.rows import Row
from validation.sketches.invented import read
from validation.sketches.sketch import DEFINED, numbers

SPELLINGS = read(Path(__file__).with_name("spellings.toml"))
NIST = "@nistsp811, appendix B.8 (from memory)"
PRINTED = read(Path(__file__).with_name("printed.toml"))


def rows() -> list[Row]:
    """Factors of units, thermometer readings, and one line in two spellings."""
    why, seven = "ten digits are written", "seven digits are printed"
    out = [
        Row("units", NIST, text, exact, parse_quantity(text, kind), 1e-6 * exact, seven, unit)
        for text, kind, exact, unit in PRINTED["factors"]
    ]
    scales = "the scales themselves, from the definition"
    for text, exact in PRINTED["points"]:
        computed = parse_quantity(text, "temperature")
        out.append(Row("units", scales, text, exact, computed, 1e-6, "six decimals", "K"))
    metric, other = (numbers(raw, 1.0) for raw in SPELLINGS.values())
    source = "one line in two spellings, " + DEFINED
    for path, unit in (("heat_out", "W/m"), ("wall.min", "K"), ("tracers.T1.sheath_max", "K")):
        out.append(Row("units", source, path, metric[path], other[path], 1e-6, why, unit))
    return out
