"""Finished rows as columns of numbers, by condition: what answers, charts and tables are made of."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.basics import Array as Array
from sim.solve.measures import EVERY_LIMIT

from .row import place_of
from .store import Stored

PARTS = ("values", "bands", "margins", "limits")
Levels = NDArray[np.float64]
Words = NDArray[np.object_]


@dataclass(frozen=True)
class Frame:
    """Columns over the variants, by their number; NaN where a variant has no such number.

    number (n,): of the variant; texts, inputs: by axis or input name; ok (n,): computed; reasons: of failures;
    values, bands, margins, limits: by condition, then path or limit and place, (n,). Temperatures in K, heat in W/m.
    levels: values on three meshes, coarse to fine, (n, 3); verdicts: as judged where a variant has bands of its own,
    "" elsewhere, (n,). bracketed, meshes: by condition, (n,): the moving contents were not resolved; how many meshes.
    """

    number: NDArray[np.int64]
    texts: dict[str, list[str]]
    inputs: dict[str, Array]
    ok: NDArray[np.bool_]
    reasons: list[str]
    keys: list[str]
    values: dict[str, dict[str, Array]]
    bands: dict[str, dict[str, Array]]
    margins: dict[str, dict[str, Array]]
    limits: dict[str, dict[str, Array]]
    seconds: Array
    cpu: Array
    levels: dict[str, dict[str, Levels]] = field(default_factory=dict)
    verdicts: dict[str, dict[str, Words]] = field(default_factory=dict)
    bracketed: dict[str, NDArray[np.bool_]] = field(default_factory=dict)
    meshes: dict[str, NDArray[np.int64]] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.number)

    @property
    def conditions(self) -> list[str]:
        return list(self.values)

    def paths(self) -> list[str]:
        """Every result that any variant has, in order of appearance."""
        return list(dict.fromkeys(p for by_path in self.values.values() for p in by_path))

    def least_margin(self, conditions: Iterable[str] | None = None) -> Array:
        """The least margin of each variant over limits on temperatures, in all or some conditions, K (n,); or NaN."""
        there = self.margins if conditions is None else conditions
        every = [col for c in there for key, col in self.margins[c].items() if in_kelvin(key)]
        if not every:
            return np.full(len(self), np.nan)
        stacked = np.array(every)
        none = np.isnan(stacked).all(axis=0)
        return np.where(none, np.nan, np.nanmin(np.where(none, 0.0, stacked), axis=0))


def in_kelvin(key: str) -> bool:
    """Whether the limit at a place is on a temperature, and its margin in K."""
    return EVERY_LIMIT[place_of(key)[0]].measure.absolute


def without_places(table: Frame, supports: list[str]) -> Frame:
    """A frame without the limits at some supports."""

    def placed(by_key: dict[str, Any]) -> dict[str, Any]:
        return {key: column for key, column in by_key.items() if place_of(key)[1] not in supports}

    margins = {c: placed(by_key) for c, by_key in table.margins.items()}
    return replace(table, margins=margins)


def frame(stored: Iterable[Stored], conditions: Iterable[str]) -> Frame:
    """Gather finished rows in columns."""
    rows, conditions = list(stored), list(conditions)
    n = len(rows)
    columns: dict[str, dict[str, dict[str, Array]]] = {p: {c: {} for c in conditions} for p in PARTS}
    inputs: dict[str, Array] = {}
    texts: dict[str, list[str]] = {}
    levels: dict[str, dict[str, Levels]] = {c: {} for c in conditions}
    verdicts: dict[str, dict[str, Words]] = {c: {} for c in conditions}
    bracketed = {c: np.zeros(n, dtype=bool) for c in conditions}
    meshes = {c: np.zeros(n, dtype=np.int64) for c in conditions}
    for i, entry in enumerate(rows):
        for name, value in entry.numbers.items():
            inputs.setdefault(name, np.full(n, np.nan))[i] = np.nan if value is None else value
        for name, text in entry.texts.items():
            texts.setdefault(name, [""] * n)[i] = text
        for condition, parts in entry.row.results.items():
            for part in PARTS:
                into = columns[part].setdefault(condition, {})
                for path, value in parts.get(part, {}).items():
                    if path not in into:
                        into[path] = np.full(n, np.nan)
                    if value is not None:
                        into[path][i] = float(value)
            for path, three in parts.get("levels", {}).items():
                column = levels[condition].setdefault(path, np.full((n, 3), np.nan))
                column[i] = [np.nan if v is None else float(v) for v in three]
            for key, verdict in parts.get("verdicts", {}).items():
                verdicts[condition].setdefault(key, np.full(n, "", dtype=object))[i] = verdict
            mesh = parts.get("mesh", {})
            bracketed[condition][i] = bool(mesh.get("bracketed"))
            meshes[condition][i] = int(mesh.get("meshes", 0))
    return Frame(
        np.array([entry.number for entry in rows], dtype=np.int64),
        texts,
        inputs,
        np.array([entry.row.status == "done" for entry in rows], dtype=bool),
        [entry.row.reason for entry in rows],
        [entry.row.key for entry in rows],
        columns["values"],
        columns["bands"],
        columns["margins"],
        columns["limits"],
        np.array([entry.row.seconds for entry in rows]),
        np.array([entry.row.cpu for entry in rows]),
        levels,
        verdicts,
        bracketed,
        meshes,
    )
