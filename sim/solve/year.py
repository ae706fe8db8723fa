"""A long stretch of weather by a reduced model of the section (`sim.solve.reduced`).

Hour by hour (`sim.solve.season_hour`): joints that follow the temperature at the hour's middle, outputs that change
linearly between switchings, where a control's share begins or ends, and the middle of the hour, at which the sun is
known. What it is wrong by is measured: see `sim.judge.season`.
"""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from sim.case import Case
from sim.section.shapes import Array
from sim.solve.balance import NotConverged
from sim.solve.drive import AMBIENT, Drive, Thermostat
from sim.solve.reduced import FILMS, Reduced
from sim.solve.season_course import Season, courses_of
from sim.solve.season_hour import Hour, hour, loss_at, sun_between
from sim.solve.season_outputs import Outputs, outputs_of, settled

PIECE = 3600.0  # s, over which the outside is linear
SAMPLES = 48  # of a control's reading in a piece; a switching lies between two on a straight line
MOST_STEPS = 60  # to the steady state of the first hour
DAMPED = 10  # steps to it, after which half of each is taken
LOOK = 6  # every so many of these is a moment of the answer
SOON = 1e-3  # s: a control that is past its threshold already switches after this
SHORT = 300.0  # s after a switching, to which an output that follows the temperature is linear first
PARTS = 4  # of a piece, over each of which a share of power by a sensor is linear


def through(model: Reduced, drive: Drive, thermostats: list[Thermostat], times: Array) -> Season:
    """Take the reduced model through evenly spaced moments (n,) s, from the steady state of the first."""
    outdoors = drive.outdoors
    assert outdoors is not None
    assert outdoors.ambient is not None
    start = drive.at(float(times[0]))
    outputs = outputs_of(start)
    z = before = _steady_state(model, start, outputs)
    loss = loss_at(model, start, model.outside(z))
    for t in thermostats:
        here = start.conditions[0].ambient if t.control.sensor == AMBIENT else _sensor(model, t, z)
        t.read(here, here, float(times[0]))
        t.on = t.reading < t.control.off_above
    pieces = max(1, round(float(times[1] - times[0]) / PIECE))
    ends = np.interp(np.arange((len(times) - 1) * pieces + 1) / pieces, np.arange(len(times)), times)
    ambient = np.interp(ends, outdoors.time, outdoors.ambient)
    sun = None if start.conditions[0].rain else sun_between(model, outdoors, ends)
    states, moments, at_hours, count = [z], [float(ends[0])], [0], 0
    output, duty, watts = (
        np.zeros(len(ends)),
        np.zeros(len(ends)),
        outputs.at(model.reference + model.beneath @ z),
    )
    for k, begin in enumerate(ends[:-1]):
        end = float(ends[k + 1])
        hat = None if sun is None else sun[k]
        air = float(ambient[k]), float(ambient[k + 1])
        ahead = z + 0.5 * (z - before)
        now, loss = hour(model, drive.at(end), z, ahead, loss, watts, hat, air, end - float(begin))
        piece = _piece(now, z, outputs, thermostats, float(begin))
        before, z, watts = z, piece.states[-1], piece.watts
        states += piece.states
        moments += [float(begin) + moment for moment in piece.moments]
        count += piece.switchings
        output[k + 1], duty[k + 1] = piece.heat / now.long, piece.on / now.long
        if (k + 1) % pieces == 0:
            at_hours.append(len(states) - 1)
    output, duty = (np.append(0.0, x[1:].reshape(-1, pieces).mean(axis=1)) for x in (output, duty))
    every = np.array(states)
    moment = np.array(moments)
    moment[at_hours] = times
    courses = courses_of(model, every, every[at_hours])
    return Season(times, output, duty, count, every[at_hours], moment, courses)


def _sensor(model: Reduced, thermostat: Thermostat, z: Array) -> float:
    return model.reference + float(model.sensors[thermostat.control.sensor] @ z)


