"""What the user writes: schema, units, loading, and the catalogue of pipes, materials and fluids."""

from __future__ import annotations

from .case import Case
from .covering import Barrier, Insulation, Layer, Outside, Void, Wet
from .curve import Curve
from .errors import CaseError
from .keys import json_schema, key_table
from .line import Contents, Pipe
from .load import case_for, load_case, parse_case, with_overrides
from .materials import Fluid, Solid
from .operation import Condition, Design, Limits, Sensor
from .resolve import to_toml
from .support import Insert, Leg, Pad, Support
from .tracing import Foil, Output, Tracer

__all__ = [
    "Barrier",
    "Case",
    "CaseError",
    "Condition",
    "Contents",
    "Curve",
    "Design",
    "Fluid",
    "Foil",
    "Insert",
    "Insulation",
    "Layer",
    "Leg",
    "Limits",
    "Output",
    "Outside",
    "Pad",
    "Pipe",
    "Sensor",
    "Solid",
    "Support",
    "Tracer",
    "Void",
    "Wet",
    "case_for",
    "json_schema",
    "key_table",
    "load_case",
    "parse_case",
    "to_toml",
    "with_overrides",
]
