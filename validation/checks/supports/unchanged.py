"""A support made of the line's own insulation changes nothing: the field of the layers is the section's own.

Every kind of joint of a section is repeated over the layers with the layer's thickness; one that is not shows as a heat
sink, a fall of the wall, or a rise of the sheath where none can be. The lines of `unchanged.toml` hold all of them.
"""

from pathlib import Path
from typing import Any

from sim.case import Case
from validation.published.rows import Row, Table
from validation.sketches.invented import read
from validation.sketches.stretch import level, only

NOTHING = "no support, no change, from the definition"
MOST = 2e-4  # K and W, of temperatures of tens of degrees and some 30 W/m: what the two solvers leave
LINES = read(Path(__file__).with_suffix(".toml"))
UNITS = {"heat_sink": "W", "dip": "K", "fall_mean": "K", "contents_dip": "K", "sheath_rise": "K"}


def unchanged(raw: dict[str, Any]) -> Case:
    """A line with an insert of its own insulation."""
    layer = raw["insulation"]["layer"][0]
    own = {key: layer[key] for key in ("conductivity", "material") if key in layer}
    insert = {"arc": "60 deg", "clock": 10, "length": "0.2 m"} | own
    return only(raw | {"support": [{"name": "S", "family": "parts", "insert": insert, "spacing": "1 m"}]})


def rows() -> list[Row]:
    """A support of the line's own insulation: no heat sink, no fall, no rise."""
    table = Table("a support that is none", NOTHING, why="what the two solvers leave")
    for name, raw in LINES.items():
        values = level(unchanged(raw), 0.7).values
        for key, unit in UNITS.items():
            table.within(f"{key.replace('_', ' ')}, {name}", 0.0, values[key], MOST, unit=unit)
        table.within(f"closure, {name}", 0.0, values["closure"], 1e-6, "what the solver leaves", "-")
    return table.rows
