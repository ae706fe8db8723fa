"""What a condition changes of the case, in words: every key whose value differs, and what it was."""

from typing import Any

from .case import Case
from .errors import join_key
from .load import case_for
from .overrides import LIST_TABLES, WHOLE
from .resolve import resolved

NOTHING = "none"
NO_CONDITIONS_OWN = ("title", "condition", "control", "episode")  # a condition is solved without them
OPTIONAL_KEYS = ("limits", "design")  # tables in which every key stands for itself
LONGEST = 40  # characters of one value


def changes(case: Case, condition: str) -> tuple[str, ...]:
    """One line for every key that a condition changes: 'tracer "T1".on: true -> false'; () where it changes none.

    Both sides are taken with every default filled in, so that what follows from a change is named as well. Raises
    CaseError where there is no condition of that name.
    """
    if not next((entry.overrides for entry in case.conditions if entry.name == condition), {}):
        case_for(case, condition)
        return ()
    before, after = resolved(case), resolved(case_for(case, condition))
    return tuple(_differences(_own(before), _own(after), ""))


def between(before: Case, after: Case) -> tuple[str, ...]:
    """One line for every key in which two cases differ, every default filled in, as `changes` has them."""
    old, new = resolved(before), resolved(after)
    lines = _differences(_own(old), _own(new), "")
    for key in NO_CONDITIONS_OWN:
        if old.get(key) != new.get(key):
            several = key != "title"
            lines += _entries(old.get(key, []), new.get(key, []), key) if several else [f"{key}: another"]
    return tuple(lines)


def _own(written: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in written.items() if key not in NO_CONDITIONS_OWN}


def _differences(before: dict[str, Any], after: dict[str, Any], path: str) -> list[str]:
    lines: list[str] = []
    for key in (*before, *(key for key in after if key not in before)):
        old, new = before.get(key), after.get(key)
        place = join_key(path, key)
        if old == new:
            continue
        if key in LIST_TABLES:
            lines += _entries(old or [], new or [], place)
        elif key in OPTIONAL_KEYS or (key not in WHOLE and isinstance(old, dict) and isinstance(new, dict)):
            lines += _differences(old or {}, new or {}, place)
        else:
            lines.append(f"{place}: {_value(old)} -> {_value(new, old)}")
    return lines


def _entries(before: list[dict[str, Any]], after: list[dict[str, Any]], path: str) -> list[str]:
    old, new = _by_place(before), _by_place(after)
    lines: list[str] = []
    for place in (*old, *(place for place in new if place not in old)):
        key = f"{path}{place}"
        if place in old and place in new:
            lines += _differences(old[place], new[place], key)
        else:
            lines.append(f"{key}: {'taken out' if place in old else 'added'}")
    if not lines:
        lines.append(f"{path}: another order")
    return lines


def _by_place(entries: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Entries by name where they have one, by position where they have none."""
    return {(f' "{e["name"]}"' if "name" in e else f"[{n}]"): e for n, e in enumerate(entries, start=1)}


def _value(value: Any, other: Any = None) -> str:
    if value is None:
        return NOTHING
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        text = ", ".join(f"{key} {_value(inner)}" for key, inner in value.items())
    elif isinstance(value, list):
        text = f"a table of {len(value)} rows" if value and isinstance(value[0], list) else str(value)
    else:
        text = f"{value:g}" if isinstance(value, float) else str(value)
    text = text if len(text) <= LONGEST else text[: LONGEST - 3] + "..."
    return text if other is None or text != _value(other) else "another " + text.removeprefix("a ")