def _steady_state(model: Reduced, case: Case, outputs: Outputs) -> Array:
    """The state that a condition would settle to, tracers at full output. Raises NotConverged."""
    z = np.zeros(model.order)
    for step in range(MOST_STEPS):
        surface, wall = model.outside(z), model.reference + model.beneath @ z
        loss, slope = loss_at(model, case, surface), outputs.slope(wall)
        matrix = model.matrix(z) + model.cover.T @ (loss.slope[:, None] * model.cover)
        matrix -= model.tracers.T @ (slope[:, None] * model.beneath)
        load = model.given + (loss.slope * (surface - model.reference) - loss.flux) @ model.cover
        load += (outputs.at(wall) - slope * (model.beneath @ z)) @ model.tracers
        change = np.linalg.solve(matrix, load) - z
        moved = float(np.abs(model.cover @ change).max())
        moved += float(np.abs(model.beneath @ change).max(initial=0.0))
        z = z + (change if step < DAMPED else 0.5 * change)
        if moved < 1e-4:
            return z
    raise NotConverged(
        f"the steady state of the weather's first hour did not settle: {moved:.2g} K in a step"
    )


def slowest_time(model: Reduced) -> float:
    """The longest time constant of the model, s, in the film about which it was made that is the middle one."""
    film = model.cover.T @ (FILMS[1] * model.area[:, None] * model.cover)
    return float(1.0 / np.linalg.eigvalsh(model.mean + film)[0])


@dataclass
class _Piece:
    """A piece lived through: states (r,) at moments, s from its beginning, the last at its end; heat J/m; seconds on as
    a mean over tracers; switchings; watts: the tracers' output at its end, W/m."""

    states: list[Array] = field(default_factory=list)
    moments: list[float] = field(default_factory=list)
    heat: float = 0.0
    on: float = 0.0
    switchings: int = 0
    watts: Array = field(default_factory=lambda: np.zeros(0))


def _stops(now: Hour, thermostats: list[Thermostat]) -> list[float]:
    """Moments of an hour, s, between which loads and shares by the ambient are linear; the last is its end."""
    stops = [now.long]
    if now.hat is not None:
        stops.append(0.5 * now.long)
    for t in thermostats:
        if t.switches:
            continue
        if t.control.sensor != AMBIENT:
            stops += [now.long * part / PARTS for part in range(1, PARTS)]
            continue
        first, last = now.ambient
        for bound in (t.control.full_below, t.control.off_above):
            assert bound is not None
            if (first - bound) * (last - bound) < 0.0:
                stops.append(now.long * (bound - first) / (last - first))
    return sorted(set(stops))


def _piece(now: Hour, z: Array, outputs: Outputs, thermostats: list[Thermostat], begin: float) -> _Piece:
    """Live through an hour that begins at a moment, s, with a state."""
    piece, modal, at, just = _Piece(), z @ now.vectors, 0.0, False
    stops, switching = _stops(now, thermostats), [t for t in thermostats if t.switches]
    while (left := stops[-1] - at) > 1e-6:
        span = next(stop for stop in stops if stop > at + 1e-6) - at
        if just and outputs.follows:
            span = min(span, SHORT)
        there = _Span(now, outputs, thermostats, modal, begin, at, min(span, left))
        first = there.given(modal, at)
        last = there.settled(first)
        loads = now.load(at) + first[0] @ now.tracers, now.load(at + there.span) + last[0] @ now.tracers
        stop, mover = there.span, None
        if switching:
            stop, mover = _to_switching(there, switching, loads, piece)
        end = now.course(modal, *loads, there.span, np.array([stop]))[0]
        for t in thermostats:
            if not t.switches:
                surface = there.surface(t, end, at + stop)
                t.read(t.reading_at(begin + at + stop, surface), surface, begin + at + stop)
        part = stop / there.span
        watts, share = (a + (b - a) * part for a, b in zip(first, last, strict=True))
        piece.heat += 0.5 * stop * float((first[0] + watts).sum())
        piece.on += 0.5 * stop * float((first[1] + share).mean()) if len(share) else 0.0
        modal, at, just, piece.watts = end, at + stop, mover is not None, watts
        if mover is not None:
            mover.on = not mover.on
            piece.switchings += 1
            piece.states.append(now.vectors @ modal)
            piece.moments.append(at)
    if not piece.moments or piece.moments[-1] < at:
        piece.states.append(now.vectors @ modal)
        piece.moments.append(at)
    return piece


