"""Rules and tables beside a study of fittings: python -m validation.fittings FOLDER [TARGET].

FOLDER holds the study of cases/studies/allowances-of-fittings.toml (`coldspot study`, which goes on where it was
stopped). Writes rules.csv, rules.png and rules.md into TARGET (FOLDER without it).

The rules are common practice, no source: for a pair of flanges a turn of tracer around the pipe on either side; for a
valve there and back over its length, and such turns; the other families have none here. The tables are those of VDI
2055 and ISO 12241, from memory, for flanges and valves: lengths of insulated pipe that lose as much, bare in a building
of 20 degC or covered, from contents of 50 to 500 degC. The areas of ASTM C1129 were not at hand and are not recalled:
they are left out. The study's line stands outdoors, at -20 degC in 5 m/s of wind, contents held at 10 degC; an
allowance of inf is more than 20 m, the longest that is tried. Covered: 50 mm on what lies along the pipe; where a
bonnet, basket, casing or stub stands out of that, it stays bare.
"""

import csv
import sys
from math import pi
from pathlib import Path
from typing import Any

from sim.case.catalogue import fittings, pipes
from validation.pages import rendered, write_rows

NAN = float("nan")
COLOURS = {"bare": "#b3261e", "covered": "#00639c"}
FITTINGS = {
    "flanges": "flange_pair",
    "gate valve": "gate_valve",
    "globe valve": "globe_valve",
    "ball valve": "ball_valve",
    "strainer": "strainer",
    "branch": "branch",
    "pump": "pump",
    "stub": "stub",
}
DIAMETER = {
    "DN 25": 33.4,
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


def published(name: str, cover: str) -> dict[str, tuple[float, float]]:
    """Lengths of line of the tables by size, m; empty for a family that they do not have."""
    return TABLE.get(("valve" if name.endswith("valve") else name, cover), {})


def rule(name: str, size: str) -> float:
    """Extra tracer of common practice (no source), m; nan for a family without a rule."""
    turns = 2 * pi * DIAMETER[size] / 1e3
    if name == "flanges":
        return turns
    if not name.endswith("valve"):
        return NAN
    face = fittings.FACES[FITTINGS[name]]["150"][pipes.nominal_size(size) or 0.0] / 1e3
    return 2 * face + turns


def rows(folder: Path) -> list[dict[str, Any]]:
    """A row a fitting and variant of the study's tables; supports.csv alone tells an allowance out of reach, as inf."""
    table = [row for row in _table(folder / "table.csv") if row["status"] == "done"]
    enough = {
        (row["variant"], row["place"]): _number(row, "allowance_enough")
        for row in _table(folder / "supports.csv")
    }
    listed = []
    for name in FITTINGS:
        for row in table:
            cover = "bare" if row["cover"].strip() == "bare" else "covered"
            low, high = published(name, cover).get(row["size"], (NAN, NAN))
            by_rule, least = rule(name, row["size"]), enough[row["variant"], name]
            listed.append(
                {
                    "fitting": name,
                    "cover": cover,
                    "size": row["size"],
                    "insulation_mm": _number(row, "insulation"),
                    "loss_W_per_m": _number(row, "heat_out"),
                    "chi_W_per_K": _number(row, f"fittings.{name}.chi"),
                    "equivalent_line_m": _number(row, f"fittings.{name}.equivalent_line_length"),
                    "table_low_m": low,
                    "table_high_m": high,
                    "enough_m": least,
                    "rule_m": by_rule,
                    "rule_over_enough": by_rule / least,
                }
            )
    return listed


def _table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def missing(folder: Path) -> list[str]:
    """The variants that could not be computed, and why."""
    return [
        f"{row['size']}, insulation {row['insulation [mm]']} mm, {row['cover']}: {row['reason']}"
        for row in _table(folder / "table.csv")
        if row["status"] != "done"
    ]


def _number(row: dict[str, str], path: str) -> float:
    """What a row of the study's table has of a quantity, whatever unit stands in the column's name."""
    return float(next(value for key, value in row.items() if key.split(" [")[0] == path) or "nan")


def draw(listed: list[dict[str, Any]], path: Path) -> None:
    """Equivalent length beside the tables, and the just-enough allowance beside the rule, over the pipe's size."""
    from sim.report.style import figure, save

    made = figure(13.0, 12.0)
    panels = made.subplots(4, 4, sharex=True)
    sizes = list(dict.fromkeys(row["size"] for row in listed))
    for number, (name, family) in enumerate(FITTINGS.items()):
        own = [row for row in listed if row["fitting"] == name]
        block, column = divmod(number, 4)
        lengths, allowances = panels[2 * block, column], panels[2 * block + 1, column]
        _curves(lengths, own, sizes, "equivalent_line_m")
        for cover, colour in COLOURS.items():
            for size, (low, high) in published(name, cover).items():
                if size in sizes:
                    at = sizes.index(size)
                    lengths.fill_between([at - 0.15, at + 0.15], low, high, color=colour, alpha=0.2, lw=0)
        _curves(allowances, own, sizes, "enough_m")
        by_rule = [rule(name, size) for size in sizes]
        allowances.plot(range(len(sizes)), by_rule, "k:", lw=1.4, label="rule (common practice, no source)")
        for panel, what in ((lengths, "loses as much as line, m"), (allowances, "just-enough tracer, m")):
            panel.set_title(f"{family.replace('_', ' ')}: {what}", fontsize=8, loc="left")
            panel.set_xticks(range(len(sizes)), [size.removeprefix("DN ") for size in sizes])
            panel.tick_params(labelbottom=True)
            panel.set_ylim(bottom=0)
            panel.grid(color="#d5dade", lw=0.5)
    made.subplots_adjust(left=0.05, right=0.98, top=0.93, bottom=0.05, hspace=0.32, wspace=0.22)
    made.legend(
        *panels[1, 0].get_legend_handles_labels(),
        loc="upper center",
        ncols=5,
        fontsize=8,
        frameon=False,
        title="shaded: VDI 2055, ISO 12241, from memory; a curve of tracer ends where 20 m are not enough",
        title_fontsize=8,
    )
    for panel in panels[3]:
        panel.set_xlabel("DN", fontsize=8)
    save(made, path)


def _curves(panel: Any, own: list[dict[str, Any]], sizes: list[str], what: str) -> None:
    """A curve over the size for each cover and thickness of insulation."""
    for cover, colour in COLOURS.items():
        for thick, dash in zip(sorted({r["insulation_mm"] for r in own}), ("-", "--", ":"), strict=False):
            rows_ = [r for r in own if (r["cover"], r["insulation_mm"]) == (cover, thick)]
            places, words = [sizes.index(r["size"]) for r in rows_], f"{cover}, {thick:g} mm"
            panel.plot(places, [r[what] for r in rows_], dash, color=colour, marker="o", ms=3, label=words)


def page(listed: list[dict[str, Any]], without: list[str]) -> str:
    """The comparison as a page."""
    about = (__doc__ or "").partition("\n\n")[2].rstrip()
    return rendered(
        Path(__file__).with_name("rules.md.jinja"),
        about=about,
        rows=listed,
        without=without,
        fittings=FITTINGS,
    )


def main(folder: Path, target: Path) -> None:
    listed = rows(folder)
    write_rows(listed, target / "rules.csv")
    draw(listed, target / "rules.png")
    (target / "rules.md").write_text(page(listed, missing(folder)), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2] if len(sys.argv) > 2 else sys.argv[1]))
