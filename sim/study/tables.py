"""The rows as files that other programs read: CSV and Parquet, one line for each variant and condition."""

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from sim.solve.measures import EVERY_LIMIT
from sim.solve.paths import of_support

from .cells import cell, replace
from .execute import Answers
from .row import ELBOW, PLACES, key_of, place_of
from .verdicts import keys, overall, verdicts
from .words import band_unit, displayed, unit

Column = tuple[str, list[Any]]
ALLOWANCE = ".allowance"
PLACE_PATHS = (  # of the table of places
    *("allowance", "chi", "heat_sink", "equivalent_tracer_length", "dip", "with_allowance.dip"),
    *("wall_min", "with_allowance.wall_min", "allowance_enough"),
)


def columns(answers: Answers) -> list[Column]:
    """Named columns, one entry for each variant and condition; None where there is no number."""
    table, paths = answers.frame, answers.paths
    lines = [(i, c) for i in range(len(table)) for c in table.conditions]

    def numbers(by_condition: dict[str, dict[str, Any]], key: str) -> list[float | None]:
        placed = [(by_condition[c].get(key), i) for i, c in lines]
        return [None if col is None or not np.isfinite(col[i]) else float(col[i]) for col, i in placed]

    out: list[Column] = [
        ("variant", [int(table.number[i]) for i, _ in lines]),
        ("condition", [c for _, c in lines]),
        ("status", ["done" if table.ok[i] else "failed" for i, _ in lines]),
        ("reason", [table.reasons[i] for i, _ in lines]),
    ]
    units = {e.name: e.unit for e in answers.study.lines} | {e.name: e.unit for e in answers.study.inputs}
    for name, texts in table.texts.items():
        given = table.inputs.get(name)
        entries = texts if given is None or not np.isfinite(given).all() else given.tolist()
        label = f"{name} [{units[name]}]" if units.get(name) else name
        out.append((label, [entries[i] for i, _ in lines]))
    for path in paths:
        label = f"{path} [{unit(path)}]" if unit(path) else path
        values = [None if v is None else displayed(path, v) for v in numbers(table.values, path)]
        bands = [answers.bands.of(c, path, i) for i, c in lines]
        out.append((label, values))
        out.append((f"{path} band [{band_unit(path)}]", [b if np.isfinite(b) else None for b in bands]))
    judged = {
        c: {key: verdicts(table, answers.bands, c, key) for key in keys(table)} for c in table.conditions
    }
    for key in keys(table):
        difference = EVERY_LIMIT[place_of(key)[0]].measure.difference
        out.append((f"margin {key} [{difference}]", numbers(table.margins, key)))
        out.append((f"verdict {key}", [judged[c][key][i] for i, c in lines]))
    whole = {c: overall(table, answers.bands, [c]) for c in table.conditions}
    out.append(("verdict", [whole[c][i] for i, c in lines]))
    out.append(("meshes", [int(table.meshes[c][i]) for i, c in lines]))
    out.append(("bracketed", [bool(table.bracketed[c][i]) for i, c in lines]))
    return out


def place_columns(answers: Answers) -> list[Column]:
    """Named columns, one entry for each variant, condition and place beside the section: elbow, supports, fittings.

    An allowance out of reach is infinite; a limit that was held nowhere there is "not evaluated".
    """
    table, places = answers.frame, places_of(answers)
    conditions = list(answers.study.base.conditions)  # in episodes none of these places is judged apart
    lines = [(i, c, name) for i in range(len(table)) for c in conditions for name in places]
    out: list[Column] = [
        ("variant", [int(table.number[i]) for i, _, _ in lines]),
        ("condition", [c for _, c, _ in lines]),
        ("kind", [places[name] for _, _, name in lines]),
        ("place", [name for _, _, name in lines]),
        ("status", ["done" if table.ok[i] else "failed" for i, _, _ in lines]),
    ]
    out += [(name, [texts[i] for i, _, _ in lines]) for name, texts in table.texts.items()]
    for path in PLACE_PATHS:
        row = of_support(path)
        values, bands = [], []
        for i, c, name in lines:
            full = f"{places[name]}s.{name}.{path}"
            if places[name] == ELBOW:
                full = f"{ELBOW}.wall.min" if path == "wall_min" else ""
            column = table.values[c].get(full)
            known = column is not None and not np.isnan(column[i])
            values.append(row.measure.shown(float(column[i])) if column is not None and known else None)
            bands.append(answers.bands.of(c, full, i) if known else None)
        out.append((f"{path} [{row.measure.unit}]", values))
        if path != "allowance":
            out.append((f"{path} band [{row.measure.difference}]", bands))
    limits = dict.fromkeys(place_of(key)[0] for key in keys(table) if place_of(key)[1] in places)
    for limit in limits:
        verdicts_of = {
            (c, name): verdicts(table, answers.bands, c, key_of(limit, name))
            for c in conditions
            for name in places
        }
        margins = [table.margins[c].get(key_of(limit, name)) for _, c, name in lines]
        cells = [
            None if m is None or not np.isfinite(m[i]) else float(m[i])
            for m, (i, _, _) in zip(margins, lines, strict=True)
        ]
        out.append((f"margin {limit} [K]", cells))
        out.append((f"verdict {limit}", [verdicts_of[c, name][i] for i, c, name in lines]))
    return out


def places_of(answers: Answers) -> dict[str, str]:
    """Kind ("elbow", "support", "fitting") of the elbow, and of every support and fitting of the case or a variant."""
    case, columns = answers.study.case, answers.frame.values
    places = {} if case.elbow is None else {ELBOW: ELBOW}
    places |= {s.name: "support" for s in case.supports} | {f.name: "fitting" for f in case.fittings}
    for path in dict.fromkeys(path for by_path in columns.values() for path in by_path):
        kind, _, rest = path.partition(".")
        if kind == ELBOW:
            places[ELBOW] = ELBOW
        elif path.startswith(PLACES) and path.endswith(ALLOWANCE):
            places[rest.removesuffix(ALLOWANCE)] = kind.removesuffix("s")
    return places


def write_csv(named: list[Column], path: Path) -> None:
    """Comma-separated values in UTF-8, numbers in full."""

    def write(beside: Path) -> None:
        with open(beside, "w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow([cell(name) for name, _ in named])
            writer.writerows(zip(*([cell(v) for v in values] for _, values in named), strict=True))

    replace(path, write)


def write_parquet(named: list[Column], path: Path) -> bool:
    """Apache Parquet; returns False where pyarrow is not installed."""
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        return False
    table = pyarrow.table(dict(named))
    replace(path, lambda beside: pyarrow.parquet.write_table(table, beside))
    return True


def rows(answers: Answers, most: int) -> Iterator[list[str]]:
    """Lines of the table shown to a person, without the empty columns, `most` at the most."""
    named = [(n, v) for n, v in columns(answers) if " band [" not in n and n not in ("status", "reason")]
    yield [name for name, _ in named]
    for line in list(zip(*(v for _, v in named), strict=True))[:most]:
        yield [f"{v:.4g}" if isinstance(v, float) else "" if v is None else str(v) for v in line]