@dataclass(frozen=True)
class _Span:
    """A span of an hour that begins `at` s after the hour's beginning with a state in modes, and no switching in it;
    begin: of the hour, s."""

    now: Hour
    outputs: Outputs
    thermostats: list[Thermostat]
    start: Array
    begin: float
    at: float
    span: float

    def surface(self, thermostat: Thermostat, modal: Array, moment: float) -> float:
        """What a control's sensor would read without delay, K."""
        name = thermostat.control.sensor
        if name == AMBIENT:
            return float(self.now.ambient_at(moment))
        return self.now.model.reference + float(self.now.sensors[name] @ modal)

    def given(self, modal: Array, moment: float) -> tuple[Array, Array]:
        """Output (tracers,) W/m and share of full power at a state in modes, some seconds into the hour."""
        share = np.ones(len(self.outputs.fixed))
        for t in self.thermostats:
            reading = t.reading
            if not t.switches:
                reading = t.reading_at(self.begin + moment, self.surface(t, modal, moment))
            share = np.where(t.tracers > 0, t.share(reading), share)
        wall = self.now.model.reference + self.now.beneath @ modal if self.outputs.follows else share
        return self.outputs.at(wall) * share, share

    def settled(self, first: tuple[Array, Array]) -> tuple[Array, Array]:
        """The same at the span's end, where it has changed linearly from what it was at its beginning: by Newton."""
        now, end = self.now, self.at + self.span
        if not self.outputs.follows and all(
            t.switches or t.control.sensor == AMBIENT for t in self.thermostats
        ):
            return self.given(self.start, end)
        left, by_first, by_last = now.kernels(self.span)
        base = left * self.start + by_first * (now.load(self.at) + first[0] @ now.tracers)
        base = base + by_last * now.load(end)
        response = by_last * now.tracers
        return settled(lambda watts: self.given(base + watts @ response, end), first[0])


def _to_switching(
    there: _Span, switching: list[Thermostat], loads: tuple[Array, Array], piece: _Piece
) -> tuple[float, Thermostat | None]:
    """How far a span goes, s, before a control switches, and which. The readings are taken there, and the states before
    it are kept."""
    now, span = there.now, there.span
    follows = any(t.control.sensor != AMBIENT for t in switching)
    at = np.linspace(0.0, span, SAMPLES + 1 if follows else 2)
    course = now.course(there.start, *loads, span, at)
    stop, mover = span, None
    readings = [_readings(there, t, course, at) for t in switching]
    for t, values in zip(switching, readings, strict=True):
        passage = _passes(t, values, at)
        if passage is not None and passage < stop:
            stop, mover = passage, t
    for t, values in zip(switching, readings, strict=True):
        t.reading = float(np.interp(stop, at, values))
    passed = (at > 0.0) & (at < stop - 1e-6)
    piece.states += list(course[passed][::LOOK] @ now.vectors.T)
    piece.moments += (there.at + at[passed][::LOOK]).tolist()
    return stop, mover


def _readings(there: _Span, thermostat: Thermostat, course: Array, at: Array) -> Array:
    """Readings (m,) at the moments (m,) of a span, K, the first at its beginning, the lag of the sensor included
    (`sim.solve.drive.lagged`); course: states there, in modes."""
    now, name, lag = there.now, thermostat.control.sensor, thermostat.time_constant
    if name == AMBIENT:
        return now.ambient_at(there.at + at)
    plain = now.model.reference + course @ now.sensors[name]
    if lag <= 0.0:
        return np.asarray(plain)
    step = float(at[1])
    fade, readings = np.exp(-step / lag), [thermostat.reading]
    for before, after in pairwise(plain):
        behind = (after - before) / step * lag
        readings.append(after - behind + (readings[-1] - before + behind) * fade)
    return np.array(readings)


def _passes(thermostat: Thermostat, readings: Array, at: Array) -> float | None:
    """The moment in a span at which a control switches, s; None if it does not."""
    past = [k for k, value in enumerate(readings) if thermostat.past(float(value))]
    if not past:
        return None
    k = past[0]
    if k == 0:
        return SOON
    gap = readings[k] - readings[k - 1]
    part = (thermostat.threshold() - readings[k - 1]) / gap
    return max(float(at[k - 1] + part * (at[k] - at[k - 1])), SOON)
