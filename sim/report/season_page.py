"""The page of a file of weather: what a season does to a line, its chart, and the worst week where it was run."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sim.judge.worst_week import worst_week
from sim.report.episode_page import episode_scene, episode_section
from sim.report.html import STYLE, data_uri, template
from sim.report.method import CAUTIONS
from sim.report.words import ZERO, number
from sim.solve.measures import EVERY_LIMIT
from sim.version import __version__

if TYPE_CHECKING:
    from sim.case import Case
    from sim.judge.episode_answers import EpisodeAnswer
    from sim.judge.season import SeasonAnswer


def season_rows(answer: SeasonAnswer) -> list[tuple[str, str]]:
    """(what, value) of everything a season answers, as text."""
    season, hours = answer.season, answer.file.spacing / 3600
    begin, end = worst_week(answer)
    several = "of each day's coldest" if answer.days == 1 else f"of the coldest of any {answer.days} days"
    how = several if answer.days else "at any hour"
    full = (answer.stretch[1] - answer.stretch[0]) / 86400
    rows = [
        ("energy", f"{answer.energy / 3.6e6:.2f} kWh/m"),
        ("duty", f"{100 * answer.duty:.1f} %"),
        ("switchings", str(season.switchings)),
        (f"coldest {season.lowest}", f"{answer.coldest - ZERO:.2f} degC at {answer.at}"),
        ("the same by the full field", f"{answer.coldest_full - ZERO:.2f} degC"),
        (f"reduced model from the full field, worst {full:.0f} days", f"{answer.error:.2f} K {how}"),
        ("worst week", f"{answer.file.stamp(begin)} to {answer.file.stamp(end)}"),
    ]
    for name, beyond in answer.hours_beyond.items():
        limit = EVERY_LIMIT[name]
        allowed = f"{number(limit.measure.shown(getattr(answer.limits, name)), 1)} {limit.measure.unit}"
        share = 100 * beyond / (hours * (answer.file.count - 1))
        apart = f"reduced model {answer.errors[name]:.2f} K from the full field"
        rows.append((f"beyond {limit.words()} {allowed}", f"{beyond:.0f} h ({share:.1f} %); {apart}"))
    return rows


def season_page(case: Case, answer: SeasonAnswer, chart: Path, week: EpisodeAnswer | None) -> str:
    """The page as text. chart: the picture of the season; those of the week are drawn beside it."""
    pictures = {} if week is None else _pictures(week, chart.parent)
    return template(Path(__file__).parent, "season.html.jinja").render(
        title=f"{case.title}: {answer.file.name}",
        css=STYLE.read_text(encoding="utf-8"),
        cautions=CAUTIONS,
        days=f"{answer.file.time[-1] / 86400:.0f}",
        condition=answer.condition,
        controls=[control.name for control in answer.controls],
        order=answer.model.order,
        rows=season_rows(answer),
        chart=data_uri(chart),
        notes=answer.notes,
        episodes=[] if week is None else [episode_section(week, pictures)],
        episodes_left_out=[],
        version=__version__,
    )


def _pictures(week: EpisodeAnswer, folder: Path) -> dict[str, str]:
    from sim.report.draw_episode import draw_course, draw_moments

    scene = episode_scene(week)
    course, moments = folder / "course_worst_week.png", folder / "moments_worst_week.png"
    draw_course(scene, course)
    draw_moments(scene, moments)
    return {"course": data_uri(course), "moments": data_uri(moments)}
