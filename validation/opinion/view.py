"""An opinion on the terminal, and as a page with pictures and its numbers as JSON."""

import sys
from pathlib import Path
from typing import IO, Any

from rich.table import Table
from rich.text import Text

from sim.report.html import STYLE, data_uri, template
from sim.report.method import CAUTIONS
from sim.report.results import as_json, finite
from sim.report.terminal import console_for, plain_table, put
from sim.report.words import file_names
from sim.version import __version__
from validation.opinion.compare import Compared, ConditionOpinion, Opinion
from validation.opinion.words import HOW, WHOSE, conclusion, line, remarks, state

COLOURS = {"agree": "green", "near": "yellow", "differ": "bold red", "FiPy differs": "bold red"}
BANNER = {0: "pass", 1: "fail", 3: "too-close-to-call"}
CLASSES = {"agree": "pass", "near": "too-close-to-call", "differ": "fail", "FiPy differs": "fail"}
STATES = {"agree": "pass", "differ": "fail", "incomplete": "too-close-to-call"}
MANIFEST = "opinion.json"


def show_opinion(opinion: Opinion, stream: IO[str] | None = None) -> None:
    """Print an opinion. Raises BrokenPipeError if the reader has gone."""
    console = console_for(stream or sys.stdout)
    with console.capture() as capture:
        title = "".join(c if c.isprintable() else " " for c in opinion.case.title)
        console.print(Text(title, style="bold"), soft_wrap=True)
        for condition in opinion.conditions:
            console.print()
            console.print(Text(f"{condition.name}: {state(condition)}", style="bold"))
            if condition.failure:
                console.print(Text(f"no answer of ours: {condition.failure}", style="red"))
            if condition.rows:
                console.print(_table(condition))
            for remark in remarks(condition):
                console.print(Text(remark))
        console.print()
        for sentence in (*HOW, *CAUTIONS):
            console.print(sentence)
        console.print(Text(conclusion(opinion), style="bold"))
    put(capture.get(), console.file)


def _table(condition: ConditionOpinion) -> Table:
    table = plain_table()
    table.add_column("quantity", overflow="fold")
    table.add_column("", no_wrap=True)
    for head in ("ours", "ours less\nFiPy", "finite\nelements", "ours less\nelements", "% of\nspan"):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("")
    for row in condition.rows:
        shown = line(row)
        table.add_row(
            Text(shown.quantity),
            shown.unit,
            shown.ours,
            shown.fipy,
            shown.elements,
            shown.apart,
            shown.percent,
            Text(shown.verdict, style=COLOURS.get(shown.verdict, "default")),
        )
    return table


def write_opinion(opinion: Opinion, folder: Path) -> None:
    """Write opinion.html, a picture for each condition and opinion.json into a folder. Raises OSError."""
    from validation.opinion.picture import draw_opinion

    names = file_names([c.name for c in opinion.conditions])
    pictures = {}
    for condition in opinion.conditions:
        if condition.around:
            pictures[condition.name] = f"around_{names[condition.name]}.png"
            draw_opinion(condition, folder / pictures[condition.name])
    page = _page(opinion, folder, pictures)
    (folder / "opinion.html").write_text(page, encoding="utf-8", newline="\n")
    tree = as_tree(opinion) | {"files": [MANIFEST, "opinion.html", *pictures.values()]}
    (folder / MANIFEST).write_text(as_json(tree), encoding="utf-8", newline="\n")


def _page(opinion: Opinion, folder: Path, pictures: dict[str, str]) -> str:
    conditions = [
        {
            "name": c.name,
            "state": state(c),
            "look": STATES[state(c)],
            "failure": c.failure,
            "lines": [line(row) for row in c.rows],
            "remarks": remarks(c),
            "picture": data_uri(folder / pictures[c.name]) if c.name in pictures else "",
        }
        for c in opinion.conditions
    ]
    return template(Path(__file__).parent, "opinion.html.jinja").render(
        title=opinion.case.title,
        css=STYLE.read_text(encoding="utf-8"),
        banner=BANNER[opinion.exit_code],
        conclusion=conclusion(opinion),
        conditions=conditions,
        classes=CLASSES,
        how=HOW,
        whose=WHOSE,
        cautions=CAUTIONS,
        version=__version__,
    )


def as_tree(opinion: Opinion) -> dict[str, Any]:
    """The opinion as plain nested dicts, temperatures in degC."""
    return {
        "program": "coldspot",
        "version": __version__,
        "title": opinion.case.title,
        "conclusion": conclusion(opinion),
        "exit_code": opinion.exit_code,
        "conditions": [
            {
                "name": c.name,
                "state": state(c),
                "failure": c.failure or None,
                "missing": dict(c.missing),
                "farthest_node_K": finite(c.farthest_node),
                "seconds": {name: round(spent, 3) for name, spent in c.seconds.items()},
                "quantities": [_row(row) for row in c.rows],
                "remarks": remarks(c),
            }
            for c in opinion.conditions
        ],
        "judged": list(HOW),
        "whose": list(WHOSE),
        "caution": "Evidence for an engineer, not a certificate.",
    }


def _row(row: Compared) -> dict[str, Any]:

    def value(at: float | None) -> float | None:
        return None if at is None else finite(row.measure.shown(at))

    return {
        "quantity": row.quantity,
        "at_s": row.at,
        "unit": row.measure.unit,
        "ours": value(row.ours),
        "band": finite(row.band),
        "fipy": value(row.fipy),
        "fipy_verdict": row.fipy_verdict,
        "finite_elements": value(row.elements),
        "finite_elements_band": finite(row.elements_band),
        "finite_elements_verdict": row.elements_verdict,
        "span": finite(row.span),
    }
