"""Checks across the tables of a case, by simple formulas and before any geometry is built."""

import unicodedata
from collections.abc import Iterator, Sequence
from itertools import combinations
from math import ceil, pi

from .case import Case
from .episode_checks import episode_faults
from .errors import CaseError, named, nearest, raise_all
from .interruption_checks import elbow_faults, interruption_faults
from .placement import Body, bodies, clear_distance, hanging_offset, smallest_bore
from .text import seen
from .tracing import Tracer

LEAST_COVER = 1e-3  # m of insulation over a tracer
TOUCHING = 1e-9  # m: overlaps below this are rounding


def check(case: Case) -> None:
    """Raise CaseError (with its key, without the file, with all others in it) for what does not fit together."""
    faults: list[CaseError] = []
    if not case.conditions:
        faults.append(CaseError("is missing; accepted: at least one [[condition]]", key="condition"))
    for key in ("condition", "tracer", "sensor", "support", "fitting", "control", "episode"):
        faults += _unique_names(key, [entry.name for entry in getattr(case, key + "s")])
    for rule in (_contents, _limits, _covering, _stacks):
        faults += rule(case)
    # where tracers sit makes no sense before they are what they must be
    raise_all([*faults, *episode_faults(case)], None)
    raise_all(list(_tracer_sizes(case)), None)
    placed = bodies(case)
    faults = [*_overlaps(case, placed), *_fit(case, placed), *interruption_faults(case)]
    raise_all([*faults, *(elbow_faults(case) if not faults else ())], None)


def _unique_names(key: str, names: Sequence[str]) -> Iterator[CaseError]:
    met: dict[str, int] = {}
    for position, name in enumerate(names, start=1):
        looks = " ".join(seen(unicodedata.normalize("NFC", name)).casefold().split())
        first = met.setdefault(looks, position)
        if first != position:
            yield CaseError(
                f'"{name}" is the name of {key}[{first}] already (upper and lower case count as the same);'
                " accepted: a name of its own",
                key=f'{key}[{position}] "{name}".name',
            )


def _contents(case: Case) -> Iterator[CaseError]:
    contents = case.contents
    if contents.state == "flowing":
        if contents.temperature is None:
            yield CaseError(
                'is missing: flowing contents need their bulk temperature; accepted: such as "40 degC"',
                key="contents.temperature",
            )
        if contents.film_coefficient is None and not contents.velocity:
            what = "is missing" if contents.velocity is None else "0 m/s is not a flow"
            yield CaseError(
                f"{what}: flowing contents need a velocity above 0, or contents.film_coefficient",
                key="contents.velocity",
            )
        if contents.fill == 0.0:
            yield CaseError(
                '0 leaves nothing to flow; accepted: above 0, or state = "empty"', key="contents.fill"
            )
    if contents.fluid.phase == "gas" and contents.fill < 1.0 and contents.state != "empty":
        yield CaseError(f"{contents.fluid.name} is a gas and has no level; accepted: 1", key="contents.fill")
    if contents.gas.phase != "gas":
        yield CaseError(
            f"{contents.gas.name} is not a gas; accepted: air, nitrogen, methane", key="contents.gas"
        )


def _limits(case: Case) -> Iterator[CaseError]:
    limits = case.limits
    if limits.wall_min is not None and limits.wall_max is not None and limits.wall_min >= limits.wall_max:
        yield CaseError(
            "is not above wall_min; accepted: a higher temperature than wall_min", key="limits.wall_max"
        )


def _covering(case: Case) -> Iterator[CaseError]:
    insulation = case.insulation
    if insulation.fit == "oversize":
        if insulation.bore is None:
            yield CaseError('is missing: fit = "oversize" needs the bore diameter', key="insulation.bore")
        elif insulation.bore <= case.pipe.outer_diameter:
            yield CaseError(
                f"{_mm(insulation.bore)} is not larger than the pipe; accepted: more than"
                f" {_mm(case.pipe.outer_diameter)}",
                key="insulation.bore",
            )
    elif insulation.bore is not None:
        yield CaseError(
            f'does not belong to fit = "{insulation.fit}"; accepted: only with fit = "oversize"',
            key="insulation.bore",
        )
    if not insulation.layers:
        wanting = (
            (bool(case.tracers), "a line with tracers needs at least one [[insulation.layer]]"),
            (insulation.fit != "snug", f'fit = "{insulation.fit}" needs at least one [[insulation.layer]]'),
            (
                case.barrier is not None,
                "a weather barrier needs at least one [[insulation.layer]] beneath it",
            ),
        )
        for wrong, message in wanting:
            if wrong:
                yield CaseError(f"is missing: {message}", key="insulation.layer")


