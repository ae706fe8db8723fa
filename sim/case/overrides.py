"""What a condition changes: overrides are laid over the raw case, which is then read anew."""

import copy
from typing import Any

from .errors import CaseError, join_key, nearest

LIST_TABLES = ("tracer", "sensor", "layer", "support", "fitting", "body", "control", "episode", "change")
# Tables that an override takes out with `false`.
REMOVABLE = ("barrier", "foil", "wet")
# One value each, however it is written: an override replaces the whole of it.
PROPERTIES = ("conductivity", "density", "specific_heat", "viscosity", "expansion")
WHOLE = ("material", "fluid", "gas", "output", *PROPERTIES)
# What an override of the first key takes away where the override does not give it as well: what would be refused
# beside it, or would win over it so that the override did nothing.
_Keys = tuple[str, ...]
_PIPE_SIZE: _Keys = ("size", "schedule")
_PIPE_FREE: _Keys = ("outer_diameter", "wall")
TAKES_AWAY: dict[str, dict[str, _Keys]] = {
    "wet": {"factor": ("conductivity",), "conductivity": ("factor",)},
    "void": {"filling": ("conductivity",), "conductivity": ("filling",)},
    "pipe": dict.fromkeys(_PIPE_SIZE, _PIPE_FREE) | dict.fromkeys(_PIPE_FREE, _PIPE_SIZE),
    "contents": {"velocity": ("film_coefficient",), "film_coefficient": ("velocity",)},
    "layer": {"material": ("conductivity", "density", "specific_heat")},
    "barrier": {"material": ("conductivity", "emissivity")},
    "leg": {"film_coefficient": ("emissivity",), "emissivity": ("film_coefficient",)},
    "insert": {"material": ("conductivity",), "conductivity": ("material",)},
}


def overridden(raw: dict[str, Any], overrides: dict[str, Any]) -> dict[str, Any]:
    """The raw case with the overrides laid over it. Raises CaseError where an address leads nowhere.

    Tables are merged key by key. A list table given as a list replaces the whole list; given as a table, its keys are
    names or positions of entries, and each entry is merged. `false` takes a table of REMOVABLE out.
    """
    return _merged(raw, overrides, "", "")


def _merged(base: dict[str, Any], changes: dict[str, Any], name: str, path: str) -> dict[str, Any]:
    result = dict(base)
    for given, others in TAKES_AWAY.get(name, {}).items():
        for other in others:
            if given in changes and other not in changes:
                result.pop(other, None)
    for key, change in changes.items():
        place = join_key(path, key)
        old = result.get(key)
        if key in LIST_TABLES and isinstance(change, dict):
            result[key] = _merged_entries(old if isinstance(old, list) else [], change, key, place)
        elif change is False and key in REMOVABLE:
            result.pop(key, None)
        elif key not in WHOLE and isinstance(change, dict):
            result[key] = _merged(old if isinstance(old, dict) else {}, change, key, place)
        else:
            result[key] = copy.deepcopy(change)
    return result


def _merged_entries(base: list[Any], changes: dict[str, Any], key: str, path: str) -> list[Any]:
    """A list table with changes addressed by name or position."""
    result = list(base)
    for address, change in changes.items():
        place = join_key(path, str(address))
        index = entry_index(base, str(address))
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
        entry = result[index]  # what is no table is complained of where it stands
        result[index] = _merged(entry if isinstance(entry, dict) else {}, change, key, place)
    return result


def entry_index(base: list[Any], address: str) -> int | None:
    """Position of the entry of a list table with a name, or at a position counted from 1; None where there is none."""
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


def acts_under(raw: dict[str, Any], overrides: dict[str, Any], path: tuple[str, ...]) -> bool:
    """Whether a change of the case's own value at a path (addresses as in overrides) still shows once the overrides
    lie over it. Raises CaseError where the path leads nowhere."""
    mark = "\0changed"
    nested: Any = mark
    for step in reversed(path):
        nested = {step: nested}
    shared = {key: value for key, value in raw.items() if key != "condition"}
    return _holds(overridden(overridden(shared, nested), overrides), mark)


def _holds(value: Any, mark: str) -> bool:
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return value == mark or any(_holds(entry, mark) for entry in inner)
