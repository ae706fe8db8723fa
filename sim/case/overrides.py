"""What a condition changes: overrides are laid over the raw case, which is then read anew."""

from __future__ import annotations

import copy
from typing import Any

from .errors import CaseError, join_key, nearest

LIST_TABLES = ("tracer", "sensor", "layer", "support")
# One value each, however it is written: an override replaces the whole of it.
WHOLE = (
    "material",
    "fluid",
    "gas",
    "output",
    "conductivity",
    "density",
    "specific_heat",
    "viscosity",
    "expansion",
)
# Giving one of a pair takes the other away.
RIVALS = {
    "wet": (("factor", "conductivity"),),
    "void": (("filling", "conductivity"),),
    "pipe": (
        ("size", "outer_diameter"),
        ("size", "wall"),
        ("schedule", "outer_diameter"),
        ("schedule", "wall"),
    ),
}


def overridden(raw: dict[str, Any], overrides: dict[str, Any]) -> dict[str, Any]:
    """The raw case with the overrides laid over it. Raises CaseError where an address leads nowhere."""
    return _merged(raw, overrides, "", "")


def _merged(base: dict[str, Any], changes: dict[str, Any], name: str, path: str) -> dict[str, Any]:
    result = dict(base)
    for first, second in RIVALS.get(name, ()):
        for given, rival in ((first, second), (second, first)):
            if given in changes and rival not in changes:
                result.pop(rival, None)
    for key, change in changes.items():
        place = join_key(path, key)
        old = result.get(key)
        if key in LIST_TABLES:
            result[key] = _merged_list(old if isinstance(old, list) else [], change, key, place)
        elif key not in WHOLE and isinstance(change, dict):
            result[key] = _merged(old if isinstance(old, dict) else {}, change, key, place)
        else:
            result[key] = copy.deepcopy(change)
    return result


def _merged_list(base: list[Any], changes: Any, key: str, path: str) -> list[Any]:
    """A list table with changes addressed by name or position, or given as a list of partial tables."""
    result = list(base)
    if isinstance(changes, list):
        named = key != "layer" and all(isinstance(change, dict) and "name" in change for change in changes)
        changes = {(str(c["name"]) if named else str(n)): c for n, c in enumerate(changes, start=1)}
    if not isinstance(changes, dict):
        raise CaseError(f"is not a table; accepted: {_examples(base, key)}", key=path)
    for address, change in changes.items():
        place = join_key(path, str(address))
        index = _index(base, str(address))
        if index is None:
            names = [
                entry["name"]
                for entry in base
                if isinstance(entry, dict) and isinstance(entry.get("name"), str)
            ]
            raise CaseError(
                f"there is no such {key}{nearest(address, names)}; accepted: {_examples(base, key)}",
                key=place,
            )
        if not isinstance(change, dict):
            raise CaseError(f"is not a table of keys; accepted: {_examples(base, key)}", key=place)
        result[index] = _merged(result[index], change, key, place)
    return result


def _index(base: list[Any], address: str) -> int | None:
    for index, entry in enumerate(base):
        if isinstance(entry, dict) and entry.get("name") == address:
            return index
    if address.isascii() and address.isdecimal() and len(address) < 6 and 1 <= int(address) <= len(base):
        return int(address) - 1
    return None


def _examples(base: list[Any], key: str) -> str:
    names = [str(entry["name"]) for entry in base if isinstance(entry, dict) and "name" in entry]
    by_name = f"by name ({', '.join(names)}) or " if names else ""
    return f"a {key} {by_name}by position (1 to {len(base)})" if base else f"none: the case has no {key}"
