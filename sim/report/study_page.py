"""The page of a study: statements, charts, failures and the table, in one HTML file that needs nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sim.case import Case, assumptions, case_for, to_toml
from sim.judge.limits import asked_margin
from sim.report.html import data_uri, template
from sim.report.study_limits import limits_table, pairs_table
from sim.study.band import in_words
from sim.study.execute import Answers
from sim.study.program import program_version
from sim.study.tables import replace, rows
from sim.study.variants import Base
from sim.study.verdicts import limit_in_words
from sim.study.words import spoken

MOST_ROWS = 400
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
    table = list(rows(answers, MOST_ROWS))
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
        failures=[(int(frame.number[i]), _where(answers, i), frame.reasons[i]) for i in answers.failed],
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


def _where(answers: Answers, i: int) -> str:
    return ", ".join(f"{name} {texts[i]}" for name, texts in answers.frame.texts.items())


def _setup(base: Base, answers: Answers) -> list[tuple[str, str]]:
    study, frame = answers.study, answers.frame
    lost = f", of which {len(answers.failed)} could not be computed" if answers.failed else ""
    shown = [
        ("Case", f"{study.case.title} ({Path(base.source).name})"),
        ("Conditions", ", ".join(base.conditions)),
        *([("Episodes", ", ".join(base.episodes))] if base.episodes else []),
        ("Variants", f"{len(frame)}{lost}"),
        ("Meshes", in_words(frame, answers.bands, base.fineness)),
        (
            "Computing",
            f"{frame.cpu.sum():.1f} s of processor time, {frame.cpu.mean():.2g} s a variant",
        )
        if len(frame)
        else ("Computing", "nothing"),
        ("Program", program_version()),
    ]
    if answers.study.inputs:
        plan = study.file.sampling
        shown.insert(3, ("Sample", f"{plan.method}, {len(study.sample)} variants, seed {plan.seed}"))
    return shown


def _varied(answers: Answers) -> list[tuple[str, str, str]]:
    """(what, key, values) of everything that is varied."""
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
