"""What is said of an opinion, the same on the terminal and on the page."""

from dataclasses import dataclass
from math import isfinite

from sim.report.words import NONE, number, signed, with_band
from sim.solve.measures import CLOCK
from validation.opinion.compare import ELEMENTS, FIPY, NEAR, SAME, Compared, ConditionOpinion, Opinion

WHOSE = (
    "FiPy solves the same discrete problem: it is given our cells. The mesh's lengths, distances and normals,"
    " the harmonic conductivities on its faces, the discretisation of conduction (and, where contents move, of"
    " what our flow carries), assembly, sweeps and linear solver are FiPy's. Property laws, films and outputs"
    " are ours, and so are the joints that are no faces of cells: sheets, surfaces, lumped contents, radiation"
    " across the bore, and the innermost part of a round tracer's wedge. All numbers are then read off its"
    " temperatures by our rules.",
    "The finite elements (scikit-fem on a gmsh mesh, curved quadratic triangles) share with us the case, the property"
    " tables and the film laws. Geometry, mesh, discretisation, contacts, sheets, lumped contents, radiation across the"
    " bore, the width of voids and the iteration are their own, written from the definition of the model.",
    "Neither says anything of the inputs: all three take the same conductivities, contacts, films and outputs, and"
    " leave out the same physics.",
)
HOW = (
    f"FiPy agrees where the difference is at most {SAME:g} K or W/m, ten times the change at which its sweeps stop.",
    "The finite elements agree where the difference is within our band and theirs together. Ours is from three meshes;"
    " theirs is the difference between two element sizes, the finer half the coarser.",
    f"A difference beyond both bands by less than {100 * NEAR:g} % of the span is marked `near`: it is shown, and does"
    " not count as a disagreement. The span is the hottest point over ambient; for heat it is the heat loss.",
    "A coldest or hottest place agrees, too, where our wall is as cold or hot at the other's place within the bands.",
)


@dataclass(frozen=True)
class Line:
    """One compared quantity as text."""

    quantity: str
    unit: str
    ours: str
    fipy: str
    elements: str
    apart: str
    percent: str
    verdict: str


def line(row: Compared) -> Line:
    """A row as text: temperatures in degC, differences in K."""
    measure, clocked = row.measure, row.measure is CLOCK
    apart, fipy = row.apart(row.elements), row.apart(row.fipy)

    def value(at: float | None, band: float | None) -> str:
        if at is None:
            return NONE
        if clocked:
            return number(at, 1)
        return with_band(measure.shown(at), float("nan") if band is None else band)

    percent = float("nan") if clocked else 100 * apart / row.span
    return Line(
        _words(row),
        measure.unit,
        value(row.ours, row.band),
        f"{fipy:.0e}" if isfinite(fipy) else NONE,
        value(row.elements, row.elements_band),
        signed(apart, 2 if clocked else 4),
        signed(percent, 3),
        verdict(row),
    )


def _words(row: Compared) -> str:
    """A quantity in words, and its moment in an episode."""
    return row.declared.words if row.at is None else f"{row.declared.words}, at {row.at / 3600:.2f} h"


def verdict(row: Compared) -> str:
    """Both verdicts in a word or two."""
    if row.fipy_verdict == "differ":
        return "differ" if row.elements_verdict == "differ" else "FiPy differs"
    if row.elements_verdict == "none":
        return "agree" if row.fipy_verdict == "agree" else NONE
    return row.elements_verdict


def state(opinion: ConditionOpinion) -> str:
    """One word for a condition: agree, differ, or incomplete."""
    if opinion.differing:
        return "differ"
    return "incomplete" if opinion.failure or opinion.missing else "agree"


def worst(opinion: ConditionOpinion) -> str:
    """The largest difference from the finite elements, in K (or W/m) and in percent; empty without them."""
    known = [r for r in opinion.rows if r.elements is not None and r.measure is not CLOCK]
    if not known:
        return ""
    row = max(known, key=lambda r: abs(r.apart(r.elements)) / r.span)
    apart = row.apart(row.elements)
    return (
        f"largest difference from the finite elements: {_words(row)}, {signed(apart, 4)}"
        f" {row.measure.difference}, {signed(100 * apart / row.span, 3)} %"
    )


def remarks(opinion: ConditionOpinion) -> list[str]:
    """What must be read with a condition's table."""
    sentences = [f"{name}: no answer, {why}" for name, why in opinion.missing.items()]
    for who in (FIPY, ELEMENTS):
        if who in opinion.details:
            sentences.append(
                f"{who}: {opinion.details[who]}, {opinion.seconds[who]:.1f} s in a process of its own"
            )
    if largest := worst(opinion):
        sentences.append(largest)
    near = sum("near" in row.verdicts for row in opinion.rows)
    if near:
        sentences.append(
            f"{near} of {len(opinion.rows)} beyond both bands by less than {100 * NEAR:g} % of the span"
        )
    for row in opinion.differing:
        shown = line(row)
        if row.elements_verdict == "differ":
            sentences.append(
                f"differ: {shown.quantity}, ours {shown.ours}, finite elements {shown.elements} {shown.unit}"
            )
        if row.fipy_verdict == "differ":
            sentences.append(
                f"FiPy differs: {shown.quantity}, by {number(row.apart(row.fipy), 7)} {row.measure.difference}"
            )
    return [*sentences, *opinion.notes]


def conclusion(opinion: Opinion) -> str:
    """One sentence for the case."""
    rows = [row for c in opinion.conditions for row in c.rows]
    differing = sum("differ" in row.verdicts for row in rows)
    missing = {f"{n}: {why}" for c in opinion.conditions for n, why in c.missing.items()}
    failed = sum(bool(c.failure) for c in opinion.conditions)
    if differing:
        words = f"{differing} of {len(rows)} compared quantities differ by more than their bands."
    elif rows and not missing and not failed:
        words = f"The three agree in all {len(rows)} compared quantities."
    else:
        words = f"No difference in {len(rows)} compared quantities, but an answer is missing."
    if failed:
        words += f" {failed} conditions have no answer of ours."
    return words
