"""The folder of a line, and its page: its picture, the bill, every limit at every place, and what allowances do."""

from math import isfinite
from pathlib import Path
from typing import Any

from sim.case import assumptions
from sim.report.draw_line import draw_line
from sim.report.html import STYLE, data_uri, template
from sim.report.line import (
    allowance_words,
    bill,
    bill_csv,
    coldest_words,
    heat_words,
    nearest,
    over_time_words,
    placed,
    placed_over_time,
    results,
)
from sim.report.method import CAUTIONS
from sim.report.results import as_json
from sim.report.words import NONE, ZERO, margin_text, number
from sim.report.worst import decisive, tally
from sim.solve.measures import LIMITS
from sim.study.line import LineAnswer
from sim.study.line_run import LineStudy
from sim.version import __version__


def write_line(study: LineStudy, folder: Path) -> list[str]:
    """Write bill, results, picture and page into the folder of the store, and return their names. Raises OSError."""
    (folder / "bill.csv").write_text(bill_csv(study), encoding="utf-8", newline="\n")
    draw_line(study, folder / "line.png")
    (folder / "report.html").write_text(line_page(study, folder / "line.png"), encoding="utf-8")
    files = ["bill.csv", "line.png", "line.sqlite", "report.html", "results.json"]
    (folder / "results.json").write_text(
        as_json(results(study) | {"files": files}), encoding="utf-8", newline="\n"
    )
    return files


def line_page(study: LineStudy, picture: Path) -> str:
    """The whole page. picture: of the line, put into it."""
    line = study.line
    every = [check for one in study.answers for check in placed(one)]
    every += [check for one in study.episodes for check in placed_over_time(one)]
    deciding = decisive(every)
    items = bill(study)
    return template(Path(__file__).parent, "line.html.jinja").render(
        title=line.file.title,
        css=STYLE.read_text(encoding="utf-8"),
        cautions=CAUTIONS,
        verdict=study.verdict,
        tally=tally(every),
        deciding=deciding.in_words() if deciding is not None else "",
        length=f"{line.starts[-1]:.4g}",
        stations=len(line.stations),
        tracer=f"{sum(item.total for item in items):.4g}",
        stretches=[
            (s.name, f"{s.length:.4g}", case.title, f"{case.pipe.outer_diameter * 1e3:.1f}")
            for s, case in zip(line.file.stretches, line.cases, strict=True)
        ],
        bill=[
            (i.what, i.number, f"{i.length:.4g}" if i.length else NONE, f"{i.each:.4g}", f"{i.total:.4g}")
            for i in items
        ],
        picture=data_uri(picture),
        conditions=[_condition(study, one) for one in study.answers],
        over_time=over_time_words(study),
        notes=list(dict.fromkeys(note for one in study.answers for note in one.notes)),
        assumptions=list(dict.fromkeys(row for case in line.cases for row in assumptions(case))),
        version=__version__,
        fields=f"{study.computed} fields computed now, {study.kept} from the store",
    )


def _condition(study: LineStudy, one: LineAnswer) -> dict[str, Any]:
    """What the page shows of a line in one condition."""
    limits = [name for name in LIMITS if any(c.limit == name for p in one.places for c in p.checks)]
    return {
        "name": one.condition,
        "verdict": one.verdict,
        "words": [heat_words(one), *coldest_words(one), *allowance_words(study, one)],
        "nearest": [
            (c.limit, c.place, c.at, c.value, c.margin, c.check.verdict, c.check.note) for c in nearest(one)
        ],
        "heads": [LIMITS[name].words() for name in limits],
        "places": [_place(one, n, limits) for n in range(len(one.places))],
    }


def _place(one: LineAnswer, number_: int, limits: list[str]) -> dict[str, Any]:
    """A row of the table of places: where, coldest wall, a cell a limit, and what its allowance does."""
    place = one.places[number_]
    cells = []
    for name in limits:
        checks = [c for c in place.checks if c.limit == name]
        worst = min(checks, key=lambda c: c.left if isfinite(c.left) else -float("inf"), default=None)
        if worst is None:
            cells.append((NONE, "no limit"))
        elif worst.verdict == "nothing to hold" or not isfinite(worst.margin):
            cells.append((worst.verdict, worst.verdict))
        else:
            cells.append((f"{margin_text(worst.left, worst.band)} K", worst.verdict))
    k = place.station
    gain, without = (one.gains[k], one.without[k]) if k >= 0 else (float("nan"), float("nan"))
    return {
        "label": place.label,
        "at": f"{place.at['wall.min']:.4g}",
        "wall": number(place.values["wall.min"].value - ZERO),
        "cells": cells,
        "gain": number(gain, 1),
        "without": number(without - ZERO),
    }
