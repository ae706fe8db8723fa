"""A long stretch of weather by a reduced model of the section (`sim.solve.reduced`).

Hour by hour: the outside's local film, sun and sky about the hour's own surface temperatures, joints that follow the
temperature at its middle, loads that change linearly over it; between switchings solved exactly by the eigenvectors
of the reduced matrix. What it is wrong by is measured: see `sim.judge.season`.
"""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from sim.case import Case
from sim.heat.outlets import outside, sunshine
from sim.heat.tracer import tracer_watts
from sim.section.shapes import Array
from sim.solve.balance import NotConverged
from sim.solve.drive import AMBIENT, Drive, Thermostat
from sim.solve.reduced import Reduced
from sim.solve.season_course import Season, courses_of

PIECE = 3600.0  # s, over which films are those of its middle
SAMPLES = 16  # of a control's reading in a piece; a switching lies between two on a straight line
MOST_STEPS = 60  # to the steady state of the first hour
LOOK = 2  # every so many of these is a moment of the answer
SETTLES = 4  # output and what it follows in the middle of a span
NEAR = 1.0  # K from the surface about which the films are, within which they serve
SOON = 1e-3  # s: a control that is past its threshold already switches after this
SHORT = 300.0  # s: a share of power by a sensor is that of the middle of so long


def through(model: Reduced, drive: Drive, thermostats: list[Thermostat], times: Array) -> Season:
    """Take the reduced model through evenly spaced moments (n,) s, from the steady state of the first."""
    assert drive.outdoors is not None
    assert drive.outdoors.ambient is not None
    start = drive.at(float(times[0]))
    z = before = _steady_state(model, start)
    for t in thermostats:
        t.reading = _reading(model, t, start.conditions[0].ambient, z)
        t.on = t.reading < t.control.off_above
    pieces = max(1, round(float(times[1] - times[0]) / PIECE))
    ends = np.interp(np.arange((len(times) - 1) * pieces + 1) / pieces, np.arange(len(times)), times)
    ambient = np.interp(ends, drive.outdoors.time, drive.outdoors.ambient)
    long = float(ends[1] - ends[0])
    states, moments, at_hours, count = [z], [float(ends[0])], [0], 0
    output, duty = np.zeros(len(ends)), np.zeros(len(ends))
    past, here = start, drive.at(float(ends[0]) + 0.5 * long)
    for k, begin in enumerate(ends[:-1]):
        coming = drive.at(float(begin) + 1.5 * long)
        stretch = _Stretch(past, here, coming, (float(ambient[k]), float(ambient[k + 1])), long)
        ahead = z + 0.5 * (z - before)
        piece = _piece(model, stretch, z, ahead, thermostats)
        before, z = z, piece.states[-1]
        states += piece.states
        moments += [float(begin) + moment for moment in piece.moments]
        past, here, count = here, coming, count + piece.switchings
        output[k + 1], duty[k + 1] = piece.heat / long, piece.on / long
        if (k + 1) % pieces == 0:
            at_hours.append(len(states) - 1)
    output, duty = (np.append(0.0, x[1:].reshape(-1, pieces).mean(axis=1)) for x in (output, duty))
    every = np.array(states)
    moment = np.array(moments)
    moment[at_hours] = times
    courses = courses_of(model, every, every[at_hours])
    return Season(times, output, duty, count, every[at_hours], moment, courses)


@dataclass(frozen=True)
class _Stretch:
    """A piece of time of `long` s: the case in its middle, and in those of the pieces before and after; ambient at its
    ends, K."""

    past: Case
    case: Case
    coming: Case
    ends: tuple[float, float]
    long: float

    def ambient(self, moment: Array | float) -> Array:
        """Ambient (K) some seconds after its beginning."""
        first, last = self.ends
        return np.asarray(first + (last - first) * np.asarray(moment) / self.long)


