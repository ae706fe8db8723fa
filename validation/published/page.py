"""The page of a run of the checks, as Markdown."""

from collections.abc import Mapping, Sequence
from itertools import groupby
from pathlib import Path

from sim.report.method import CAUTIONS
from sim.report.words import NONE
from validation.pages import plain, rendered
from validation.published import words
from validation.published.run import Group, Outcome
from validation.published.sources import bibliography, keys


def page(outcome: Outcome, about: Mapping[str, str], pictures: Sequence[tuple[str, str]]) -> str:
    """The page. about: what it was made with; pictures: (path from the page, caption)."""
    subjects = groupby(outcome.groups, key=lambda group: group.subject)
    return rendered(
        Path(__file__).with_name("page.md.jinja"),
        outcome=outcome,
        about=about,
        pictures=pictures,
        cautions=CAUTIONS,
        words=words,
        subjects=[(subject, list(groups)) for subject, groups in subjects],
        sources=_sources(outcome),
        used=_used,
        strong=lambda verdict: verdict if verdict == "pass" else f"**{verdict}**",
    )


def _used(group: Group) -> str:
    """How much of its tolerance a check uses, at most."""
    most = max((row.used for row in group.rows), default=None)
    return NONE if most is None else f"{100 * most:.0f} %" if most < 100 else "above"


def _sources(outcome: Outcome) -> list[tuple[str, list[str]]]:
    """Every source that a row cites, with the checks that do; then what cites none."""
    cited: dict[str, list[str]] = {}
    others: dict[str, list[str]] = {}
    for group in outcome.groups:
        for row in group.rows:
            for home in [cited.setdefault(k, []) for k in keys(row.source)] or [
                others.setdefault(row.source, [])
            ]:
                if group.name not in home:
                    home.append(group.name)
    known = bibliography()
    listed = [(known[k].text if k in known else k, names) for k, names in cited.items()]
    return sorted(listed, key=lambda one: plain(one[0]).casefold()) + list(others.items())
