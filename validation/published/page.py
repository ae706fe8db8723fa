"""The page of a run of the checks, as Markdown."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import groupby

from sim.report.method import CAUTIONS
from validation.published import words
from validation.published.run import Group, Outcome
from validation.published.sources import bibliography, keys

HEAD = ("quantity", "published", "computed", "difference", "band", "tolerance", "why that much", "")
RULE = "|---|---:|---:|---:|---:|---:|---|---|"


def page(outcome: Outcome, about: Mapping[str, str], pictures: Sequence[tuple[str, str]]) -> str:
    """The page. about: what it was made with; pictures: (path from the page, caption)."""
    lines = ["# What coldspot was checked against", ""]
    lines += [f"Made by `{about['command']}` from a real run; not written by hand.", ""]
    lines += [f"**{_plain(words.summary(outcome))}** {words.scope(outcome)}", ""]
    lines += [_table(("made with", ""), [(k, _plain(v)) for k, v in about.items() if k != "command"]), ""]
    lines += [f"- {_plain(text)}" for text in CAUTIONS]
    lines += [
        "- A check of a model is no certificate of a line. That these numbers are met says that the program solves "
        "what its model says; it does not say that the model or the inputs fit a plant.",
        "",
        f"{words.READ} A source marked `from memory` was recalled and not seen; a rule of thumb is marked "
        "`common practice, no source`.",
        "",
    ]
    lines += _troubles(outcome)
    for path, caption in pictures:
        lines += [f"![{_plain(caption)}]({path})", "", f"*{_plain(caption)}*", ""]
    lines += ["## The checks", "", _contents(outcome.groups), ""]
    for subject, groups in groupby(outcome.groups, key=lambda group: group.subject):
        lines += [f"## {_plain(subject)}", ""]
        for group in groups:
            lines += _section(group)
    lines += ["## Sources", "", *_sources(outcome)]
    return "\n".join(lines).rstrip() + "\n"


def _troubles(outcome: Outcome) -> list[str]:
    """What failed or could not be run, before everything else."""
    lines = []
    if failed := outcome.of("FAIL"):
        lines += ["## Failed", ""]
        for group in failed:
            text = _plain(words.trouble(group)) or _plain(
                "; ".join(
                    f"{words.label(group, row)}: {words.value(row.computed)} for {words.value(row.published)}, "
                    f"allowed {words.tolerance(row)}{words.unit(row)}"
                    for row in group.failed
                )
            )
            lines += [f"- **{_plain(group.title)}**: {text}"]
        lines += [""]
    if missing := outcome.of("not run"):
        lines += ["## Could not be run", ""]
        lines += [
            f"- {_plain(group.title)} ({_plain(group.name)}): {_plain(group.missing)}" for group in missing
        ]
        lines += [""]
    return lines


def _contents(groups: Sequence[Group]) -> str:
    rows = []
    for group in groups:
        most = max((row.used for row in group.rows), default=None)
        used = words.NONE if most is None else f"{100 * most:.0f} %" if most < 100 else "above"
        rows.append(
            (
                _plain(group.title),
                f"{len(group.rows)}",
                used,
                words.seconds(group.seconds).replace(" ", "&nbsp;"),
                _verdict(group.verdict),
            )
        )
    head = ("check", "numbers", "of its tolerance, at most", "time", "")
    return _table(head, rows, "|---|---:|---:|---:|---|")


def _section(group: Group) -> list[str]:
    lines = [f"### {_plain(group.title)}", ""]
    lines += [f"Source: {_plain(source)}" + "  " for source in words.sources(group)]
    lines += [f"Check `{group.name}`, {words.seconds(group.seconds)}: {_verdict(group.verdict)}", ""]
    if trouble := words.trouble(group):
        return [*lines, _plain(trouble), ""]
    rows = [
        (
            _plain(f"{words.label(group, row)}{words.unit(row)}"),
            words.value(row.published),
            words.value(row.computed),
            words.difference(row),
            words.band(row),
            words.tolerance(row),
            _plain(row.reason),
            _verdict("pass" if row.passed else "FAIL"),
        )
        for row in group.rows
    ]
    return [*lines, _table(HEAD, rows, RULE), ""]


def _sources(outcome: Outcome) -> list[str]:
    """Every source that a row cites, with the checks that do; then what cites none."""
    by_key: dict[str, list[str]] = {}
    others: dict[str, list[str]] = {}
    for group in outcome.groups:
        for row in group.rows:
            cited = keys(row.source)
            for home in [by_key.setdefault(k, []) for k in cited] or [others.setdefault(row.source, [])]:
                if group.name not in home:
                    home.append(group.name)
    known = bibliography()
    lines = [f"- {_plain(known[k].text if k in known else k)} ({_names(by_key[k])})" for k in by_key]
    lines.sort(key=str.casefold)
    return lines + [f"- {_plain(source)} ({_names(names)})" for source, names in others.items()]


def _names(names: Sequence[str]) -> str:
    return ", ".join(f"`{name}`" for name in names)


def _verdict(verdict: str) -> str:
    return verdict if verdict == "pass" else f"**{verdict}**"


def _table(head: Sequence[str], rows: Sequence[Sequence[str]], rule: str = "") -> str:
    lines = ["| " + " | ".join(head) + " |", rule or "|---" * len(head) + "|"]
    return "\n".join(lines + ["| " + " | ".join(row) + " |" for row in rows])


def _plain(text: str) -> str:
    """Text that Markdown and HTML show as it stands, on one line."""
    safe = " ".join(text.split()).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return re.sub(r"([\\`*_\[\]|~])", r"\\\1", safe)
