"""What to know of a case before any field is computed: keys that do nothing, values out of the common."""

from collections.abc import Callable, Iterator
from difflib import SequenceMatcher
from math import pi
from typing import Any

from sim.basics import ZERO_CELSIUS

from . import catalogue
from .case import Case
from .load import case_for
from .silent import silent

THICKEST_FOIL = 0.5e-3  # m; tapes are 0.03 to 0.2 mm (common practice, no source)
THICKEST_SHEET = 5e-3  # m; a barrier is a sheet without thickness in the section
MOST_RUNS = 4.0  # of extra tracer side by side at a support (common practice, no source)
SPELLING = 0.85  # likeness of two names from which on one is but another spelling


def remarks(case: Case) -> dict[str, tuple[str, ...]]:
    """Sentences by condition; what concerns the whole case stands under each."""
    built = {condition.name: case_for(case, condition.name) for condition in case.conditions}
    notes: dict[str, list[str]] = {name: [] for name in built}
    for entry in silent(built, case):
        for name in [entry.condition] if entry.condition else built:
            notes[name].append(f"{entry.key} {entry.message}")
    for name, narrowed in built.items():
        notes[name] += _names(narrowed._raw or case._raw or {})
        notes[name] += [*_rising(narrowed), *_sheets(narrowed), *_runs(narrowed)]
    return {name: tuple(notes_there) for name, notes_there in notes.items()}


def _names(raw: dict[str, Any]) -> Iterator[str]:
    """Names in a raw case that stand for more than they say, such as "brine"."""
    insulation = raw.get("insulation") if isinstance(raw.get("insulation"), dict) else {}
    references: list[tuple[str, Any, str, Callable[[str], Any]]] = [
        ("pipe", raw.get("pipe"), "material", catalogue.solid),
        ("contents", raw.get("contents"), "fluid", catalogue.fluid),
        ("contents", raw.get("contents"), "gas", catalogue.fluid),
        ("barrier", raw.get("barrier"), "material", catalogue.barrier),
    ]
    layers, supports = (insulation or {}).get("layer") or [], raw.get("support") or []
    references += [
        (f"insulation.layer[{n}]", e, "material", catalogue.insulation) for n, e in enumerate(layers, start=1)
    ]
    for n, support in enumerate(supports, start=1):
        parts = {"": support, ".pad": support.get("pad"), ".leg": support.get("leg")}
        references += [
            (f"support[{n}]{part}", table, "material", catalogue.solid) for part, table in parts.items()
        ]
    for place, table, key, find in references:
        name = table.get(key) if isinstance(table, dict) else None
        if not isinstance(name, str) or (key == "material" and "conductivity" in table):
            continue
        meant = find(name).name
        if SequenceMatcher(None, name.casefold(), meant.casefold()).ratio() < SPELLING:
            yield f'{place}.{key} "{name}" stands for {meant}'


def _rising(case: Case) -> Iterator[str]:
    for tracer in case.tracers:
        powers, kelvin = tracer.output.powers, tracer.output.temperatures
        steps = [n for n in range(1, len(powers)) if powers[n] > powers[n - 1]]
        if steps:
            low, high = kelvin[steps[0] - 1] - ZERO_CELSIUS, kelvin[steps[0]] - ZERO_CELSIUS
            yield (
                f"the output of {tracer.name} rises from {low:.4g} to {high:.4g} degC of the wall; that of a"
                " self-regulating tracer falls: check the table"
            )


def _sheets(case: Case) -> Iterator[str]:
    if case.foil is not None and case.foil.thickness > THICKEST_FOIL:
        yield (
            f"a foil of {1e3 * case.foil.thickness:.4g} mm is a plate: tapes are 0.03 to 0.2 mm thick (common practice,"
            " no source), and the section gives it no thickness"
        )
    if case.barrier is not None and case.barrier.thickness > THICKEST_SHEET:
        yield (
            f"a barrier of {1e3 * case.barrier.thickness:.4g} mm is no sheet, and the section gives it no thickness: a"
            " thick one is an insulation.layer"
        )


def _runs(case: Case) -> Iterator[str]:
    around = pi * case.pipe.outer_diameter
    for support in case.supports:
        runs = support.allowance / support.allowance_over
        if not case.tracers or runs <= MOST_RUNS:
            continue
        wide = runs * sum(t.width or t.diameter or 0.0 for t in case.tracers)
        yield (
            f"the allowance of {support.name}, {support.allowance:.4g} m of each tracer on"
            f" {1e3 * support.allowance_over:.4g} mm of line, is {runs:.0f} runs side by side:"
            f" {1e3 * wide:.0f} mm wide on a circumference of {1e3 * around:.0f} mm"
        )
