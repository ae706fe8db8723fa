"""Sections swept around a bend by finite elements with the same weight: how far apart, and inside which bands."""

from sim.case import case_for, parse_case
from sim.solve.elbow import solve_elbow
from validation.peers.elements.section import solve_section as by_elements
from validation.peers.elements.values import value_of
from validation.published.rows import Row, Table
from validation.sketches.invented import SECTIONS

SOURCE = "finite elements with the weight 1 + x'/R_b, from the definition (docs/model.md, In a bend)"
BENDS = {
    "round_still": ("0.1524 m", 3.0),
    "flat_mixed": ("0.0762 m", 11.0),
    "stainless_empty": ("0.1143 m", 6.0),
    "plastic_two_foil": ("0.1 m", 3.0),
    "hanging_shell": ("0.1524 m", 5.0),
    "half_filled": ("0.12 m", 3.0),
    "wet_sector": ("0.1524 m", 9.0),
    "two_layers_barrier": ("0.1524 m", 3.0),
    "flat_regulating": ("0.0762 m", 8.0),
    "flowing_two_round": ("0.15 m", 6.0),
    "lifted_round": ("0.1524 m", 4.0),
    "round_foil": ("0.0762 m", 3.0),
}  # of the invented sections: radius of the bend, and what faces away from its centre
PATHS = ("wall.min", "wall.mean", "wall.max", "contents.min", "contents.mean", "contents.max")
ON_THE_OUTSIDE = ("barrier.min", "barrier.mean", "barrier.max")
REFERENCE_ERROR = 0.0003  # of the span: what refining the finite elements once more still moves


def swept_sections() -> list[Row]:
    """Invented sections in a bend by finite elements.

    The worst difference in each, its loss, and over all the share inside its band.
    """
    rows: list[Row] = []
    inside = total = 0
    for name, (radius, outside) in BENDS.items():
        case = parse_case(SECTIONS[name] | {"elbow": {"radius": radius, "outside": outside}})
        case = case_for(case, case.conditions[0].name)
        reference = by_elements(case, bend=(float(radius.split()[0]), outside))
        result = solve_elbow(case)
        bodies = [f"tracers.{t.name}.{last}" for t in case.tracers for last in ("sheath_max", "mean")]
        hottest = max(one["sheath_max"] for one in reference["tracers"].values())
        span = hottest - case.conditions[0].ambient
        worst = (0.0, 0.0)
        for path in (*PATHS, *ON_THE_OUTSIDE, *bodies):
            theirs = value_of(reference, path, case)
            if theirs is None or path not in result.quantities:
                continue
            ours = result.quantities[path]
            total += 1
            off = abs(ours.value - theirs)
            inside += off <= ours.band + REFERENCE_ERROR * span
            worst = max(worst, (off, ours.band))
        off, band = (100 * number / span for number in worst)
        table = Table(name, SOURCE, rows)
        table.within("largest difference", 0.0, off, 0.5, "0.5 % of the span", "% of span", band=band)
        loss = reference["heat_out"]
        off = 100 * (result.value("heat_out") / loss - 1)
        band = 100 * result.quantities["heat_out"].band / loss
        table.within("heat loss", 0.0, off, 0.2, "0.2 % of the loss", "%", band=band)
    reason = "at least 9 of 10, the reference's own error of 0.03 % of the span allowed for"
    table = Table("all bends", SOURCE, rows, "share", reason)
    table.within("quantities inside their band", 1.0, inside / total, 0.1)
    return rows


GROUPS = (swept_sections,)
