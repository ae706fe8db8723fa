"""A support made of the line's own insulation changes nothing: the field of the layers is the section's own.

Every kind of joint of a section is repeated over the layers with the layer's thickness; one that is not shows as a heat
sink, a fall of the wall, or a rise of the sheath where none can be. The lines are invented and hold all of them.
"""

from typing import Any

from sim.case import Case, case_for, parse_case
from validation.published.rows import Row, Table
from validation.sketches.stretch import level

NOTHING = "no support, no change, from the definition"
MOST = 2e-4  # K and W, of temperatures of tens of degrees and some 30 W/m: what the two solvers leave
ROUND = {"name": "T", "clock": 4, "shape": "round", "diameter": "10 mm", "output": "25 W/m"}
FLAT = {"name": "T", "clock": 3, "shape": "flat", "width": "12 mm", "height": "5 mm", "output": "25 W/m"}
FALLING = {"at": [["-20 degC", "45 W/m"], ["120 degC", "5 W/m"]]}
BARRIER = {"material": "aluminium", "thickness": "0.6 mm"}
MIXED = {"state": "mixed", "film_coefficient": "200 W/m2/K"}

LINES: dict[str, dict[str, Any]] = {
    "round tracer, foil, bridged, two liquids' lumps": {
        "tracer": [ROUND],
        "foil": {"thickness": "0.06 mm"},
        "insulation": {"fit": "bridged", "layer": [{"conductivity": "0.05 W/m/K", "thickness": "40 mm"}]},
        "contents": {"state": "mixed", "fill": 0.6},
    },
    "empty bore with radiation, k(T), radiation and wind outside": {
        "tracer": [FLAT],
        "contents": {"state": "empty"},
        "insulation": {"layer": [{"material": "rock wool", "thickness": "50 mm"}]},
        "condition": [{"name": "a", "ambient": "-10 degC", "wind": "4 m/s", "wind_from": 9}],
        "outside": {},
    },
    "still contents, self-regulating, wet sector": {
        "tracer": [FLAT | {"output": FALLING}],
        "contents": {"state": "still", "fill": 0.5},
        "insulation": {
            "layer": [
                {
                    "conductivity": "0.04 W/m/K",
                    "thickness": "50 mm",
                    "wet": {"from_clock": 5, "to_clock": 7, "factor": 4},
                }
            ]
        },
    },
    "flowing contents, partly filled, snug wedge": {
        "tracer": [ROUND | {"clock": 2}],
        "contents": {"state": "flowing", "temperature": "40 degC", "film_coefficient": "30 W/m2/K", "fill": 0.7},
    },
}  # fmt: skip


def unchanged(changes: dict[str, Any]) -> Case:
    """A line with an insert of its own insulation."""
    raw: dict[str, Any] = {
        "pipe": {"size": "DN 100", "schedule": "40", "material": "carbon steel"},
        "contents": MIXED,
        "insulation": {"layer": [{"conductivity": "0.04 W/m/K", "thickness": "50 mm"}]},
        "barrier": BARRIER,
        "outside": {"coefficient": "10 W/m2/K"},
        "condition": [{"name": "a", "ambient": "-10 degC"}],
        "design": {"maintain": "50 degC"},
    } | changes
    layer = raw["insulation"]["layer"][0]
    own = {key: layer[key] for key in ("conductivity", "material") if key in layer}
    insert = {"arc": "60 deg", "clock": 10, "length": "0.2 m"} | own
    raw["support"] = [{"name": "S", "family": "parts", "insert": insert, "spacing": "1 m"}]
    return case_for(parse_case(raw), "a")


def rows() -> list[Row]:
    """A support of the line's own insulation: no heat sink, no fall, no rise."""
    listed: list[Row] = []
    for name, changes in LINES.items():
        table = Table("a support that is none", NOTHING, listed)
        values = level(unchanged(changes), 0.7).values
        for key, unit in (
            ("heat_sink", "W"),
            ("dip", "K"),
            ("fall_mean", "K"),
            ("contents_dip", "K"),
            ("sheath_rise", "K"),
        ):
            table.within(
                f"{key.replace('_', ' ')}, {name}", 0.0, values[key], MOST, "what the two solvers leave", unit
            )
        table.within(f"closure, {name}", 0.0, values["closure"], 1e-6, "what the solver leaves", "-")
    return listed
