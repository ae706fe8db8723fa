"""Every limit at every place of a line in one condition: on each stretch, in each elbow, at each support and fitting.

On straight pipe and in an elbow a temperature is the section's, moved with the line's; at a support it is that less
what the support's own field has more of a dip than the fin, or that and what its own field rises by. Of what is hottest
at a support the line's own part is not taken below the section's.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite, nan

import numpy as np

from sim.case import Case, Fitting
from sim.judge.confidence import Sensitivity, with_confidence
from sim.judge.field_notes import with_ice
from sim.judge.limits import LimitCheck, both, hold
from sim.judge.support import of_fitting
from sim.section.shapes import Array
from sim.solve.axial import Axial
from sim.solve.convergence import Banded

from .line_file import Line
from .line_pieces import Laid, Lookup, further_dip, local_of
from .stations import BEND, DOUBTS, SECTION, Facts

POINTS = 81  # on a piece
NEIGHBOURS = (
    1 / 3
)  # of what neighbours take at a support, for which the fin is up to a quarter short (tests/study)
LOWEST = {"wall.min": "wall_min", "contents.min": "contents_min"}
HIGHEST = {"wall.max": "wall_max", "barrier.max": "barrier_max", "tracers.sheath_max": "sheath_max"}
RISES = {"wall.max": "wall_rise", "barrier.max": "barrier_rise", "tracers.sheath_max": "sheath_rise"}


@dataclass(frozen=True)
class Place:
    """A stretch (its straight pipe), an elbow, a support or a fitting of a line.

    station: its number, -1 of a stretch; values: extremes by path, K; at: where each is, m from the line's start;
    checks: limits held there.
    """

    label: str
    stretch: int
    station: int
    values: Mapping[str, Banded]
    at: Mapping[str, float]
    checks: tuple[LimitCheck, ...]


def places(
    line: Line, cases: Sequence[Case], laid: Laid, solved: Axial, by: Lookup, allowances: Sequence[float]
) -> tuple[Place, ...]:
    """All places of a line, the stretches first, and every limit of their cases held at each."""
    listed = []
    for s, stretch in enumerate(line.file.stretches):
        pieces = [i for i, of in enumerate(laid.stretch) if of == s and laid.bend[i] < 0]
        if pieces:
            listed.append(
                _on_pieces(f"on {stretch.name}", s, -1, cases[s], laid, solved, pieces, by(s, SECTION))
            )
    for k, one in enumerate(line.stations):
        case = cases[one.stretch]
        if one.support is None:
            pieces = [i for i, of in enumerate(laid.bend) if of == k]
            facts = by(one.stretch, BEND)
            listed.append(_on_pieces(one.label, one.stretch, k, case, laid, solved, pieces, facts))
        else:
            listed.append(_at_support(line, k, case, laid, solved, by, allowances[k]))
    return tuple(listed)


def _banded(value: float, band: float) -> Banded:
    return Banded(value, band, (), nan, value, True)


def moved(path: str, facts: Facts, shift: Array) -> Array:
    """An extreme of a section, K, where the line is warmer by a shift, K."""
    slope = facts["barrier_slope"] if path == "barrier.max" else 1.0
    return np.asarray(facts[(LOWEST | HIGHEST)[path]] + slope * shift)


def _paths(facts: Facts) -> list[str]:
    return [*LOWEST, *(path for path, name in HIGHEST.items() if name in facts)]


def _on_pieces(
    label: str, stretch: int, station: int, case: Case, laid: Laid, solved: Axial, pieces: list[int], facts: Facts
) -> Place:  # fmt: skip
    """A place that is pieces of one section: the worst point of each quantity along them."""
    where, shift = [], []
    for i in pieces:
        along = np.linspace(0.0, laid.pieces[i].length, POINTS)
        where.append(laid.start[i] + along)
        shift.append(solved.at(i, along) - facts["level"])
    x, by = np.concatenate(where), np.concatenate(shift)
    values, at = {}, {}
    for path in _paths(facts):
        along_it = moved(path, facts, by)
        worst = int(np.argmin(along_it) if path in LOWEST else np.argmax(along_it))
        values[path] = _banded(float(along_it[worst]), facts[f"{(LOWEST | HIGHEST)[path]}_band"])
        at[path] = float(x[worst])
    return _place_with_limits(label, stretch, station, case, values, at, facts, facts)


def _at_support(
    line: Line, k: int, case: Case, laid: Laid, solved: Axial, by: Lookup, allowance: float
) -> Place:
    one = line.stations[k]
    section, support = by(one.stretch, SECTION), by(one.stretch, one.what)
    local = local_of(one, by, case)
    end = next(i for i, there in enumerate(laid.ends) if k in there)
    shift = float(solved.temperature[end]) - section["level"]
    built = "installed_" if allowance > 0.0 else ""
    # what neighbours take besides; in a stream there is no fin
    others = 0.0 if section["stream"] > 0 else max(-shift - further_dip(one, local.fin, allowance), 0.0)
    values = {
        "wall.min": _banded(
            section["wall_min"] + shift - further_dip(one, local.wall, allowance),
            section["wall_min_band"] + support[f"{built}dip_band"] + NEIGHBOURS * others,
        ),
        "contents.min": _banded(
            section["contents_min"] + shift - max(further_dip(one, local.contents, allowance), 0.0),
            section["contents_min_band"] + support[f"{built}contents_dip_band"] + NEIGHBOURS * others,
        ),
    }
    for path in _paths(section)[len(LOWEST) :]:
        rise = max(support[f"{built}{RISES[path]}"] - local.rise[bool(built)], 0.0)
        at_section = float(moved(path, section, np.array(max(shift, 0.0))))
        band = section[f"{HIGHEST[path]}_band"] + support[f"{built}{RISES[path]}_band"]
        values[path] = _banded(at_section + rise, band)
    at = dict.fromkeys(values, one.place)
    here = section | support
    place = _place_with_limits(
        one.label, one.stretch, k, case, values, at, section, here, extra=allowance > 0.0
    )
    if not isinstance(one.support, Fitting):
        return place
    metal = nan
    if "hollow_dip" in support:
        low = section["wall_min"] - section["wall_min_band"] + shift
        metal = low - further_dip(one, local.hollow, allowance)
    return replace(place, checks=tuple(of_fitting(check, case, one.support, metal) for check in place.checks))


def _place_with_limits(
    label: str, stretch: int, station: int, case: Case, values: dict[str, Banded], at: dict[str, float],
    section: Facts, here: Facts, extra: bool = False,
) -> Place:  # fmt: skip
    """Hold the limits of the case. here: of the place's own field, the section's again on straight pipe; extra: whether
    further tracer lies there."""
    if section["liquid"] > 0:
        values["liquid.min"], at["liquid.min"] = values.pop("contents.min"), at.pop("contents.min")
    doubt = DOUBTS[int(section["doubt"])] or DOUBTS[int(here["doubt"])]
    checks = hold(case.limits, values, doubt=doubt)
    less = {path: here[f"less_{'wall' if path == 'wall.min' else 'contents'}"] for path in values}
    known = Sensitivity(less_output=None if case.limits.output_margin is None else less)
    checks = with_ice(with_confidence(checks, known, case.limits), case)
    if extra:
        note = "the sheath of the extra tracer is not resolved"
        checks = tuple(
            replace(c, note=both(c.note, note)) if c.limit == "sheath_max" and c.quantity else c
            for c in checks
        )
    return Place(label, stretch, station, values, at, checks)


def coldest(all_places: Sequence[Place], part: str) -> tuple[Place, str] | None:
    """The coldest place of the wall or the contents, and the path there; None where they have no temperature."""
    paths = ("liquid.min", "contents.min") if part == "contents" else ("wall.min",)
    there = [
        (place, path)
        for place in all_places
        for path in paths
        if path in place.values and isfinite(place.values[path].value)
    ]
    return min(there, key=lambda one: one[0].values[one[1]].value, default=None)
