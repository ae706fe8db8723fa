"""Checks of a bend against the pipe and the section swept around it."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos

from .case import Case
from .clock_face import clock_to_angle
from .elbow import bend_radius
from .errors import CaseError
from .placement import hanging_offset


def elbow_faults(case: Case) -> Iterator[CaseError]:
    """What does not fit of a case's elbow."""
    if case.elbow is None:
        return
    named = {"support": [s.name for s in case.supports], "fitting": [f.name for f in case.fittings]}
    for kind, names in named.items():
        for position, name in enumerate(names, start=1):
            if name.casefold() == "elbow":
                yield CaseError(
                    "is what the results of [elbow] are called; accepted: another name",
                    key=f'{kind}[{position}] "{name}".name',
                )
    radius = bend_radius(case.pipe, case.elbow)
    if radius is None:
        yield CaseError(
            f'"{case.elbow.radius}" is a multiple of a nominal size, and the pipe has none; accepted: a length,'
            " or pipe.size",
            key="elbow.radius",
        )
        return
    bore = case.insulation.bore if case.insulation.fit == "oversize" else None
    drop = (hanging_offset(case) or 0.0) if bore is not None else 0.0
    inner = bore / 2 if bore is not None else case.pipe.outer_radius
    reach = inner + case.insulation.thickness + drop * cos(clock_to_angle(case.elbow.outside))
    if reach >= radius:
        yield CaseError(
            f"{1e3 * radius:.4g} mm is not outside the section, which reaches {1e3 * reach:.4g} mm from the pipe's"
            f" axis and so the bend's centre; accepted: more than {1e3 * reach:.4g} mm",
            key="elbow.radius",
        )
