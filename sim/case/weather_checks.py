"""Files of weather that a case names: read beside it, and held against the episodes that they drive."""

from __future__ import annotations

from pathlib import Path

from .case import Case
from .episode import Episode
from .errors import CaseError, join_key
from .sun_and_sky import NO_PVLIB, Sun, has_pvlib
from .weather import SUN, Weather, read_weather


def attach_weather(case: Case, folder: Path) -> list[CaseError]:
    """Give every episode its file's weather; folder: where relative paths start. What is wrong, with its key."""
    faults = []
    for position, episode in enumerate(case.episodes, start=1):
        if episode.weather is None:
            continue
        try:
            _attach(case, episode, folder / episode.weather)
        except CaseError as error:
            place = join_key(f'episode[{position}] "{episode.name}"', error.key or "weather")
            faults.append(CaseError(error.message, key=place))
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
