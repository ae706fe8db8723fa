"""Rules and tables beside a study of fittings: python -m validation.fittings FOLDER [TARGET].

FOLDER holds the study of cases/studies/allowances-of-fittings.toml (`coldspot study`, which goes on where it was
stopped). Writes rules.csv, rules.png and rules.md into TARGET (FOLDER without it).

The rules are common practice, no source: for a pair of flanges a turn of tracer around the pipe on either side; for a
valve there and back over its length, and such turns. The tables are those of VDI 2055 and ISO 12241, from memory:
lengths of insulated pipe that lose as much, bare in a building of 20 degC or covered, from contents of 50 to 500 degC.
The areas of ASTM C1129 were not at hand and are not recalled: they are left out. The study's line stands outdoors, at
-20 degC in 5 m/s of wind, contents held at 10 degC; an allowance of inf is one that no length reaches.
"""

from __future__ import annotations

import csv
import sys
from math import pi
from pathlib import Path
from typing import Any

from sim.case.catalogue import fittings, pipes

NAN = float("nan")
FITTINGS = {"valve": "gate_valve", "flanges": "flange_pair"}
DIAMETER = {
    "DN 50": 60.3,
    "DN 100": 114.3,
    "DN 150": 168.3,
    "DN 200": 219.1,
    "DN 300": 323.9,
}  # mm, ASME B36.10M
TABLE: dict[tuple[str, str], dict[str, tuple[float, float]]] = {  # m; VDI 2055, ISO 12241, from memory
    ("flanges", "bare"): {"DN 50": (3, 5), "DN 100": (4, 7), "DN 200": (5, 11), "DN 300": (6, 16)},
    ("valve", "bare"): {"DN 50": (9, 15), "DN 100": (15, 21), "DN 200": (21, 35), "DN 300": (29, 51)},
    ("flanges", "covered"): {"DN 50": (0.7, 1.0), "DN 100": (0.7, 1.0), "DN 200": (0.8, 1.3), "DN 300": (0.8, 1.4)},
    ("valve", "covered"): {"DN 50": (4, 5), "DN 100": (4, 6), "DN 200": (7, 11), "DN 300": (9, 16)},
}  # fmt: skip
FIELDS = (
    "fitting", "cover", "size", "insulation_mm", "loss_W_per_m", "chi_W_per_K", "equivalent_line_m", "table_low_m",
    "table_high_m", "enough_m", "rule_m", "rule_over_enough",
)  # fmt: skip


def rule(name: str, size: str) -> float:
    """Extra tracer of common practice (no source), m."""
    turns = 2 * pi * DIAMETER[size] / 1e3
    if name == "flanges":
        return turns
    face = fittings.GATE["150"][pipes.nominal_size(size) or 0.0] / 1e3
    return 2 * face + turns


def rows(folder: Path) -> list[dict[str, Any]]:
    """A row a fitting and variant of the study's table."""
    with (folder / "table.csv").open(encoding="utf-8", newline="") as file:
        table = [row for row in csv.DictReader(file) if row["status"] == "done"]
    found = []
    for name in FITTINGS:
        for row in table:
            cover = "bare" if row["valve"].strip() == "bare" else "covered"
            thick = next(v for k, v in row.items() if k.startswith("insulation"))
            number = {p: float(row[_column(row, f"fittings.{name}.{p}")] or "nan") for p in (
                "chi", "equivalent_line_length", "allowance_enough")}  # fmt: skip
            low, high = TABLE[name, cover].get(row["size"], (NAN, NAN))
            asked = rule(name, row["size"])
            found.append(
                dict(zip(FIELDS, (
                    name, cover, row["size"], _millimetres(thick), float(row[_column(row, "heat_out")]), number["chi"],
                    number["equivalent_line_length"], low, high, number["allowance_enough"], asked,
                    asked / number["allowance_enough"],
                ), strict=True))
            )  # fmt: skip
    return found


def _column(row: dict[str, str], path: str) -> str:
    return next(key for key in row if key.split(" [")[0] == path)


def _millimetres(text: str) -> float:
    number = float(text.split()[0])
    return number if number >= 1.0 else 1e3 * number