def _stacks(case: Case) -> Iterator[CaseError]:
    by_name = {tracer.name: tracer for tracer in case.tracers}
    for key, tracer in named("tracer", case.tracers):
        if tracer.over is None:
            continue
        below = by_name.get(tracer.over)
        others = [name for name in by_name if name != tracer.name]
        if below is None:
            known = (
                f"; accepted: {', '.join(others)}" if others else "; accepted: none, there is no other tracer"
            )
            yield CaseError(
                f'"{tracer.over}" is no tracer{nearest(tracer.over, others)}{known}', key=f"{key}.over"
            )
            continue
        stack = [tracer.name]
        while below is not None:
            if below.name in stack:
                yield CaseError(
                    f"the stack {' on '.join([*stack, below.name])} has no lowest tracer;"
                    " accepted: a stack that ends on the pipe",
                    key=f"{key}.over",
                )
                break
            stack.append(below.name)
            below = by_name.get(below.over) if below.over is not None else None
        yield from _on_top(key, tracer, by_name[tracer.over])


def _on_top(key: str, tracer: Tracer, below: Tracer) -> Iterator[CaseError]:
    if tracer.clock % 12 != below.clock % 12:
        yield CaseError(
            f'{tracer.clock:g} is not where "{below.name}" below it is; accepted: {below.clock:g}',
            key=f"{key}.clock",
        )
    if tracer.shape == "flat" and below.shape == "round":
        yield CaseError(
            f'a flat tracer cannot lie on the round "{below.name}"; accepted: flat below, or round on top',
            key=f"{key}.over",
        )
    if tracer.standoff > 0.0:
        yield CaseError(
            "a stacked tracer lies on the one below; accepted: no standoff", key=f"{key}.standoff"
        )
    if tracer.shape == "flat" and (tracer.width or 0.0) > (below.width or 0.0):
        yield CaseError(
            f'{_mm(tracer.width)} is wider than "{below.name}" below; accepted: at most {_mm(below.width)}',
            key=f"{key}.width",
        )


def _tracer_sizes(case: Case) -> Iterator[CaseError]:
    around = pi * case.pipe.outer_diameter
    shapes = {tracer.name: tracer for tracer in case.tracers}
    for key, tracer in named("tracer", case.tracers):
        if tracer.shape == "flat":
            if tracer.width is not None and tracer.width >= around:
                yield CaseError(
                    f"{_mm(tracer.width)} goes around the whole pipe; accepted: less than {_mm(around)}",
                    key=f"{key}.width",
                )
            continue
        below = shapes[tracer.over] if tracer.over is not None else None
        limits = [(tracer.diameter or 0.0, "its diameter"), (case.pipe.outer_diameter, "the pipe's diameter")]
        if below is not None:
            limits.append(((below.width or below.diameter or 0.0), f'the size of "{below.name}" below'))
        for limit, what in limits:
            if tracer.contact_width is not None and tracer.contact_width >= limit:
                yield CaseError(
                    f"{_mm(tracer.contact_width)} is not below {what}; accepted: less than {_mm(limit)}",
                    key=f"{key}.contact_width",
                )


def _overlaps(case: Case, placed: dict[str, Body]) -> Iterator[CaseError]:
    below = {tracer.name: tracer.over for tracer in case.tracers}

    def stacked(upper: str, lower: str) -> bool:
        step = below[upper]
        while step is not None and step != lower:
            step = below[step]
        return step == lower

    keys = {tracer.name: key for key, tracer in named("tracer", case.tracers)}
    for first, second in combinations(case.tracers, 2):
        if stacked(first.name, second.name) or stacked(second.name, first.name):
            continue
        between = clear_distance(placed[first.name], placed[second.name])
        if between < -TOUCHING:
            yield CaseError(
                f'{second.clock:g} overlaps with "{first.name}" at {first.clock:g} by {_mm(-between)};'
                f' accepted: a clock position clear of it, or over = "{first.name}" to stack them',
                key=f"{keys[second.name]}.clock",
            )


def _fit(case: Case, placed: dict[str, Body]) -> Iterator[CaseError]:
    if case.insulation.fit == "oversize":
        if hanging_offset(case) is None:
            yield CaseError(
                f"{_mm(case.insulation.bore)} does not take the pipe and its tracers; accepted: at least"
                f" {ceil(1e5 * smallest_bore(case)) / 100:g} mm",
                key="insulation.bore",
            )
        return
    room = case.insulation.thickness - LEAST_COVER
    for key, tracer in named("tracer", case.tracers):
        rise = placed[tracer.name].top - case.pipe.outer_radius
        if rise > room + TOUCHING:
            size = "diameter" if tracer.shape == "round" else "height"
            yield CaseError(
                f"the tracer reaches {_mm(rise)} from the pipe, insulation {_mm(case.insulation.thickness)};"
                f" accepted: at most {_mm(max(room, 0.0))}, so that 1 mm covers it",
                key=f"{key}.{size}",
            )


def _mm(length: float | None) -> str:
    return f"{round(1e3 * (length or 0.0), 4):g} mm"
