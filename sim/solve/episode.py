"""An episode on one mesh: the line taken through time, its quantities at every step, its switchings and its energy."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from sim.case import Case
from sim.case.episode import Control, Episode
from sim.heat.network import Network
from sim.section.shapes import Array
from sim.solve.balance import NotConverged
from sim.solve.drive import BEFORE, Drive, Thermostat, jumps
from sim.solve.onset import Onset
from sim.solve.passage import passage
from sim.solve.quantities import quantities
from sim.solve.stiff import State, Step, StepFailed, Stepper
from sim.solve.switching import Watch
from sim.solve.transient import Line

FIRST_STEP = 20.0  # s: the first step after the first jump; later ones begin as the errors of these allow
TOLERANCE = 0.05  # K, usual error of a step
FEWEST_STEPS = (
    30  # of an episode with that, so that the curves between the ends of the steps are as good as these
)
AT_ONCE = 0.1  # s: time in which what stores nothing takes its temperature after a jump
MOST_SWITCHINGS = 20000
FACTORS, FEW_FACTORS = 24, 6  # factored matrices kept in a plane, and hierarchies around a support

Record = Callable[[Line, State], dict[str, float]]


@dataclass
class Track:
    """An episode on one mesh.

    time (n,) s and values by path (n,) at the ends of the steps, and once more after every jump and switching, with
    the flows that begin there; switchings by control: (moment s, on); energy J/m and
    time on (s, by the share of its power) by tracer; out, given: heat lost and heat from flowing contents, J/m;
    passed: the greater of what came and what went in each step, by size, J/m; closure: heat added less enthalpy
    gained, as a part of the heat that passed; fields: (moment, node temperatures K, frozen share of the nodes) at
    chosen moments; end: the last state.
    """

    time: list[float] = field(default_factory=list)
    values: dict[str, list[float]] = field(default_factory=dict)
    switchings: dict[str, list[tuple[float, bool]]] = field(default_factory=dict)
    energy: dict[str, float] = field(default_factory=dict)
    on_time: dict[str, float] = field(default_factory=dict)
    fields: list[tuple[float, Array, Array]] = field(default_factory=list)
    out: float = 0.0
    given: float = 0.0
    passed: float = 0.0
    closure: float = 0.0
    steps: int = 0
    end: State | None = None

    def add(self, time: float, values: dict[str, float]) -> None:
        """One moment's values."""
        self.time.append(time)
        for path, value in values.items():
            self.values.setdefault(path, []).append(value)


def thermostats(case: Case, controls: tuple[Control, ...], episode: Episode) -> list[Thermostat]:
    """The controls in force, before they have read anything; controls: of the whole case."""
    lags = {sensor.name: sensor.time_constant for sensor in case.sensors}
    made = []
    for control in controls:
        if control.name in episode.control:
            controlled = control.tracers or tuple(t.name for t in case.tracers)
            mine = np.array([t.name in controlled for t in case.tracers], float)
            made.append(Thermostat(control, mine, lags.get(control.sensor, 0.0)))
    return made


def follow(
    network: Network,
    episode: Episode,
    controls: tuple[Control, ...],
    start: Array | State,
    tolerance: float,
    record: Record,
    moments: tuple[float, ...] = (),
    progress: Callable[[float], None] | None = None,
) -> Track:
    """Take a network through an episode; controls: those of the whole case.

    start: node temperatures (K), or the end of an earlier episode on the same network. tolerance: error of a step, K.
    record: the values kept at every step; moments: those whose fields are kept. Raises NotConverged.
    """
    case, active = network.case, thermostats(network.case, controls, episode)
    line = Line(network, Drive(case, episode, 0.0), active, tolerance)
    state = (
        State(0.0, start.temperature, start.enthalpy) if isinstance(start, State) else line.begin(0.0, start)
    )
    track = Track(switchings={t.control.name: [] for t in active})
    names = tuple(t.name for t in case.tracers)
    for name in names:
        track.energy[name] = track.on_time[name] = 0.0
    pending = [m for m in moments if m > 0.0]
    line.drive = Drive(case, episode, BEFORE)
    _settle(line, state, [])
    track.add(0.0, record(line, state))
    line.drive = Drive(case, episode, 0.0)
    _settle(line, state, active)
    _keep(track, line, state)
    kept = FACTORS if network.section is None else FEW_FACTORS
    stepper, initial = Stepper(line, line.linear, kept, FIRST_STEP), state
    watch, onset = Watch(line, stepper, active), Onset(line, stepper)
    # with the tolerance, so that what other steps change is known where they are held to their longest too
    scale = (tolerance / TOLERANCE) ** (1 / 3)
    stepper.longest = episode.lasts / FEWEST_STEPS * scale
    if line.drive.outdoors is not None:
        stepper.longest = min(stepper.longest, line.drive.outdoors.spacing * min(scale, 1.0))
    for begin, stop in pairwise(jumps(episode)):
        line.drive = Drive(case, episode, begin)
        stepper.forget()
        watch.forget()
        track.add(begin, record(line, _after_jump(stepper, state)))
        while state.time < stop:
            target = min([stop, *(m for m in pending if m > state.time)])
            for step in _march(stepper, state, target):
                unfrozen, begins = onset.cut(step)
                taken, moved = watch.cut(unfrozen)
                _account(track, taken, names)
                state = taken.new
                track.steps += 1
                track.add(state.time, record(line, state))
                if progress is not None:
                    progress(state.time)
                if moved is not None:
                    _switch(track, moved, state.time)
                if moved is not None or (begins and taken is unfrozen):
                    stepper.forget()
                    watch.forget()
                    track.add(state.time, record(line, state))
                if taken is not step or moved is not None:
                    break
            if pending and state.time >= pending[0]:
                _keep(track, line, state)
                pending.pop(0)
    track.closure = _closure(track, initial, state)
    track.end = state
    return track


