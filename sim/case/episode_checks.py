"""Checks of episodes and controls against the rest of the case."""

from collections.abc import Iterable, Mapping
from pathlib import Path

from .case import Case
from .episode import STEADY, Control, Episode
from .errors import CaseError, first_faults, join_key, named, nearest
from .operation import Condition
from .sun_and_sky import NO_PVLIB, Sun, has_pvlib
from .units import write_quantity
from .weather import SUN, Weather, read_weather

AMBIENT = "ambient"


def episode_faults(case: Case) -> list[CaseError]:
    """The first thing of each control and episode that does not fit the case, with its key."""
    earlier: dict[str, Episode] = {}

    def follows(key: str, episode: Episode) -> None:
        try:
            _episode(case, key, episode, earlier)
        finally:
            earlier[episode.name] = episode

    faults = first_faults("control", case.controls, lambda key, control: _control(case, key, control))
    return faults + first_faults("episode", case.episodes, follows)


def _control(case: Case, key: str, control: Control) -> None:
    _known(f"{key}.sensor", control.sensor, [*(s.name for s in case.sensors), AMBIENT], "sensor")
    for name in control.tracers:
        _known(f"{key}.tracers", name, [t.name for t in case.tracers], "tracer")


def _episode(case: Case, key: str, episode: Episode, earlier: dict[str, Episode]) -> None:
    _known(f"{key}.condition", episode.condition, [c.name for c in case.conditions], "condition")
    for name in episode.control:
        _known(f"{key}.control", name, [c.name for c in case.controls], "control")
    if episode.support is not None:
        _known(f"{key}.support", episode.support, [s.name for s in case.interruptions], "support or fitting")
    if isinstance(episode.start, str) and episode.start != STEADY:
        _start(key, episode, earlier)
    _changes(key, episode)
    _controls(case, key, episode)
    _outdoors(next(c for c in case.conditions if c.name == episode.condition), key, episode)


def _start(key: str, episode: Episode, earlier: dict[str, Episode]) -> None:
    start = str(episode.start)
    if start == episode.name:
        raise CaseError(
            'is the episode itself; accepted: "steady", a temperature, or an earlier episode',
            key=f"{key}.start",
        )
    _known(f"{key}.start", start, [STEADY, *earlier], "earlier episode")
    if earlier[start].support != episode.support:
        raise CaseError(
            f'"{start}" follows another field ({_field(earlier[start])} and not {_field(episode)});'
            " accepted: an earlier episode of the same support or fitting, or of none",
            key=f"{key}.start",
        )


def start_faults(case: Case, built: Mapping[str, Case]) -> list[CaseError]:
    """Episodes that start where one of another body ends, whose field says nothing here; built: by condition."""
    faults = []
    by_name = {episode.name: episode for episode in case.episodes}
    for key, episode in named("episode", case.episodes):
        earlier = by_name.get(str(episode.start))
        if earlier is not None and _body(built[earlier.condition]) != _body(built[episode.condition]):
            message = (
                f'"{earlier.name}" ends in condition "{earlier.condition}", of another section or contents than'
                f' "{episode.condition}"; accepted: an earlier episode of the same body'
            )
            faults.append(CaseError(message, key=f"{key}.start"))
    return faults


def _body(case: Case) -> tuple[object, ...]:
    """What a field is a field of."""
    contents = case.contents
    tracers = [t.model_dump(exclude={"output", "tolerance", "on"}) for t in case.tracers]
    inside = (contents.state, contents.fluid, contents.gas, contents.fill)
    return (case.pipe, inside, tracers, case.insulation, case.foil, case.barrier)


def _field(episode: Episode) -> str:
    return "the section" if episode.support is None else f"that around {episode.support}"


