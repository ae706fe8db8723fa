"""What to know of a case before any field is computed: keys that do nothing, values out of the common."""

from __future__ import annotations

from .case import Case
from .load import case_for
from .silent import silent


def remarks(case: Case) -> dict[str, tuple[str, ...]]:
    """Sentences by condition; what concerns the whole case stands under each."""
    built = {condition.name: case_for(case, condition.name) for condition in case.conditions}
    found: dict[str, list[str]] = {name: [] for name in built}
    for entry in silent(built, case):
        for name in [entry.condition] if entry.condition else built:
            found[name].append(f"{entry.key} {entry.message}")
    return {name: tuple(said) for name, said in found.items()}