def _after_jump(stepper: Stepper, state: State) -> State:
    """The state with the temperatures that nodes which store nothing take at once."""
    taken = stepper.step(state, AT_ONCE)
    if taken is None:
        return state
    capacity = stepper.system.store.capacity(state.enthalpy, state.temperature)
    settled = np.where(capacity > 0, state.temperature, taken[0].new.temperature)
    return State(state.time, settled, state.enthalpy)


def _march(stepper: Stepper, state: State, stop: float) -> Iterator[Step]:
    try:
        yield from stepper.march(state, stop)
    except StepFailed as error:
        raise NotConverged(str(error)) from error


def _switch(track: Track, thermostat: Thermostat, time: float) -> None:
    name = thermostat.control.name
    thermostat.on = not thermostat.on
    track.switchings[name].append((time, thermostat.on))
    if len(track.switchings[name]) > MOST_SWITCHINGS:
        raise NotConverged(
            f"control {name} switched more than {MOST_SWITCHINGS} times; its dead-band is too narrow for this line"
        )


def _settle(line: Line, state: State, controls: list[Thermostat]) -> None:
    """What the sensors read at the start, and whether the controls are on there."""
    for thermostat in controls:
        thermostat.reading = float("nan")
    line.thermostats = []
    line.rate(0.0, state.temperature, state.enthalpy)
    assert line.balance is not None
    for thermostat in controls:
        here = line.surface_reading(thermostat, 0.0, state.temperature, line.balance)
        thermostat.read(here, here, 0.0)
        thermostat.on = thermostat.reading < thermostat.control.off_above
    line.thermostats = controls
    line.rate(0.0, state.temperature, state.enthalpy)


def _keep(track: Track, line: Line, state: State) -> None:
    track.fields.append((state.time, state.temperature, line.store.frozen(state.enthalpy, state.temperature)))


def _account(track: Track, step: Step, tracers: tuple[str, ...]) -> None:
    """Energy given by each tracer over a step, the time it was on, and all heat that came and went."""
    count = len(tracers)
    out, given = float(step.passed[2 * count]), float(step.passed[2 * count + 1])
    for k, name in enumerate(tracers):
        track.energy[name] += float(step.passed[k])
        track.on_time[name] += float(step.passed[count + k])
    track.out += out
    track.given += given
    track.passed += max(float(step.passed[:count].sum()) + abs(given), abs(out))


def _closure(track: Track, start: State, end: State) -> float:
    """Heat added less enthalpy gained, as a part of the heat that passed."""
    added = sum(track.energy.values()) + track.given - track.out
    gained = float((end.enthalpy - start.enthalpy).sum())
    return (added - gained) / max(track.passed, abs(gained), 1.0)


def section_record(network: Network) -> Record:
    """What is kept of a section: as of `standard_record`."""
    return standard_record


def standard_record(line: Line, state: State) -> dict[str, float]:
    """Every quantity of a section at a state, the ambient, the frozen share of the liquid and the free passage."""
    line.rate(state.time, state.temperature, state.enthalpy)
    assert line.balance is not None
    values = dict(quantities(line.solution(state.temperature, line.balance)))
    del values["closure"]
    for sensor in line.network.case.sensors:
        values[f"sensors.{sensor.name}"] = values.pop(f"sensors.{sensor.name}.reading")
    values["ambient"] = line.drive.condition(state.time).ambient
    if line.fluid is not None:
        share = line.store.frozen(state.enthalpy, state.temperature)
        ring = line.store.ring
        if ring is not None:
            values["contents.stored"] = float((state.enthalpy[ring.node] / ring.area)[0])
        values["frozen"] = line.frozen_share(share)
        if values["frozen"] > 0.0:
            values["passage"] = passage(line.network, share)
        else:
            values["passage"] = 2 * line.network.mesh.layout.inner_radius
    return values
