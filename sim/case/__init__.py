"""What the user writes: schema, units, loading, and the catalogue of pipes, materials and fluids.

Its modules are imported when a name is first used, so that one of them alone costs nothing more.
"""

# ruff: noqa: F401  (the names are those of NAMES)
from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .case import Case
    from .covering import Barrier, Insulation, Layer, Outside, Void, Wet
    from .curve import Curve
    from .errors import CaseError
    from .fitting import Fitting, FittingBody
    from .keys import json_schema, key_table
    from .line import Contents, Pipe
    from .load import case_for, load_case, parse_case, with_overrides
    from .materials import Fluid, Solid
    from .operation import Condition, Design, Limits, Sensor
    from .resolve import assumptions, resolved, to_toml
    from .sun_and_sky import Sky, Sun
    from .support import Insert, Leg, Pad, Support
    from .tracing import Foil, Output, Tracer

NAMES = {
    "case": "Case",
    "covering": "Barrier Insulation Layer Outside Void Wet",
    "curve": "Curve",
    "errors": "CaseError",
    "fitting": "Fitting FittingBody",
    "keys": "json_schema key_table",
    "line": "Contents Pipe",
    "load": "case_for load_case parse_case with_overrides",
    "materials": "Fluid Solid",
    "operation": "Condition Design Limits Sensor",
    "resolve": "assumptions resolved to_toml",
    "sun_and_sky": "Sky Sun",
    "support": "Insert Leg Pad Support",
    "tracing": "Foil Output Tracer",
}
_HOME = {name: f".{module}" for module, names in NAMES.items() for name in names.split()}
__all__ = sorted(_HOME)


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    value = getattr(import_module(_HOME[name], __name__), name)
    globals()[name] = value
    return value
