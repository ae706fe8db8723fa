"""An episode by finite elements, a program of its own: python -m validation.peers.elements.over_time.

Steps grow from a second after each jump to a part of the episode; a switching moment is where a step must end, found by
shortening. Finite elements': geometry, mesh, stores, steps, the course of the condition, controls and the sensors' lag.
Ours: the case, property curves, film laws, output tables.
"""

import logging
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np

from sim.case import Case
from sim.case.episode import Control, Episode
from sim.solve.paths import of_episode
from validation.peers.elements.drive import Thermostat, lagged, stops
from validation.peers.elements.field import CUSP_GAP, not_covered
from validation.peers.elements.stages import At, Section
from validation.peers.elements.values import value_of
from validation.peers.process import serve

FIRST, GROWTH = 1.0, 1.2  # s, of the first step after a jump, and from step to step
PARTS = 160  # of the episode, the longest step; of the coarse mesh half as many
REFINED = (0.25, 0.4)  # refinements, coarse and fine
ON_TIME = 0.5  # s: a switching moment is found to this
NEAR = 2e-3  # K: a reading so near to its threshold has switched


def not_covered_over_time(case: Case, episode: Episode, controls: tuple[Control, ...] = ()) -> str:
    """Why an episode is not in the finite elements' solution, in words; empty where it is."""
    fluid = case.contents.fluid
    if answer := not_covered(case):
        return answer
    if episode.support is not None:
        return "the field around a support is not in the finite-element solution over time"
    if episode.weather is not None:
        return "weather of a file is not in the finite-element solution over time"
    driven = (case.conditions[0], episode, *episode.changes)
    if any(getattr(of, key, None) for of in driven for key in ("sun", "sky", "rain")):
        return "sun, sky and rain are not in the finite-element solution over time"
    if isinstance(episode.start, str) and episode.start != "steady":
        return "an episode that starts at the end of another is not in the finite-element solution"
    shares = [c for c in controls if c.name in episode.control and c.full_below is not None]
    if any(c.sensor != "ambient" for c in shares):
        return "a share of power by a sensor on the line is not in the finite-element solution"
    if case.contents.state == "mixed" and fluid.freezes and fluid.frozen_share is not None:
        return "stirred brine that freezes is not in the finite-element solution"
    if case.contents.state == "mixed" and fluid.freezes and case.contents.fill < 1:
        return "stirred water that freezes in a part of the bore is not in the finite-element solution"
    return ""


@dataclass
class Marched:
    """time (n,) s and values by path (n,); switchings by control: (moment s, on); energy J/m by tracer."""

    time: list[float] = field(default_factory=list)
    values: dict[str, list[float]] = field(default_factory=dict)
    switchings: dict[str, list[tuple[float, bool]]] = field(default_factory=dict)
    energy: dict[str, float] = field(default_factory=dict)
    unknowns: int = 0


@dataclass
class _Log:
    """Enters the wanted quantities of a moment in what was marched, a sensor's reading with its lag."""

    section: Section
    case: Case
    paths: tuple[str, ...]
    out: Marched
    surfaces: dict[str, float] = field(default_factory=dict)
    readings: dict[str, float] = field(default_factory=dict)

    def enter(self, at: At, span: float) -> dict[str, Any]:
        """All numbers of the moment; span: s since the last one."""
        numbers = self.section.read(at)
        self.out.time.append(at.time)
        for path in self.paths:
            if path == "frozen":
                value: float | None = self.section.frozen(at)
            elif path.startswith("sensors."):
                value = self._reading(path, value_of(numbers, f"{path}.reading", self.case), span)
            else:
                value = value_of(numbers, path, self.case)
            self.out.values.setdefault(path, []).append(np.nan if value is None else float(value))
        return numbers

    def _reading(self, path: str, surface: float | None, span: float) -> float | None:
        lag = next(s.time_constant for s in self.case.sensors if s.name == path.partition(".")[2])
        if surface is None or not lag > 0.0:
            return surface
        before = self.surfaces.get(path, surface)
        self.readings[path] = lagged(self.readings.get(path, surface), before, surface, span, lag)
        self.surfaces[path] = surface
        return self.readings[path]


