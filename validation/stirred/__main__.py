"""What the estimate of moving contents is worth on forty invented lines: python -m validation.stirred FOLDER [LINE ..].

A file a line is written into FOLDER as it ends: the estimate, its bracket, and where the line is named (or "all") the
answer that it stands for, which is the steady flow where one lasts and the followed average where none does; that takes
10 to 60 s of processor time. What is there already is not run again. Then table.md is written beside them: whose bands
are narrow, whose stated error took the answer in, and by what factor the film of each answer lies from one whose
constants are fitted to all the other lines.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from time import process_time
from typing import Any

import numpy as np
from scipy.optimize import brentq, least_squares

from sim.basics import ZERO_CELSIUS
from sim.case import Case
from sim.heat.network import network
from sim.section.shapes import Array
from sim.solve.at_rest import FINENESS, MeshStore, levels_of
from sim.solve.average import average
from sim.solve.bounds import touching, with_contents
from sim.solve.bracket import bracket
from sim.solve.buoyant import solve_buoyant
from sim.solve.estimate import ALONG, THROUGH, Estimate, beneath, estimate, part_of_film
from sim.solve.steady import solve
from sim.solve.track import NotFollowed
from validation.sketches.sketch import case_of
from validation.stirred.lines import lines

NARROW, FIFTH = 0.25, 0.2  # K, and part of the bracket: a band that is narrow
COLDEST, HOTTEST = "contents.min", "wall.max"
STEADY_BELOW = 3e6  # Rayleigh number below which a steady flow is looked for before one is followed
FINENESS_FOLLOWED = 2.0  # of averages; at the usual 3 that of DN 150 5 moves by 0.02 K
FILMS = (0.05, 20.0)  # parts of the estimate's film between which that of an answer is sought


def first(case: Case, store: MeshStore) -> tuple[Estimate, dict[str, Any]]:
    """The estimate and the bracket of a line, without looking for a flow."""
    begin = process_time()
    known = estimate(case, store, FINENESS)
    seconds = process_time() - begin
    wide = bracket(case, store, FINENESS, "", known=known)
    values = known.result.quantities | dict(known.hottest)
    numbers = {path: value.value for path, value in values.items()}
    row: dict[str, Any] = {
        "rayleigh": known.rayleigh,
        "prandtl": known.prandtl,
        "part": known.part,
        "beneath": beneath(case, known.film / known.part, numbers),
        "outside": known.outside,
        "seconds": seconds,
    }
    for name, path in (("coldest", COLDEST), ("hottest", HOTTEST)):
        value = values[path]
        row[name] = {
            "estimate": value.value,
            "mesh": value.band,
            "model": known.model[path],
            "plane": known.plane[path],
            "bracket": wide.quantities[path].band,
        }
    return known, row


def answer(case: Case, store: MeshStore, known: Estimate) -> dict[str, Any]:
    """The steady flow where one lasts, else the average, and the film that it stands for at the coldest place."""
    begin = process_time()
    found = None
    if known.rayleigh < STEADY_BELOW:
        found = solve_buoyant(case, store, FINENESS)
    if found is None or found.basis != "steady flow":
        try:
            found = average(case, store, FINENESS_FOLLOWED, "", known)
        except NotFollowed as why:
            return {"basis": str(why)}
    row: dict[str, Any] = {"basis": found.basis, "seconds": process_time() - begin}
    for name, path in (("coldest", COLDEST), ("hottest", HOTTEST)):
        value = found.quantities[path]
        row[name] = {"value": value.value, "band": value.band, "parts": dict(found.parts.get(path, {}))}
    mesh = store.get(case, levels_of(FINENESS)[0])

    def behind(film: float) -> float:
        lumped = with_contents(case, state="mixed", film_coefficient=film)
        return touching(solve(network(lumped, mesh)))[COLDEST]

    wanted = behind(known.film) + row["coldest"]["value"] - known.result.value(COLDEST)
    try:
        row["factor"] = brentq(lambda by: behind(by * known.film) - wanted, *FILMS, xtol=1e-3)
    except ValueError:
        row["factor"] = float("nan")
    return row


def run(folder: Path, named: list[str]) -> dict[str, dict[str, Any]]:
    """What the folder holds of every line, and what is new of those named."""
    rows = {}
    for name, raw in lines().items():
        file = folder / f"{name.replace(' ', '-')}.json"
        row = json.loads(file.read_text()) if file.is_file() else {}
        wanted = name in named or "all" in named
        if not row or (wanted and "answer" not in row):
            case, store = case_of(raw), MeshStore()
            known, row = first(case, store)
            if wanted:
                row["answer"] = answer(case, store, known)
            file.write_text(json.dumps(row, indent=1))
        rows[name] = row
    return rows


def left_out(rows: dict[str, dict[str, Any]]) -> tuple[Array, Array]:
    """ALONG and THROUGH fitted to all lines with an answer, and by what factor (n,) the film of each lies from one
    whose constants are fitted to the others."""
    with_film = [row for row in rows.values() if np.isfinite(row.get("answer", {}).get("factor", np.nan))]
    beneath_each = np.array([row["beneath"] for row in with_film])
    film = np.array([row["part"] * row["answer"]["factor"] for row in with_film])

    def off(constants: Array, used: Array) -> Array:
        return np.asarray(np.log(film[used] / part_of_film(beneath_each[used] @ constants)))

    every = np.arange(len(film))
    first = np.array([ALONG, THROUGH])
    factors = []
    for one in every:
        others = least_squares(off, first, args=(every[every != one],)).x
        factors.append(float(np.exp(off(others, np.array([one]))[0])))
    return np.asarray(least_squares(off, first, args=(every,)).x), np.array(factors)


def page(rows: dict[str, dict[str, Any]]) -> str:
    """The table as Markdown, and what it comes to."""
    text = [
        "| line | Ra | Pr | part of the film | coldest by the estimate, degC | its bracket | narrow | answer | less the"
        " estimate, K | inside |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    narrow = inside = alone = hot = known = 0
    for name, row in rows.items():
        cold, hottest, found = row["coldest"], row["hottest"], row.get("answer", {})
        band = cold["bracket"] if row["outside"] else cold["mesh"] + cold["model"]
        fine = band <= max(NARROW, FIFTH * cold["bracket"])
        narrow += fine
        cells = [name, f"{row['rayleigh']:.1e}", f"{row['prandtl']:.1f}", f"{row['part']:.2f}"]
        cells += [f"{cold['estimate'] - ZERO_CELSIUS:.2f} ± {band:.2f}", f"± {cold['bracket']:.2f}"]
        cells += ["yes" if fine else "no", found.get("basis", "–"), "–", "–"]
        if "coldest" in found:
            off = found["coldest"]["value"] - cold["estimate"]
            above = found["hottest"]["value"] - hottest["estimate"]
            known, inside = known + 1, inside + (abs(off) <= band)
            alone += abs(off) <= band - cold["plane"]
            hot += abs(above) <= hottest["mesh"] + hottest["model"]
            cells[-2:] = [f"{off:+.3f} ± {found['coldest']['band']:.2f}", "yes" if abs(off) <= band else "no"]
        text.append(f"| {' | '.join(cells)} |")
    constants, factors = left_out(rows)
    off = np.sort(np.maximum(factors, 1 / factors))
    nine = off[min(int(np.ceil(0.9 * (len(off) + 1))), len(off)) - 1]
    return "\n".join(
        [
            "# What the estimate of moving contents is worth on forty invented lines",
            "",
            f"Made by `python -m validation.stirred`. Band of the coldest contents at most {NARROW} K or"
            f" {FIFTH:g} of the bracket: {narrow} of {len(rows)}. Answer within the estimate's stated error:"
            f" {inside} of {known}, hottest wall {hot} of {known}; coldest without the part for what plane flow"
            f" leaves out: {alone} of {known}. Each line left out of the fit in turn, the film at its coldest place"
            f" lies within a factor of {nine:.2f} in nine of ten (order statistic of {len(off)}), {off[-1]:.2f} at"
            f" most, and {1 / factors.min():.2f} at most to the cold side; all lines give ALONG {constants[0]:.2f},"
            f" THROUGH {constants[1]:.2f}.",
            "",
            *text,
            "",
        ]
    )


if __name__ == "__main__":
    where = Path(sys.argv[1])
    where.mkdir(parents=True, exist_ok=True)
    (where / "table.md").write_text(page(run(where, sys.argv[2:])), encoding="utf-8")
