"""What holds where, as tables: each limit by condition, and each pair of axis values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.study.axes import blocks
from sim.study.execute import Answers
from sim.study.frame import in_kelvin
from sim.study.row import NOTHING, place_of
from sim.study.verdicts import keys, limit_in_words, overall, tally
from sim.study.words import margin_words, number, quoted

MOST_ROWS, MOST_COLUMNS = 60, 12
SHORT = {
    "pass": "holds",
    "fail": "missed",
    "too close to call": "too close",
    "not evaluated": "not evaluated",
    "not converged": "not computed",
    "nothing to hold": "nothing to hold",
    "no limits": "no limits",
}


@dataclass(frozen=True)
class Cell:
    """A cell of a table: its verdict and what stands in it."""

    verdict: str
    text: str


@dataclass(frozen=True)
class Table:
    """A table of verdicts. rows: (name, cells); left: rows that are not shown."""

    corner: str
    head: list[str]
    rows: list[tuple[str, list[Cell]]]
    left: int = 0


def limits_table(answers: Answers) -> Table:
    """Each limit at each place, by condition: how many variants hold it, and the least margin."""
    frame, bands = answers.frame, answers.bands
    rows = []
    for key in keys(frame):
        cells = []
        for condition in frame.conditions:
            count = tally(frame, bands, key, [condition])
            if not count.total:
                cells.append(Cell("no limits", "none"))
                continue
            worst = next((v for v in SHORT if v != "pass" and count.others.get(v)), "pass")
            text = f"{count.passed} of {count.total} hold"
            if np.isfinite(count.margin):
                text += f"; least margin {margin_words(place_of(key)[0], count.margin, count.band)}"
                text += f" at {count.where.removeprefix(f'{condition}, ')}" if count.total > 1 else ""
            if count.bracketed:
                text += f"; {count.bracketed} bracket{'' if count.bracketed == 1 else 's'}"
            cells.append(Cell(worst, text))
        rows.append((limit_in_words(key), cells))
    return Table("limit on the", frame.conditions, rows)


def pairs_table(answers: Answers) -> Table | None:
    """Whether all limits hold, for each pair of axis values; with one axis by condition. None where nothing is held."""
    frame, bands, study = answers.frame, answers.bands, answers.study
    if study.inputs or answers.search is not None or not study.lines or not keys(frame):
        return None
    groups = [[e.name for e in block] for block in blocks(study.lines) if len(block[0].points) > 1]
    wide = [g for g in groups if len(next(e for e in study.lines if e.name == g[0]).points) <= MOST_COLUMNS]
    across = wide[-1] if len(groups) > 1 and wide else []
    down = [name for group in groups if group is not across for name in group]

    def label(names: list[str], i: int) -> str:
        return ", ".join(f"{name} {quoted(frame.texts[name][i])}" for name in names)

    judged = {c: overall(frame, bands, [c]) for c in frame.conditions}
    whole = overall(frame, bands, frame.conditions)
    least = {c: _least(answers, [c]) for c in frame.conditions} | {"": frame.least_margin()}
    table: dict[str, dict[str, Cell]] = {}
    for i in range(len(frame)):
        row = table.setdefault(label(down, i) or "all", {})
        if across:
            row[label(across, i)] = _cell(whole[i], float(least[""][i]))
        else:
            for c in frame.conditions:
                row[c] = _cell(judged[c][i], float(least[c][i]))
    head = list(dict.fromkeys(name for row in table.values() for name in row))
    rows = [(name, [row.get(h, Cell("no limits", "")) for h in head]) for name, row in table.items()]
    return Table(", ".join(down), head, rows[:MOST_ROWS], max(0, len(rows) - MOST_ROWS))


def _least(answers: Answers, conditions: list[str]) -> np.ndarray:
    every = [col for c in conditions for key, col in answers.frame.margins[c].items() if in_kelvin(key)]
    if not every:
        return np.full(len(answers.frame), np.nan)
    return np.where(np.isnan(every).all(axis=0), np.nan, np.nanmin(np.nan_to_num(every, nan=np.inf), axis=0))


def _cell(verdict: str, margin: float) -> Cell:
    text = SHORT[verdict]
    if np.isfinite(margin) and verdict not in NOTHING:
        text += f", {'+' if margin > 0 else ''}{number(margin, 1)} K"
    return Cell(verdict, text)
