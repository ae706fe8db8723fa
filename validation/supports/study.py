"""What supports drain, over pipe sizes, insulation and metals: python -m validation.supports.study [FOLDER].

Writes study.csv, study.png and study.md. Heat sinks at the maintain temperature (contents
held, no tracer powered), each on two meshes. Every size and condition here is invented. The rule drawn in is common
practice, no source: twice the support's length plus 0.4 m of extra tracer where metal passes the insulation, none
where the support is insulated. Tracer and line are taken to match (output = heat loss at the maintain temperature),
so that the equivalent tracer length is the equivalent line length.
"""

import sys
from itertools import product
from pathlib import Path
from time import perf_counter
from typing import Any

import numpy as np

from sim.case import Case, case_for, parse_case
from sim.heat.network import network
from sim.heat.support_layers import support_network
from sim.judge.support import common_practice
from sim.section.extrude import z_layers
from sim.section.mesh import plan_mesh
from sim.section.support_plan import place_support
from sim.solve.quantities import quantities
from sim.solve.steady import solve
from sim.solve.support_level import maintained_case, reach
from sim.solve.support_quantities import heat
from validation.pages import rendered, write_rows

FAMILIES = ("shoe", "clamp", "hanger", "trunnion", "cradle", "flange")
SIZES = ("DN 25", "DN 50", "DN 100", "DN 200", "DN 300")
INSULATION = (25, 50, 100)
METALS = ("carbon steel", "stainless steel")
MAINTAIN, AMBIENT = 10.0, -20.0
MESHES = (0.8, 1.13)


def line(family: str, size: str, insulation: int, metal: str) -> Case:
    """One line with one support, narrowed to its condition."""
    support: dict[str, Any] = {"name": "S", "family": family, "material": metal}
    if family == "flange":  # within the insulation
        support["pad"] = {"thickness": f"{min(30, insulation - 3)} mm"}
    raw = {
        "pipe": {"size": size, "schedule": "40" if metal == "carbon steel" else "40S", "material": metal},
        "contents": {"state": "mixed", "film_coefficient": "100 W/m2/K"},
        "insulation": {"layer": [{"conductivity": "0.04 W/m/K", "thickness": f"{insulation} mm"}]},
        "barrier": {"material": "aluminium", "thickness": "0.6 mm"},
        "condition": [{"name": "cold", "ambient": f"{AMBIENT} degC", "wind": "5 m/s"}],
        "support": [support],
    }
    return case_for(parse_case(raw), "cold")


def drained(case: Case, fineness: float) -> tuple[float, float]:
    """Heat sink (W) and the line's loss (W/m), contents held at the maintain temperature, on one mesh."""
    support = case.supports[0]
    layout = place_support(case, support)
    plan = network(maintained_case(case, MAINTAIN + 273.15), plan_mesh(layout, fineness))
    section = solve(plan)
    decay = reach(section)
    length = support.length / 2 + max(6 * decay, 3 * layout.cover_radius)
    layers = z_layers(layout, length, decay, fineness)
    solution = solve(support_network(plan, layers, support), np.tile(section.temperature, layers.count))
    loss = quantities(section)["heat_out"]
    return heat(solution).out - 2 * length * loss, loss


def rows() -> list[dict[str, Any]]:
    """One row a support: the numbers on the finer mesh, and how far the coarser one is from them."""
    listed = []
    for family, size, insulation, metal in product(FAMILIES, SIZES, INSULATION, METALS):
        case = line(family, size, insulation, metal)
        (coarse, _), (sink, loss) = (drained(case, f) for f in MESHES)
        rule = common_practice(case.supports[0])
        listed.append(
            {
                "family": family,
                "size": size,
                "insulation_mm": insulation,
                "metal": metal,
                "loss_W_per_m": loss,
                "heat_sink_W": sink,
                "chi_W_per_K": sink / (MAINTAIN - AMBIENT),
                "equivalent_length_m": sink / loss,
                "rule_m": "" if rule is None else rule,
                "rule_over_field": "" if rule is None else rule / (sink / loss),
                "between_meshes_percent": 100 * (coarse / sink - 1),
            }
        )
    return listed


def draw(drawn: list[dict[str, Any]], path: Path) -> None:
    """Equivalent length over the pipe's size, a panel a family, with the rule."""
    from sim.report.style import figure, save

    made = figure(10.4, 6.4)
    axes = made.subplots(2, 3, sharex=True).ravel()
    colours = {25: "#b3261e", 50: "#00639c", 100: "#4f7d3a"}
    for panel, family in zip(axes, FAMILIES, strict=True):
        mine = [r for r in drawn if r["family"] == family]
        for insulation, metal in product(INSULATION, METALS):
            line_ = [r for r in mine if r["insulation_mm"] == insulation and r["metal"] == metal]
            panel.plot(
                range(len(SIZES)),
                [r["equivalent_length_m"] for r in line_],
                "-" if metal == METALS[0] else "--",
                color=colours[insulation],
                marker="o",
                ms=3,
                lw=1.2,
                label=f"{insulation} mm, {metal}",
            )
        rule = mine[0]["rule_m"]
        if rule != "":
            panel.axhline(float(rule), color="black", lw=1, ls=":", label="common practice")
        panel.set_title(family, fontsize=9, loc="left")
        panel.set_xticks(range(len(SIZES)), [s.removeprefix("DN ") for s in SIZES])
        panel.set_ylim(bottom=0)
        panel.grid(color="#d5dade", lw=0.5)
    axes[0].legend(fontsize=6, frameon=False)
    for panel in axes[::3]:
        panel.set_ylabel("equivalent length, m", fontsize=8)
    for panel in axes[3:]:
        panel.set_xlabel("DN", fontsize=8)
    made.subplots_adjust(left=0.06, right=0.985, top=0.95, bottom=0.07, hspace=0.16, wspace=0.18)
    save(made, path)


def page(table: list[dict[str, Any]], seconds: float) -> str:
    """The study's page in Markdown, its sentences filled from the rows."""
    return rendered(
        Path(__file__).with_name("study.md.jinja"),
        about=str(__doc__).partition("\n\n")[2],
        rows=table,
        seconds=seconds,
        maintain=MAINTAIN,
        ambient=AMBIENT,
        families=FAMILIES,
        metals=METALS,
        apart=[abs(r["between_meshes_percent"]) for r in table],
        median=np.median,
        judged=[r for r in table if r["rule_m"] != "" and r["rule_m"] > 0],
    )


def main(folder: Path) -> None:
    """Run the study and write its three files."""
    begin = perf_counter()
    listed = rows()
    write_rows(listed, folder / "study.csv")
    draw(listed, folder / "study.png")
    (folder / "study.md").write_text(page(listed, perf_counter() - begin), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
