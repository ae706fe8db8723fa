"""An episode as its pictures and its part of the page show it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sim.report.scene import curves_of, outline_of
from sim.report.stage import Array, CurveOverTime, EpisodeScene, Still
from sim.report.words import NONE, ZERO, celsius, clock, number, with_band
from sim.solve.convergence import Banded
from sim.solve.measures import EVERY_LIMIT
from sim.solve.paths import coldest_contents, of_episode
from sim.solve.steady import cell_temperature

if TYPE_CHECKING:
    from sim.judge.episode_answers import EpisodeAnswer
    from sim.judge.episode_limits import Freezing
    from sim.judge.limits import LimitCheck
    from sim.solve.episode_result import EpisodeResult

HOUR = 3600.0
COLDEST, HOTTEST = "coldest contents", "hottest sheath"
MOST_STEPS = 1000  # jumps of the heat that its curve draws as steps


def episode_scene(answer: EpisodeAnswer) -> EpisodeScene:
    """What the pictures of an episode that was followed show."""
    result = answer.result
    assert result is not None
    series, mesh = result.series, result.fine.network.mesh
    point, stills = _stills(result)
    moments = _with_jumps(result)
    output, loss = (result.fine.courses[path].at(moments) for path in ("heat_in", "heat_out"))
    return EpisodeScene(
        name=answer.name,
        words=f"{where(answer)}, {number(answer.episode.lasts / HOUR, 1)} h",
        hour=result.time / HOUR,
        curves=_curves_of(result),
        heat_hour=moments / HOUR,
        output=output,
        loss=loss,
        frozen=series["frozen"].value if "frozen" in series else None,
        limits=_limits(result),
        events=_events(answer),
        on=_on(result),
        outline=outline_of(mesh.layout),
        point=point,
        lines=curves_of(mesh),
        stills=stills,
    )


def where(answer: EpisodeAnswer) -> str:
    """Which field was followed."""
    around = answer.episode.support
    return f"condition {answer.condition}" + (f", around {around}" if around is not None else "")


def _with_jumps(result: EpisodeResult) -> Array:
    """The moments written, with both sides of every jump and switching, s: heat jumps there, temperatures do not."""
    at = result.fine.courses["heat_in"].times.at
    twice = np.unique(at[1:][np.diff(at) <= 0.0])[:MOST_STEPS]
    return np.unique(np.concatenate([result.time, twice, np.nextafter(twice, np.inf)]))


def _curves_of(result: EpisodeResult) -> tuple[CurveOverTime, ...]:
    """The coldest contents and wall, the hottest sheath, what sensors read, the ambient."""
    wanted = [(coldest_contents(result.series), "contents"), ("wall.min", "wall")]
    wanted += [
        (path, "contents") for path in result.series if path.startswith("hollows.") and path.endswith(".min")
    ]
    wanted += [(f"tracers.{t.name}.sheath_max", "sheath") for t in result.case.tracers]
    wanted += [(f"sensors.{s.name}", "sensor") for s in result.case.sensors]
    wanted += [("ambient", "ambient")]
    curves = []
    for path, kind in wanted:
        if path in result.series and np.isfinite(result.series[path].value).any():
            one, row = result.series[path], of_episode(path)
            words = row.words.replace("contents in the", "in the")  # the legend is narrow
            curves.append(CurveOverTime(words, one.value - ZERO, np.nan_to_num(one.band), kind))
    return tuple(curves)


def _limits(result: EpisodeResult) -> tuple[tuple[str, float], ...]:
    given = [(name, getattr(result.case.limits, name, None)) for name in EVERY_LIMIT]
    return tuple(
        (EVERY_LIMIT[name].words(), float(value) - ZERO)
        for name, value in given
        if value is not None and EVERY_LIMIT[name].measure.absolute
    )


def _events(answer: EpisodeAnswer) -> tuple[tuple[float, str], ...]:
    """Jumps, broken limits and ice, with their moment in hours."""
    events = []
    for change in answer.episode.changes:
        words = ", ".join(
            _change_words(key, getattr(change, key)) for key in sorted(change.model_fields_set - {"at"})
        )
        events.append((change.at / HOUR, words))
    for limit, broken in answer.broken.items():
        if np.isfinite(broken.first.value):
            words = f"{EVERY_LIMIT[limit].words()} {_allowed(answer, limit)}: broken"
            events.append((broken.first.value / HOUR, words))
    ice = {} if answer.freezing is None else _first_ice(answer.freezing)
    events += [(first.value / HOUR, words) for words, first in ice.items() if np.isfinite(first.value)]
    return tuple(sorted(events))


def _first_ice(ice: Freezing) -> dict[str, Banded]:
    """Moments of the first ice, in words, where."""
    hollows = {f"first ice in the hollow of body {n}": first for n, first in ice.hollows.items()}
    return {"first ice" + " in the bore" * bool(hollows): ice.first, **hollows}


def _allowed(answer: EpisodeAnswer, limit: str) -> str:
    assert answer.result is not None
    measure = EVERY_LIMIT[limit].measure
    return f"{measure.shown(getattr(answer.result.case.limits, limit)):g} {measure.unit}"


def _change_words(key: str, value: Any) -> str:
    if key == "supply":
        return "power cut" if value == 0 else f"supply {100 * value:g} %"
    if key in ("ambient", "contents_temperature"):
        return f"{key.replace('_', ' ')} {number(value - ZERO, 1)} degC"
    if key == "wind":
        return f"wind {value:g} m/s"
    if key == "wind_from":
        return f"wind from {clock(value)}"
    if key == "sun":
        return "no sun" if not any(value.irradiance.values) else "another sun"
    if key == "sky":
        return "another sky"
    if key == "rain":
        return "rain" if value else "rain ends"
    return f"{key} {value}"


def _on(result: EpisodeResult) -> tuple[tuple[float, float], ...]:
    """Stretches in which a control that switches is on, h."""
    stretches = []
    for moments in result.track.switchings.values():
        if not moments:
            continue
        first_on = not moments[0][1]
        edges = ([0.0] if first_on else []) + [t for t, _ in moments]
        edges += [result.episode.lasts] if len(edges) % 2 else []
        stretches += [(a / HOUR, b / HOUR) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return tuple(stretches)


def _stills(result: EpisodeResult) -> tuple[Array, tuple[Still, ...]]:
    """Points of the section, and its field at the moments that were kept; none around a support."""
    net, mesh = result.fine.network, result.fine.network.mesh
    if net.section is not None:
        return np.zeros((0, 2)), ()
    point = np.concatenate([mesh.site, mesh.cover_point])
    stills = []
    for moment, temperature, share in result.track.fields:
        cells = cell_temperature(net, temperature) - ZERO
        frozen = np.where(net.cell_node >= 0, share[np.maximum(net.cell_node, 0)], 0.0)
        ring = mesh.layout.inner_radius
        if net.bore is not None and net.bore.liquid >= 0:
            ring *= float(np.sqrt(max(1.0 - share[net.bore.liquid], 0.0)))
        rim = temperature[net.cover_node] - ZERO
        stills.append(
            Still(moment / HOUR, np.concatenate([cells, rim]), np.append(frozen, np.zeros(len(rim))), ring)
        )
    return point, tuple(stills)


def episode_section(answer: EpisodeAnswer, pictures: dict[str, str]) -> dict[str, Any]:
    """What the page says of an episode. pictures: "course" and "moments" as data, where there are any."""
    section: dict[str, Any] = {
        "name": answer.name,
        "verdict": answer.verdict,
        "failure": answer.failure,
        "where": where(answer),
        "notes": list(answer.notes),
        "answers": [],
        "limits": [],
        "pictures": pictures,
        "hours": [],
        "steps": [],
    }
    if answer.result is None:
        return section
    section["answers"] = answers_of(answer)
    section["limits"] = [_limit_row(check) for check in answer.limits]
    section["hours"] = [number(moment / HOUR, 1) for moment, _, _ in answer.result.track.fields]
    section["steps"] = [f"{n:,}" for n in answer.result.steps]
    return section


def _limit_row(check: LimitCheck) -> tuple[str, ...]:
    """Words, what is allowed, value with its band, verdict and note; times in hours."""
    limit = EVERY_LIMIT[check.limit]
    by, unit, _ = limit.measure.display
    allowed = f"{number(limit.measure.shown(check.allowed) / by, 2)} {unit}".strip()
    value = f"{with_band(limit.measure.shown(check.value) / by, check.band / by)} {unit}".strip()
    return check.words, allowed, value, check.verdict, check.note


def _hours(moment: Banded | None) -> str:
    if moment is None or not np.isfinite(moment.value):
        return NONE
    return f"{with_band(moment.value / HOUR, moment.band / HOUR)} h"


def answers_of(answer: EpisodeAnswer) -> list[tuple[str, str]]:
    """(what, value with its band) of everything the episode answers."""
    rows = []
    if answer.power_lost is not None:
        rows.append(("power lost at", f"{number(answer.power_lost / HOUR, 2)} h"))
        rows.append(("held after that", _hours(answer.hold)))
    if answer.warm_to is not None:
        rows.append((f"warm ({number(answer.warm_to - ZERO, 1)} degC) after", _hours(answer.warm_up)))
    for path, words in (
        ("contents.min", COLDEST),
        ("wall.min", "coldest wall"),
        ("barrier.max", "hottest outside"),
    ):
        if path in answer.extremes:
            one = answer.extremes[path]
            side, at = (one.max, one.max_at) if path == "barrier.max" else (one.min, one.min_at)
            rows.append((words, f"{celsius(side)} degC at {_hours(at)}"))
    for limit, broken in answer.broken.items():
        words = EVERY_LIMIT[limit].words()
        never = not np.isfinite(broken.first.value)
        rows.append((f"{words}: first broken at", "never" if never else _hours(broken.first)))
        if np.isfinite(broken.kept_again.value):
            rows.append((f"{words}: kept again at", _hours(broken.kept_again)))
    if answer.freezing is not None:
        ice = answer.freezing
        place = f", at {clock(ice.first_clock)}" if np.isfinite(ice.first_clock) else ""
        (words, first), *hollows = _first_ice(ice).items()
        rows.append((f"{words} at", _hours(first) + place))
        rows += [(f"{words} at", _hours(first)) for words, first in hollows]
        rows += [(f"{100 * part:g} % frozen at", _hours(when)) for part, when in ice.share.items()]
        if np.isfinite(ice.smallest_passage.value):
            passage = with_band(1e3 * ice.smallest_passage.value, 1e3 * ice.smallest_passage.band)
            rows.append(("smallest free passage", f"{passage} mm"))
    for name, energy in answer.energy.items():
        duty = answer.duty[name]
        rows.append((f"energy of {name}", f"{with_band(energy.value / 3.6e6, energy.band / 3.6e6)} kWh/m"))
        rows.append((f"duty of {name}", f"{with_band(100 * duty.value, 100 * duty.band)} %"))
    if answer.result is not None:
        for name, moments in answer.result.track.switchings.items():
            rows.append((f"switchings of {name}", f"{len(moments)}"))
    return rows
