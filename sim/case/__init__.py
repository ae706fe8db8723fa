"""What the user writes: schema, units, loading, and the catalogue of pipes, materials and fluids.

Its modules are imported when a name is first used, so that one of them alone costs nothing more.
"""

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

__all__ = [
    "Barrier",
    "Case",
    "CaseError",
    "Condition",
    "Contents",
    "Curve",
    "Design",
    "Fitting",
    "FittingBody",
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
    "Sky",
    "Solid",
    "Sun",
    "Support",
    "Tracer",
    "Void",
    "Wet",
    "assumptions",
    "case_for",
    "json_schema",
    "key_table",
    "load_case",
    "parse_case",
    "resolved",
    "to_toml",
    "with_overrides",
]

_HOMES = {
    "Barrier": ".covering",
    "Case": ".case",
    "CaseError": ".errors",
    "Condition": ".operation",
    "Contents": ".line",
    "Curve": ".curve",
    "Design": ".operation",
    "Fitting": ".fitting",
    "FittingBody": ".fitting",
    "Fluid": ".materials",
    "Foil": ".tracing",
    "Insert": ".support",
    "Insulation": ".covering",
    "Layer": ".covering",
    "Leg": ".support",
    "Limits": ".operation",
    "Output": ".tracing",
    "Outside": ".covering",
    "Pad": ".support",
    "Pipe": ".line",
    "Sensor": ".operation",
    "Sky": ".sun_and_sky",
    "Solid": ".materials",
    "Sun": ".sun_and_sky",
    "Support": ".support",
    "Tracer": ".tracing",
    "Void": ".covering",
    "Wet": ".covering",
    "assumptions": ".resolve",
    "case_for": ".load",
    "json_schema": ".keys",
    "key_table": ".keys",
    "load_case": ".load",
    "parse_case": ".load",
    "resolved": ".resolve",
    "to_toml": ".resolve",
    "with_overrides": ".load",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    value = getattr(import_module(_HOMES[name], __name__), name)
    globals()[name] = value
    return value