def march(
    case: Case,
    episode: Episode,
    controls: tuple[Control, ...],
    paths: tuple[str, ...],
    refine: float,
    gap: float,
    parts: int = PARTS,
) -> Marched:
    """Follow an episode on one mesh. paths: the quantities kept. RuntimeError where a step does not settle."""
    section = Section(case, episode, controls, refine, gap)
    out = Marched(switchings={c.control.name: [] for c in section.controls}, unknowns=section.size)
    out.energy = {t.name: 0.0 for t in case.tracers}
    at = section.first()
    section.drive(0.0)
    numbers = section.read(at)
    for thermostat in section.controls:
        thermostat.reading = section.surface(numbers, thermostat)
        thermostat.on = thermostat.reading < thermostat.control.off_above
    longest = episode.lasts / parts
    log = _Log(section, case, paths, out)
    section.begin = 0.0
    section.drive(0.0)
    for begin, stop in pairwise(stops(episode)):
        section.begin, section.rate = begin, None
        section.drive(begin)
        numbers = log.enter(at, 0.0)
        length = FIRST
        while at.time < stop - 1e-9:
            length = min(length, longest)
            span = min(length, stop - at.time)
            if span < stop - at.time < 1.5 * span:
                span = 0.5 * (stop - at.time)
            taken = section.step(at, span)
            if taken is None:
                length = 0.25 * span
                if length < 1e-4:
                    raise RuntimeError(f"a step of the finite elements does not settle at {at.time:.0f} s")
                continue
            moved, taken = _to_switching(section, at, taken, numbers)
            outputs = [t["output"] for t in numbers["tracers"].values()]
            span = taken.time - at.time
            section.rate, at = (taken.x - at.x) / span, taken
            section.drive(at.time)
            numbers = log.enter(at, span)
            for name, before, now in zip(out.energy, outputs, numbers["tracers"].values(), strict=True):
                out.energy[name] += 0.5 * span * (before + now["output"])
            length = GROWTH * span if span < length else GROWTH * length
            if moved is not None:
                moved.on, section.rate = not moved.on, None
                out.switchings[moved.control.name].append((at.time, moved.on))
                section.drive(at.time)
                numbers = log.enter(at, 0.0)
                length = FIRST
    return out


def _to_switching(
    section: Section, old: At, new: At, numbers: dict[str, Any]
) -> tuple[Thermostat | None, At]:
    """A step that ends where the first control switches, and that control; readings go on to its end."""
    before = [section.surface(numbers, t) for t in section.controls]
    while True:
        span = new.time - old.time
        section.drive(new.time)
        now = section.read(new) if section.controls else {}
        surfaces = [section.surface(now, t) for t in section.controls]
        after = [t.followed(a, b, span) for t, a, b in zip(section.controls, before, surfaces, strict=True)]
        past = [(t, r) for t, r in zip(section.controls, after, strict=True) if t.passed(r) > 0.0]
        if not past or span <= ON_TIME:
            for thermostat, reading in zip(section.controls, after, strict=True):
                thermostat.reading = reading
            return (past[0][0] if past else None), new
        shares = [-t.passed(t.reading) / (t.passed(r) - t.passed(t.reading)) for t, r in past]
        part = min(max(min(shares), 0.02), 0.98)
        wanted = max(part * span, 0.5 * ON_TIME)
        shorter = section.step(old, wanted)
        if shorter is None:
            raise RuntimeError("a shortened step of the finite elements does not settle")
        section.drive(shorter.time)
        first = section.read(shorter)
        reach = [
            t.passed(t.followed(a, section.surface(first, t), wanted))
            for t, a in zip(section.controls, before, strict=True)
        ]
        if max(reach) > 0.0:
            new = shorter
            continue
        rest = [(t, r) for t, r in zip(section.controls, reach, strict=True) if r > -NEAR]
        for t, a in zip(section.controls, before, strict=True):
            t.reading = t.followed(a, section.surface(first, t), wanted)
        return (rest[0][0] if rest else None), shorter


def two_meshes(given: dict[str, Any]) -> dict[str, Any]:
    """The episode `given["episode"]` of `given["case"]` on a coarse mesh with long steps, and on a fine one."""
    logging.getLogger("skfem").setLevel(logging.ERROR)
    coarse, fine = given.get("refined", REFINED)
    parts = given.get("parts", PARTS)
    numbers = {}
    for name, refine, gap, count in (
        ("coarse", coarse, 2 * CUSP_GAP, parts // 2),
        ("fine", fine, CUSP_GAP, parts),
    ):
        marched = march(
            given["case"], given["episode"], given["controls"], given["paths"], refine, gap, count
        )
        numbers[name] = vars(marched)
    return numbers


def compared_paths(paths: tuple[str, ...]) -> tuple[str, ...]:
    """Of the paths of an episode's series, those that the finite elements have too; places around the clock are not
    compared over time, as of two equal extremes either may be named."""
    declared = {path: of_episode(path) for path in paths}
    return tuple(
        path
        for path, row in declared.items()
        if path == "frozen" or (row.peers == "always" and row.measure.period == np.inf)
    )


if __name__ == "__main__":
    serve(two_meshes)
