"""Parts of results.json that conditions, supports and episodes share: a number, a nested value, a limit held."""

from collections.abc import Sequence
from math import isfinite
from typing import Any

from sim.judge.limits import LimitCheck
from sim.solve.measures import EVERY_LIMIT
from sim.solve.paths import Quantity
from sim.version import __version__

NO_CERTIFICATE = "Evidence for an engineer, not a certificate."


def head(title: str, **more: Any) -> dict[str, Any]:
    """The keys that every results.json begins with."""
    return {"program": "coldspot", "version": __version__, "title": title, **more}


def shown_value(row: Quantity, value: float) -> float | None:
    """A quantity as it is written: degC for temperatures; None where there is no number."""
    return finite(row.measure.shown(value))


def finite(value: float | None) -> float | None:
    """A number, or None for NaN and infinities: strict JSON has none."""
    return float(value) + 0.0 if value is not None and isfinite(value) else None


def put(tree: dict[str, Any], keys: Sequence[str], value: Any) -> None:
    for key in keys[:-1]:
        tree = tree.setdefault(key, {})
    tree[keys[-1]] = value


def limit_row(check: LimitCheck) -> dict[str, Any]:
    """One limit held, as written: value and limit in the limit's unit, band and margin in that of its differences."""
    measure = EVERY_LIMIT[check.limit].measure
    return {
        "limit": check.limit,
        "quantity": check.quantity,
        "value": finite(measure.shown(check.value)),
        "band": finite(check.band),
        "allowed": finite(measure.shown(check.allowed)),
        "margin": finite(check.margin),
        "margin_left": finite(check.left),
        "verdict": check.verdict,
        "note": check.note,
        "state": check.state or None,
        "inputs": {"together": finite(check.worth), "each": {words: finite(w) for words, w in check.inputs}},
    }
