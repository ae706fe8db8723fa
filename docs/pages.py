"""Pages of the site that are made from the program: every key, every result, the pages of the validation.

A hook of mkdocs: it adds them to the files of docs/ when the site is built, and refuses a site that points outside.
"""

from __future__ import annotations

import re
from html import escape
from pathlib import Path
from typing import Any

from mkdocs.exceptions import PluginError
from mkdocs.structure.files import File, Files

from sim.case.keys import key_table
from sim.solve.measures import EVERY_LIMIT, LIMITS
from sim.solve.paths import FAMILIES, Quantity

ROOT = Path(__file__).parents[1]
OUTSIDE = re.compile(r"""<[^>]*\s(?:src|href|action)=["']?((?:https?:)?//[^"'\s>]+)""")


def cell(text: str) -> str:
    """Text for a cell of a Markdown table, taken as it stands."""
    return re.sub(r"([\\`*_{}\[\]|#~])", r"\\\1", escape(text, quote=False))


def table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    """A Markdown table."""
    lines = [head, tuple("---" for _ in head), *rows]
    return "\n".join(f"| {' | '.join(row)} |" for row in lines)


def keys_page() -> str:
    """Every key of a case file."""
    groups: dict[str, list[tuple[str, ...]]] = {}
    listed = key_table()
    tables = {key.split(".")[0].removesuffix("[]") for key, *_ in listed if "." in key}
    for key, unit, default, meaning in listed:
        head = key.split(".")[0].removesuffix("[]")
        head = head if head in tables else "The line"
        groups.setdefault(head, []).append((f"`{key}`", cell(unit), cell(default), cell(meaning)))
    head = ("key", "unit", "default", "meaning")
    text = (
        "# Every key of a case file\n\nAs `coldspot keys` prints them. A quantity is text with a unit of its kind "
        '("50 mm", "2 in"); the unit named here is the one used inside. `[]` is a list of tables: `[[tracer]]` in the '
        "file. Any key may be given anew in a condition.\n"
    )
    return text + "".join(f"\n## {name}\n\n{table(head, rows)}\n" for name, rows in groups.items())


def results_page() -> str:
    """Every quantity of an answer."""

    def row(one: Quantity) -> tuple[str, ...]:
        unit = one.measure.unit or "1"
        return (
            f"`{one.pattern}`",
            unit,
            one.measure.difference or "1",
            cell(one.words),
            one.band,
            one.limit,
        )

    text = [
        "# Results",
        "Every number of an answer has a path. `results.json` holds it there, with its band under `band`, its unit "
        "under `units`; a study keeps, draws and limits it by the same path, the library finds it as "
        '`answer["condition"]["wall.min"]`. `<name>` stands for the name of a tracer, sensor or support.',
        "Inside the program temperatures are in kelvin; files and pages show degC, and a difference, band or margin in "
        "K. A band is the grid convergence *index* of three meshes, or their *spread*, the largest difference.",
    ]
    head = ("path", "unit", "band in", "what it is", "band", "limit")
    places: dict[tuple[Quantity, ...], list[str]] = {}
    for before, _, rows in FAMILIES:
        places.setdefault(rows, []).append(before)
    for rows, befores in places.items():
        named = " or ".join(f"`{before}`" for before in befores if before)
        text += [
            f"## {_place(befores)}",
            *([f"Behind {named}:"] if named else []),
            table(head, [row(one) for one in rows]),
        ]
    text += [
        "## Limits",
        "A pass clears its limit by the band. Margins are positive on the safe side.",
        table(
            ("key", "holds", "unit"),
            [
                (
                    f"`{'limits' if name in LIMITS else 'episode[].limits'}.{name}`",
                    one.words(),
                    one.measure.unit or "1",
                )
                for name, one in EVERY_LIMIT.items()
            ],
        ),
    ]
    return "\n\n".join(text) + "\n"


def _place(befores: list[str]) -> str:
    """The heading of a family of places."""
    if "elbow." in befores:
        return "In a bend"
    return "Around a support" if any(befores) else "In a section, and over time"


def on_files(files: Files, config: Any) -> Files:
    """Add the pages that are made, and those of the validation with their pictures."""
    files.append(File.generated(config, "keys.md", content=keys_page()))
    files.append(File.generated(config, "results.md", content=results_page()))
    files.append(File.generated(config, "studies.md", abs_src_path=str(ROOT / "cases/studies/README.md")))
    made = ROOT / "validation"
    for path in sorted([*made.rglob("*.md"), *made.rglob("*.png")]):
        source = f"validation/{path.relative_to(made).as_posix()}"
        files.append(File.generated(config, source, abs_src_path=str(path)))
    pages = sorted(f.src_uri for f in files.documentation_pages() if f.src_uri.startswith("validation/"))
    for entry in config["nav"]:
        if isinstance(entry, dict):
            entry.update({title: pages for title, inside in entry.items() if inside == "validation"})
    return files


def on_post_build(config: Any) -> None:
    """Refuse a site that takes anything from outside. Raises PluginError."""
    for page in sorted(Path(config["site_dir"]).rglob("*.html")):
        if match := OUTSIDE.search(page.read_text(encoding="utf-8")):
            raise PluginError(f"{page.name} points outside the site: {match[1]}")
