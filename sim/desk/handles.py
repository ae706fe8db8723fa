"""What of a section can be moved by hand, where it is drawn, and which key of the case it is."""

import re
from collections.abc import Callable
from typing import Any

from sim.case import Case, case_for
from sim.case.overrides import acts_under
from sim.section.layout import FlatBody, Layout

PLAIN = re.compile(r"[A-Za-z0-9_-]+")
AT = 1.5  # clock position at which the insulation's outside is taken hold of


def handles(raw: dict[str, Any], whole: Case, condition: str, layout: Layout) -> list[dict[str, Any]]:
    """Handles of a case in one condition, whose layout is given.

    Each: {"kind", "name" (to be read out), "paths" (keys that take its value), "as" (clock, share or mm), "value"
    (hours, a part of the bore, or mm), "radius" and "drop" (m: the circle on which it moves, and how far its centre is
    below the pipe's axis), "at" (hours: where on it)}.
    """
    case = case_for(whole, condition)
    overrides = next(c.overrides for c in whole.conditions if c.name == condition)

    def home(*path: str) -> list[str]:
        """The key that shows in this condition: the case's own, or the condition's where it has one."""
        shared = not overrides or acts_under(raw, overrides, path)
        return list(path) if shared else ["condition", condition, *path]

    listed = _tracers(case, layout, home)
    for n, sensor in enumerate(case.sensors, start=1):
        path, place = home("sensor", _address(case.sensors, n), "clock"), (layout.outer_radius, 0.0)
        listed.append(_handle("sensor", f"sensor {sensor.name}", [path], "clock", sensor.clock, place))
    for n, layer in enumerate(case.insulation.layers):
        if layer.wet is not None:
            place = 0.5 * (layout.layer_radii[n] + layout.layer_radii[n + 1]), layout.drop
            for key, words in (("from_clock", "begins"), ("to_clock", "ends")):
                path = home("insulation", "layer", str(n + 1), "wet", key)
                name, hours = f"wet sector of layer {n + 1} {words}", getattr(layer.wet, key)
                listed.append(_handle("wet", name, [path], "clock", hours, place))
    if case.contents.state != "empty":
        path, place = home("contents", "fill"), (layout.inner_radius, 0.0)
        listed.append(_handle("level", "level of the contents", [path], "share", case.contents.fill, place))
    if case.insulation.layers:
        last = len(case.insulation.layers)
        path, place = home("insulation", "layer", str(last), "thickness"), (layout.cover_radius, layout.drop)
        name, thick = f"outside of the insulation (layer {last})", 1e3 * case.insulation.layers[-1].thickness
        listed.append(_handle("outside", name, [path], "mm", thick, place))
    return listed


def _tracers(case: Case, layout: Layout, home: Callable[..., list[str]]) -> list[dict[str, Any]]:
    """One handle a tracer; those stacked on it move with it."""
    listed = []
    by_name = {t.name: t for t in case.tracers}
    bodies = {body.index: body for body in layout.bodies}
    for n, tracer in enumerate(case.tracers):
        if tracer.over is not None:
            continue
        moved = [m for m, t in enumerate(case.tracers, start=1) if m == n + 1 or _base(t, by_name) is tracer]
        body = bodies[n]
        radius = 0.5 * (body.inner + body.outer) if isinstance(body, FlatBody) else _reach(body)
        paths = [home("tracer", _address(case.tracers, m), "clock") for m in moved]
        listed.append(_handle("tracer", f"tracer {tracer.name}", paths, "clock", tracer.clock, (radius, 0.0)))
    return listed


def _reach(body: Any) -> float:
    return float((body.cx**2 + body.cy**2) ** 0.5)


def _base(tracer: Any, by_name: dict[str, Any]) -> Any:
    """The tracer at the foot of a stack."""
    while tracer.over in by_name:
        tracer = by_name[tracer.over]
    return tracer


def _address(entries: Any, position: int) -> str:
    """An entry by its name where a command can write it plainly, else by its position."""
    name = str(entries[position - 1].name)
    return name if PLAIN.fullmatch(name) and not name.isdecimal() else str(position)


def _handle(
    kind: str, name: str, paths: list[list[str]], form: str, value: float, place: tuple[float, float]
) -> dict[str, Any]:
    radius, drop = place
    return {"kind": kind, "name": name, "paths": paths, "as": form, "value": value} | {
        "radius": radius,
        "drop": drop,
        "at": AT if kind == "outside" else value,
    }