def _changes(key: str, episode: Episode) -> None:
    before = -1.0
    for number, change in enumerate(episode.changes, start=1):
        place = f"{key}.change[{number}].at"
        if change.at >= episode.lasts:
            raise CaseError(
                f"{write_quantity(change.at, 'time')} is not within the episode, which lasts"
                f" {write_quantity(episode.lasts, 'time')}",
                key=place,
            )
        if change.at <= before:
            raise CaseError("is not after the change before it; accepted: moments that increase", key=place)
        before = change.at


def _outdoors(condition: Condition, key: str, episode: Episode) -> None:
    """Sun and sky need a moment without rain, and no dew point is above the ambient."""
    wet = condition.rain if episode.rain is None else all(episode.rain.values)
    wet = wet and all(change.rain is not False for change in episode.changes)
    for name in ("sun", "sky"):
        if wet and getattr(episode, name) is not None:
            raise CaseError(
                "has no effect beside rain, which lasts throughout; accepted: rain for a part of the episode",
                key=f"{key}.{name}",
            )
    if episode.weather is not None and episode.ambient is None:
        return
    moments = {t for series in episode.series for t in series.times} | {c.at for c in episode.changes}
    for moment in sorted(moments | {0.0}):
        ambient = condition.ambient if episode.ambient is None else episode.ambient(moment)
        dew, place = None, f"{key}.sky.dew_point"
        if episode.sky is not None and episode.sky.dew_point is not None:
            dew = episode.sky.dew_point(moment)
        for number, change in enumerate(episode.changes, start=1):
            if change.at <= moment:
                ambient = change.ambient if change.ambient is not None else ambient
                if change.sky is not None:
                    given, place = change.sky.dew_point, f"{key}.change[{number}].sky.dew_point"
                    dew = None if given is None else given(moment)
        if dew is not None and dew > ambient + 1e-9:
            accepted = write_quantity(ambient, "temperature")
            at = write_quantity(moment, "time")
            raise CaseError(f"is above the ambient at {at}; accepted: at most {accepted} there", key=place)


def _controls(case: Case, key: str, episode: Episode) -> None:
    taken: dict[str, str] = {}
    for control in case.controls:
        if control.name not in episode.control:
            continue
        for name in control.tracers or [t.name for t in case.tracers]:
            if name in taken:
                raise CaseError(
                    f'tracer "{name}" is switched by "{taken[name]}" already; accepted: one control a tracer',
                    key=f"{key}.control",
                )
            taken[name] = control.name


def _known(key: str, name: str, known: Iterable[str], what: str) -> None:
    names = list(known)
    if name not in names:
        accepted = ", ".join(names) or f"none: there is no {what}"
        raise CaseError(f'"{name}" is no {what}{nearest(name, names)}; accepted: {accepted}', key=key)


def attach_weather(case: Case, folder: Path) -> list[CaseError]:
    """Give every episode its file's weather; folder: where relative paths start. What is wrong, with its key."""
    faults = []
    for key, episode in named("episode", case.episodes):
        if episode.weather is not None:
            try:
                _attach(case, episode, folder / episode.weather)
            except CaseError as error:
                faults.append(CaseError(error.message, key=join_key(key, error.key or "weather")))
    return faults


def _attach(case: Case, episode: Episode, path: Path) -> None:
    file = read_weather(path)
    if episode.sun is None:
        sun_fits(next(c.sun for c in case.conditions if c.name == episode.condition), file)
    episode.attach(file)


def sun_fits(sun: Sun | None, file: Weather) -> None:
    """Whether a condition's sun and a file's go together. Raises CaseError."""
    if sun is not None:
        if not file.has_sun:
            raise CaseError(
                f"holds no sun ({', '.join(SUN)}), and the condition has one, which would stand still; accepted: a"
                " file with it, or a condition without sun"
            )
        if sun.bearing is None:
            raise CaseError(
                "holds the sun, and the condition's is given by its irradiance; accepted: the condition's sun by"
                " date (its bearing and absorptivity then count), or none"
            )
        if not has_pvlib():
            raise CaseError(NO_PVLIB)