def draw(found: list[dict[str, Any]], path: Path) -> None:
    """Equivalent length beside the tables, and the just-enough allowance beside the rule, over the pipe's size."""
    from sim.report.style import figure, save

    sizes = list(dict.fromkeys(row["size"] for row in found))
    made = figure(10.4, 6.6)
    panels = made.subplots(2, 2, sharex=True)
    for column, name in enumerate(FITTINGS):
        for panel, what, told in (
            (panels[0, column], "equivalent_line_m", "loses as much as this length of line, m"),
            (panels[1, column], "enough_m", "extra tracer that just restores the wall, m"),
        ):
            for cover, colour in (("bare", "#b3261e"), ("covered", "#00639c")):
                for thick, dash in zip(
                    sorted({r["insulation_mm"] for r in found}), ("-", "--", ":"), strict=False
                ):
                    mine = {
                        r["size"]: r[what]
                        for r in found
                        if (r["fitting"], r["cover"], r["insulation_mm"]) == (name, cover, thick)
                    }
                    places, words = [sizes.index(size) for size in mine], f"{cover}, {thick:g} mm"
                    panel.plot(places, list(mine.values()), dash, color=colour, marker="o", ms=3, label=words)
                if what == "equivalent_line_m":
                    for size, (low, high) in TABLE[name, cover].items():
                        if size in sizes:
                            at = sizes.index(size)
                            panel.fill_between(
                                [at - 0.12, at + 0.12], low, high, color=colour, alpha=0.2, lw=0
                            )
            if what == "enough_m":
                panel.plot(
                    range(len(sizes)),
                    [rule(name, s) for s in sizes],
                    "k:",
                    lw=1.4,
                    label="common practice, no source",
                )
            panel.set_title(f"{FITTINGS[name].replace('_', ' ')}: {told}", fontsize=8, loc="left")
            panel.set_xticks(range(len(sizes)), sizes)
            panel.set_ylim(bottom=0)
            panel.grid(color="#d5dade", lw=0.5)
    panels[0, 0].legend(
        fontsize=6.5, frameon=False, title="shaded: VDI 2055, ISO 12241, from memory", title_fontsize=6.5
    )
    panels[1, 0].legend(fontsize=6.5, frameon=False)
    save(made, path)


def page(found: list[dict[str, Any]]) -> str:
    """The comparison as a page."""
    lines = ["# What fittings drain, beside rules and tables", "", *(__doc__ or "").split("\n")[2:], ""]
    lines += [
        "![Equivalent length and allowance over size](rules.png)", "",
        "| fitting | cover | size | insulation mm | chi W/K | equivalent line m | table m (from memory) |"
        " just enough m | rule m (no source) | rule / enough |",
        "|---|---|---|---:|---:|---:|---:|---:|---:|---:|",
    ]  # fmt: skip
    for r in found:
        table = (
            f"{r['table_low_m']:g} to {r['table_high_m']:g}" if r["table_low_m"] == r["table_low_m"] else "–"
        )
        lines.append(
            f"| {r['fitting']} | {r['cover']} | {r['size']} | {r['insulation_mm']:g} | {r['chi_W_per_K']:.3f} |"
            f" {r['equivalent_line_m']:.2f} | {table} | {r['enough_m']:.2f} | {r['rule_m']:.2f} |"
            f" {r['rule_over_enough']:.2f} |"
        )
    lines.append("")
    for name in FITTINGS:
        for cover in ("bare", "covered"):
            shares = [r["rule_over_enough"] for r in found if (r["fitting"], r["cover"]) == (name, cover)]
            if shares:
                short = sum(share < 1 for share in shares)
                lines.append(
                    f"- {FITTINGS[name].replace('_', ' ')}, {cover}: the rule is {min(shares):.2f} to {max(shares):.2f}"
                    f" times what is just enough, short in {short} of {len(shares)}."
                )
    lines += [
        "",
        "A result is evidence for an engineer, never a certificate; shapes are families', so take your own.",
    ]
    return "\n".join(lines) + "\n"


def main(folder: Path, target: Path) -> None:
    found = rows(folder)
    with (target / "rules.csv").open("w", newline="", encoding="utf-8") as file:
        table = csv.DictWriter(file, FIELDS, lineterminator="\n")
        table.writeheader()
        table.writerows({k: f"{v:.5g}" if isinstance(v, float) else v for k, v in r.items()} for r in found)
    draw(found, target / "rules.png")
    (target / "rules.md").write_text(page(found), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2] if len(sys.argv) > 2 else sys.argv[1]))
