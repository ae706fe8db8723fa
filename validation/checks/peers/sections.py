"""All demonstration sections by both methods: how far apart, and whether our bands hold the reference."""

from __future__ import annotations

from typing import Any

from sim.case import case_for, parse_case
from sim.solve.section import solve_section
from validation.checks.peers.shipped import SOURCE
from validation.peers.elements.section import solve_section as by_elements
from validation.published.rows import Row
from validation.sketches.invented import SECTIONS

PATHS = ("wall.min", "wall.mean", "wall.max", "contents.min", "contents.max", "barrier.min", "barrier.max")
REFERENCE_ERROR = 0.0003  # of the span: what refining the finite elements once more still moves


def _value(reference: dict[str, Any], path: str) -> float | None:
    group, which = path.split(".")
    group_values = reference.get(group)
    return None if group_values is None else group_values[which]


def invented_sections() -> list[Row]:
    """Invented sections by finite elements.

    The worst difference of each kind in each section, and over all sections the share inside its band.
    """
    out: list[Row] = []
    inside = total = 0
    for name, section in SECTIONS.items():
        case = parse_case(section)
        case = case_for(case, case.conditions[0].name)
        reference, result = by_elements(case), solve_section(case)
        sheaths = {
            f"tracers.{t.name}.sheath_max": reference["tracers"][t.name]["sheath_max"] for t in case.tracers
        }
        hottest = max(sheaths.values(), default=reference["wall"]["max"])
        span = hottest - case.conditions[0].ambient
        # where the bore is partly filled, the finite elements' contents are the liquid alone
        partly = 0.0 < case.contents.fill < 1.0
        compared = {
            ("liquid" + p[8:] if partly and p.startswith("contents") else p): _value(reference, p)
            for p in PATHS
        }
        worst = {"wall and contents": (0.0, 0.0), "sheath": (0.0, 0.0)}
        for path, exact in (compared | sheaths).items():
            computed = result.quantities.get(path)
            if exact is None or computed is None:
                continue
            total += 1
            difference = abs(computed.value - exact)
            inside += difference <= computed.band + REFERENCE_ERROR * span
            kind = "sheath" if path in sheaths else "wall and contents"
            if difference >= worst[kind][0]:
                worst[kind] = (difference, computed.band)
        for kind, share in (("wall and contents", 0.005), ("sheath", 0.015)):
            if kind == "sheath" and not sheaths:
                continue
            difference, band = (100 * v / span for v in worst[kind])
            reason = f"{100 * share:g} % of the span"
            quantity = f"{kind}, largest difference"
            out.append(
                Row(
                    f"section {name}",
                    SOURCE,
                    quantity,
                    0.0,
                    difference,
                    100 * share,
                    reason,
                    "% of span",
                    band,
                )
            )
        loss = reference["heat_out"]
        off = 100 * (result.value("heat_out") - loss) / loss
        band = 100 * result.quantities["heat_out"].band / loss
        out.append(Row(f"section {name}", SOURCE, "heat loss", 0.0, off, 0.2, "0.2 % of the loss", "%", band))
    accepted = "at least 9 of 10, the reference's own error of 0.03 % of the span allowed for"
    out.append(
        Row(
            "all sections",
            SOURCE,
            "quantities inside their band",
            1.0,
            inside / total,
            0.1,
            accepted,
            "share",
        )
    )
    return out


GROUPS = (invented_sections,)
