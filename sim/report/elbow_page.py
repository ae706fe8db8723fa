"""The bend on the report's page and on the terminal."""

from collections.abc import Mapping
from typing import Any

from sim.judge.check import Answer
from sim.judge.elbow import SIDES, ElbowAnswer
from sim.report.words import NONE, celsius, clock, number, plain
from sim.report.worst import limit_cells
from sim.solve.convergence import Banded
from sim.solve.elbow import of_elbow

HEADS = (
    "coldest\ncontents, degC",
    "coldest\nwall, degC",
    "hottest\nsheath, degC",
    "loss\nW/rad",
    "tracer\nm/rad",
)
WHERE = {SIDES[0]: "tracers outside", SIDES[1]: "tracers inside"}


def comparison(answer: ElbowAnswer) -> list[tuple[str, ...]]:
    """Rows of the bend as its tracers lie, with them outside and inside, and of the straight pipe: a name and HEADS."""
    rows = []
    if answer.result is not None:
        rows.append(_row("as they lie", of_elbow(answer.result)))
    for name, laid in answer.sides.items():
        title = f"{WHERE[name]}, {clock(laid.clock)}"
        rows.append((title, laid.failure) if laid.result is None else _row(title, of_elbow(laid.result)))
    if answer.straight is not None and answer.result is not None:
        values = dict(answer.straight.quantities)
        lost = values["heat_out"]
        values["per_radian.heat_out"] = Banded(
            answer.radius * lost.value, answer.radius * lost.band, (), float("nan"), float("nan"), True
        )
        length = Banded(answer.radius, 0.0, (), float("nan"), float("nan"), True)
        values |= {f"per_radian.tracer.{tracer.name}": length for tracer in answer.case.tracers}
        rows.append(_row("straight pipe", values))
    return rows


def _row(name: str, values: Mapping[str, Banded]) -> tuple[str, ...]:
    part = "liquid" if "liquid.min" in values else "contents"
    sheaths = [value for path, value in values.items() if path.endswith(".sheath_max")]
    hottest = max(sheaths, key=lambda one: one.value, default=None)
    lengths = [value.value for path, value in values.items() if path.startswith("per_radian.tracer.")]
    return (
        name,
        celsius(values[f"{part}.min"]),
        celsius(values["wall.min"]),
        NONE if hottest is None else celsius(hottest),
        plain(values["per_radian.heat_out"]),
        number(sum(lengths), 4) if lengths else NONE,
    )


def terminal_rows(answer: Answer) -> list[tuple[str, ...]]:
    """A heading for each condition, then the rows of `comparison`."""
    rows: list[tuple[str, ...]] = []
    for elbow in answer.elbows:
        rows += [(elbow.condition,), *((f"  {name}", *cells) for name, *cells in comparison(elbow))]
    return rows


def elbow_section(answer: ElbowAnswer, picture: str) -> dict[str, Any]:
    """What the page shows of the bend in one condition."""
    assert answer.case.elbow is not None
    return {
        "condition": answer.condition,
        "verdict": answer.verdict,
        "failure": answer.trouble,
        "radius": f"{1e3 * answer.radius:.4g} mm",
        "outside": clock(answer.case.elbow.outside),
        "picture": picture,
        "heads": [head.replace("\n", " ") for head in HEADS],
        "rows": comparison(answer),
        "limits": [
            (check.words, *limit_cells(check), "; ".join(part for part in (check.state, check.note) if part))
            for check in answer.limits
        ],
        "notes": answer.notes,
    }