@dataclass(frozen=True)
class _Modes:
    """The reduced matrix of a stretch by its eigenvalues (1/s) and eigenvectors; load: right side (r,) of outside and
    given contents at the stretch's beginning, rise: per s; surface: of the outside (k,) K, about which they are."""

    values: Array
    vectors: Array
    load: Array
    rise: Array
    surface: Array

    def course(self, start: Array, watts: Array, now: float, after: Array) -> Array:
        """Modal states (m, r) some seconds (m,) after the moment `now` of the stretch; start and watts: modal."""
        load = self.vectors.T @ (self.load + self.rise * now) + watts
        x, after = np.multiply.outer(after, self.values), after[:, None]
        small = x < 1e-5
        safe = np.where(small, 1.0, x)
        once = np.where(small, 1.0 - 0.5 * x, -np.expm1(-x) / safe)
        twice = np.where(small, 0.5 - x / 6, (1.0 - once) / safe)
        course: Array = (
            np.exp(-x) * start + after * once * load + after**2 * twice * (self.vectors.T @ self.rise)
        )
        return course


def _modes(model: Reduced, stretch: _Stretch, joints: Array, surface: Array) -> _Modes:
    """The modes of a stretch: joints (r, r), and the outside's films about its temperatures (k,), K, in the middle."""
    radius, angle, case = model.network.mesh.layout.cover_radius, model.network.cover_angle, stretch.case
    loss = outside(case, radius, surface, angle)
    strength = loss.slope * model.area
    flux = loss.conductance * model.area * (surface - loss.temperature)
    values, vectors = np.linalg.eigh(joints + model.cover.T @ (strength[:, None] * model.cover))
    load = model.cover.T @ (strength * (surface - model.reference) - flux) + model.given
    rise = np.zeros(model.order)
    if stretch.long:
        warmer = stretch.ends[1] - stretch.ends[0]
        sunnier = 0.5 * (sunshine(stretch.coming, angle) - sunshine(stretch.past, angle))
        rise = model.cover.T @ (strength * warmer + model.area * sunnier) / stretch.long
    return _Modes(np.maximum(values, 0.0), vectors, load - 0.5 * stretch.long * rise, rise, surface)


def _heat(model: Reduced, case: Case, z: Array, share: Array) -> Array:
    """Output of each tracer at a state, W/m (tracers,)."""
    wall = model.reference + model.beneath @ z
    condition = case.conditions[0]
    full = [float(tracer_watts(t, condition, w)) for t, w in zip(case.tracers, wall, strict=True)]
    return np.array(full) * share


def _reading(model: Reduced, thermostat: Thermostat, ambient: float, z: Array) -> float:
    name = thermostat.control.sensor
    return ambient if name == AMBIENT else model.reference + float(model.sensors[name] @ z)


def _steady_state(model: Reduced, case: Case) -> Array:
    """The state that a condition would settle to, tracers at full output. Raises NotConverged."""
    z, full = np.zeros(model.order), np.ones(len(case.tracers))
    for _ in range(MOST_STEPS):
        modes = _modes(model, _Stretch(case, case, case, (0.0, 0.0), 0.0), model.matrix(z), model.outside(z))
        load = modes.load + _heat(model, case, z, full) @ model.tracers
        new = modes.vectors @ ((modes.vectors.T @ load) / np.maximum(modes.values, 1e-12))
        moved = float(np.abs(model.cover @ (new - z)).max())
        moved += float(np.abs(model.beneath @ (new - z)).max(initial=0.0))
        z = z + 0.7 * (new - z)
        if moved < 1e-4:
            return z
    raise NotConverged(
        f"the steady state of the weather's first hour did not settle: {moved:.2g} K in a step"
    )


@dataclass
class _Piece:
    """A piece lived through: states (r,) at moments, s from its beginning, the last at its end; heat J/m; seconds on as
    a mean over tracers; switchings."""

    states: list[Array] = field(default_factory=list)
    moments: list[float] = field(default_factory=list)
    heat: float = 0.0
    on: float = 0.0
    switchings: int = 0


