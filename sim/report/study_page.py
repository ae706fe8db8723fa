"""The page of a study: statements, charts, failures and the table, in one HTML file that needs nothing else."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sim.case import Case, assumptions, case_for, to_toml
from sim.judge.limits import asked_margin
from sim.report.html import data_uri, template
from sim.study.axes import blocks
from sim.study.band import in_words
from sim.study.cells import replace
from sim.study.execute import Answers
from sim.study.program import program_version
from sim.study.row import NOTHING, place_of
from sim.study.tables import rows
from sim.study.variants import Base
from sim.study.verdicts import keys, limit_in_words, overall, tally
from sim.study.words import margin_words, number, quoted, spoken

TABLE_ROWS = 400
CAUTION = (
    "A result is evidence for an engineer, never a certificate. Wrong answers here can burn, set on fire or shock "
    "people, or freeze a line that must not freeze: judge inputs, assumptions and bands before you rely on it, and "
    "follow the standards that hold for your site, above all in hazardous areas."
)


def write_page(
    answers: Answers,
    charts: list[tuple[str, Path]],
    notes: list[str],
    path: Path,
    section: Path | None = None,
) -> None:
    """Write the page."""
    text = render(answers, charts, notes, section)
    replace(path, lambda beside: Path(beside).write_text(text, encoding="utf-8"))


def render(
    answers: Answers, charts: list[tuple[str, Path]], notes: list[str], section: Path | None = None
) -> str:
    """The page as text. section: the picture of the section that the study starts from."""
    table = list(rows(answers, TABLE_ROWS))
    frame, study = answers.frame, answers.study
    return template(Path(__file__).parent, "study.html.jinja").render(
        title=study.file.title,
        caution=CAUTION,
        answers=answers,
        limits=limits_table(answers) if not study.inputs and answers.search is None else None,
        pairs=pairs_table(answers),
        margins=_margins(study.case, study.base.conditions),
        section=data_uri(section) if section is not None and section.is_file() else "",
        resolved=to_toml(study.case),
        assumptions=assumptions(study.case),
        changes=[s.text for s in answers.statements if s.kind == "change"],
        within=[s.text for s in answers.statements if s.kind == "none"],
        why=[s.text for s in answers.statements if s.kind == "why"],
        notes=[s.text for s in answers.statements if s.kind == "note"] + notes,
        charts=[(caption, data_uri(file)) for caption, file in charts],
        head=table[0],
        body=table[1:],
        left=len(frame) * len(frame.conditions) - len(table) + 1,
        failures=[
            (
                int(frame.number[i]),
                ", ".join(f"{name} {t[i]}" for name, t in frame.texts.items()),
                frame.reasons[i],
            )
            for i in answers.failed
        ],
        setup=_setup(study.base, answers),
        varied=_varied(answers),
        limit_words=limit_in_words,
        spoken=spoken,
    )


def _margins(case: Case, conditions: Sequence[str]) -> list[str]:
    """What the margins are less, by condition where it differs; empty where no margin is asked for."""
    margins = {name: asked_margin(case_for(case, name).limits) for name in conditions}
    if len(set(margins.values())) == 1:
        return [text for text in dict.fromkeys(margins.values()) if text]
    return [f"{name}: {text}" for name, text in margins.items() if text]


def _setup(base: Base, answers: Answers) -> list[tuple[str, str]]:
    study, frame = answers.study, answers.frame
    lost = f", of which {len(answers.failed)} could not be computed" if answers.failed else ""
    shown = [
        ("Case", f"{study.case.title} ({Path(base.source).name})"),
        ("Conditions", ", ".join(base.conditions)),
        *([("Episodes", ", ".join(base.episodes))] if base.episodes else []),
        ("Variants", f"{len(frame)}{lost}"),
        ("Meshes", in_words(frame, answers.bands, base.fineness)),
        ("Computing", f"{frame.cpu.sum():.1f} s of processor time, {frame.cpu.mean():.2g} s a variant")
        if len(frame)
        else ("Computing", "nothing"),
        ("Program", program_version()),
    ]
    if answers.study.inputs:
        plan = study.file.sampling
        shown.insert(3, ("Sample", f"{plan.method}, {len(study.sample)} variants, seed {plan.seed}"))
    return shown


def _varied(answers: Answers) -> list[tuple[str, str, str]]:
    study = answers.study
    out: list[tuple[str, str, str]] = []
    for entry, given in zip(study.lines, study.file.axes, strict=True):
        words = [p.text for p in entry.points]
        some = ", ".join(words if len(words) <= 12 else [*words[:5], "...", *words[-2:]])
        paired = f" (with {given.pair})" if given.pair else ""
        mode = "" if given.mode == "value" else f", as {given.mode}"
        out.append((entry.name, (given.key or "choices") + mode + paired, some))
    for source in study.inputs:
        law = ", ".join(f"{k} {v:g}" for k, v in source.parameters.items())
        unit = f" {source.unit}" if source.unit else ""
        mode = "" if source.entry.mode == "value" else f", as {source.entry.mode}"
        out.append((source.name, source.entry.key + mode, f"{source.entry.distribution}: {law}{unit}"))
    for together in study.file.correlations:
        out.append((" and ".join(together.between), "correlation", f"rank correlation {together.rank:g}"))
    search = study.file.search
    if search is not None:
        span: Any = search.values or search.clocks or f"{search.low} to {search.high}, within {search.within}"
        out.append((search.name or search.key, search.key, f"search over {span}"))
    return out


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
    least = {c: frame.least_margin([c]) for c in frame.conditions} | {"": frame.least_margin()}
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


def _cell(verdict: str, margin: float) -> Cell:
    text = SHORT[verdict]
    if np.isfinite(margin) and verdict not in NOTHING:
        text += f", {'+' if margin > 0 else ''}{number(margin, 1)} K"
    return Cell(verdict, text)
