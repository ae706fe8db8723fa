"""The rows as files that other programs read: CSV and Parquet, one line for each variant and condition."""

from __future__ import annotations

import csv
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from .cells import cell
from .conduct import Answers
from .words import band_unit, displayed, is_temperature, unit

Column = tuple[str, list[Any]]


def columns(answers: Answers) -> list[Column]:
    """Named columns, one entry for each variant and condition; None where there is no number."""
    table = answers.frame
    n, conditions = len(table), table.conditions
    paths = answers.paths
    out: list[Column] = [
        ("variant", _each(table.number.tolist(), conditions)),
        ("condition", [c for _ in range(n) for c in conditions]),
        ("status", _each(["done" if ok else "failed" for ok in table.ok], conditions)),
        ("reason", _each(table.reasons, conditions)),
    ]
    units = {e.name: e.unit for e in answers.study.lines} | {e.name: e.unit for e in answers.study.inputs}
    for name, texts in table.texts.items():
        numbers = table.inputs.get(name)
        numeric = numbers is not None and bool(np.isfinite(numbers).all())
        label = f"{name} [{units[name]}]" if units.get(name) else name
        out.append((label, _each(numbers.tolist() if numeric and numbers is not None else texts, conditions)))
    for path in paths:
        by = [table.values[c].get(path) for c in conditions]
        label = f"{path} [{unit(path)}]" if unit(path) else path
        shift = displayed(path, 0.0) if is_temperature(path) else 0.0
        out.append((label, _interleaved([None if col is None else col + shift for col in by], n)))
        bands = [answers.bands.column(c, path, n) for c in conditions]
        out.append((f"{path} band [{band_unit(path)}]", _interleaved(list(bands), n)))
    for limit in dict.fromkeys(name for by_limit in table.margins.values() for name in by_limit):
        out.append(
            (f"margin {limit} [K]", _interleaved([table.margins[c].get(limit) for c in conditions], n))
        )
    return out


def write_csv(answers: Answers, path: Path) -> None:
    """Comma-separated values in UTF-8, numbers in full."""
    named = columns(answers)

    def write(beside: Path) -> None:
        with open(beside, "w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow([cell(name) for name, _ in named])
            writer.writerows(zip(*([cell(v) for v in values] for _, values in named), strict=True))

    replace(path, write)


def write_parquet(answers: Answers, path: Path) -> bool:
    """Apache Parquet; returns False where pyarrow is not installed."""
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        return False
    named = columns(answers)
    table = pyarrow.table(dict(named))
    replace(path, lambda beside: pyarrow.parquet.write_table(table, beside))
    return True


def replace(path: Path, write: Any) -> None:
    """Write beside, then rename: a file is whole or not there."""
    beside = path.with_name(f".{path.name}.part")
    try:
        write(beside)
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)


def _each(values: list[Any], conditions: list[str]) -> list[Any]:
    return [value for value in values for _ in conditions]


def _interleaved(by_condition: list[Any], n: int) -> list[Any]:
    def one(column: Any, i: int) -> float | None:
        return None if column is None or not np.isfinite(column[i]) else float(column[i])

    return [one(column, i) for i in range(n) for column in by_condition]


def rows(answers: Answers, most: int) -> Iterator[list[str]]:
    """Lines of the table shown to a person, without the empty columns, `most` at the most."""
    named = [(n, v) for n, v in columns(answers) if " band [" not in n and n not in ("status", "reason")]
    yield [name for name, _ in named]
    for line in list(zip(*(v for _, v in named), strict=True))[:most]:
        yield [f"{v:.4g}" if isinstance(v, float) else "" if v is None else str(v) for v in line]