def _piece(
    model: Reduced, stretch: _Stretch, z: Array, ahead: Array, thermostats: list[Thermostat]
) -> _Piece:
    """Live through a piece from a state; ahead: roughly the state in its middle."""
    joints = model.matrix(ahead)
    modes = _modes(model, stretch, joints, model.outside(z) + 0.5 * (stretch.ends[1] - stretch.ends[0]))
    there, _, _ = _given(model, stretch, modes, modes.vectors.T @ z, thermostats, 0.0, stretch.long)
    if np.abs(model.outside(there) - modes.surface).max() > NEAR:
        modes = _modes(model, stretch, joints, model.outside(there))
    piece, now, modal = _Piece(), 0.0, modes.vectors.T @ z
    follows = any(not t.switches and t.control.sensor != AMBIENT for t in thermostats)
    while (left := stretch.long - now) > 1e-6:
        span = min(left, SHORT) if follows else left
        _, watts, share = _given(model, stretch, modes, modal, thermostats, now, span)
        load = modes.vectors.T @ (watts @ model.tracers)
        stop, mover = span, None
        if thermostats:
            at = span * np.arange(SAMPLES + 1) / SAMPLES
            course = modes.course(modal, load, now, at) @ modes.vectors.T
            stop, mover = _to_switching(model, stretch, thermostats, course, now, at)
            if any(t.switches for t in thermostats):
                passed = (at > 0.0) & (at < stop - 1e-6)
                piece.states += list(course[passed][::LOOK])
                piece.moments += (now + at[passed][::LOOK]).tolist()
        modal = modes.course(modal, load, now, np.array([stop]))[0]
        now += stop
        piece.heat += stop * float(watts.sum())
        piece.on += stop * float(share.mean()) if len(share) else 0.0
        if mover is not None:
            mover.on = not mover.on
            piece.switchings += 1
            piece.states.append(modes.vectors @ modal)
            piece.moments.append(now)
    if not piece.moments or piece.moments[-1] < now:
        piece.states.append(modes.vectors @ modal)
        piece.moments.append(now)
    return piece


def _to_switching(
    model: Reduced, stretch: _Stretch, thermostats: list[Thermostat], course: Array, now: float, at: Array
) -> tuple[float, Thermostat | None]:
    """How far a span goes, s, before a control switches, and which; states (m, r) at moments (m,) of it. The readings
    are taken there."""
    stop, mover = float(at[-1]), None
    ambient = stretch.ambient(now + at)
    readings = [_readings(model, t, course, ambient, float(at[1])) for t in thermostats]
    for t, mine in zip(thermostats, readings, strict=True):
        passage = _passes(t, mine, at) if t.switches else None
        if passage is not None and passage < stop:
            stop, mover = passage, t
    for t, mine in zip(thermostats, readings, strict=True):
        t.reading = float(np.interp(stop, at, mine))
    return stop, mover


def _given(
    model: Reduced,
    stretch: _Stretch,
    modes: _Modes,
    start: Array,
    thermostats: list[Thermostat],
    now: float,
    span: float,
) -> tuple[Array, Array, Array]:
    """State in the middle of a span that begins at `now` with a modal state, and there by its own wall and readings:
    output of each tracer, W/m, and share of its full power."""
    half, z = np.array([0.5 * span]), modes.vectors @ start
    ambient = float(stretch.ambient(now + 0.5 * span))
    watts = share = np.full(len(stretch.case.tracers), np.nan)
    for _ in range(SETTLES):
        before = watts
        share = np.ones(len(watts))
        for t in thermostats:
            delayed = t.switches or t.time_constant > 0.0
            reading = t.reading if delayed else _reading(model, t, ambient, z)
            share = np.where(t.tracers > 0, t.share(reading), share)
        watts = _heat(model, stretch.case, z, share)
        if np.array_equal(watts, before):
            break
        z = modes.vectors @ modes.course(start, modes.vectors.T @ (watts @ model.tracers), now, half)[0]
    return z, watts, share


def _readings(model: Reduced, thermostat: Thermostat, course: Array, ambient: Array, step: float) -> Array:
    """Readings (m,) at the samples (m, r) of a span, K, the first at its beginning, the lag of the sensor included
    (`sim.solve.drive.lagged`)."""
    name, lag = thermostat.control.sensor, thermostat.time_constant
    plain = ambient if name == AMBIENT else model.reference + course @ model.sensors[name]
    if lag <= 0.0:
        return np.asarray(plain)
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
