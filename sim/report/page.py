"""The report as one HTML page that holds its pictures."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from pathlib import Path
from typing import Any

from sim.case import Case, assumptions, to_toml
from sim.judge.check import Answer, ConditionAnswer
from sim.report.elbow_page import elbow_section
from sim.report.episode_page import episode_section
from sim.report.html import STYLE, data_uri, template
from sim.report.method import CAUTIONS, LEFT_OUT, METHOD, REFERENCES
from sim.report.signoff import TO_SIGN, css_string, page_foot, sign_off
from sim.report.summary import beside, condition_row, stated_for
from sim.report.support_page import picture_name, support_section
from sim.report.words import NONE, ZERO, celsius, clock, file_names, inputs_text, number, signed
from sim.report.worst import (
    PlacedCheck,
    all_checks,
    condition_verdict,
    decisive,
    headline,
    limit_cells,
    tally,
)
from sim.solve.at_rest import SectionResult
from sim.solve.convergence import Banded
from sim.solve.measures import LIMITS
from sim.solve.paths import quantity
from sim.version import __version__


def page(answer: Answer, folder: Path, names: Mapping[str, str]) -> str:
    """The whole page. `folder` holds the pictures, `names` the conditions' parts of their file names."""
    stated = stated_for(answer)
    conditions = [_condition(c, folder, names[c.name], stated[c.name]) for c in answer.conditions]
    solved = [c for c in answer.conditions if c.result is not None]
    checks = all_checks(answer)
    return template(Path(__file__).parent, "report.html.jinja").render(
        title=answer.case.title,
        css=STYLE.read_text(encoding="utf-8"),
        sign_off=sign_off(answer.case),
        to_sign=TO_SIGN,
        foot=css_string(page_foot(answer.case)),
        verdict=answer.verdict,
        verdict_words=tally(checks),
        deciding=headline(answer),
        nearest=_nearest(answer, checks),
        cautions=CAUTIONS,
        rows=[condition_row(c, condition_verdict(answer, c.name)) for c in answer.conditions],
        conditions=conditions,
        elbows=_elbows(answer, folder, names),
        supports=_supports(answer, folder, names),
        episodes=_episodes(answer, folder),
        episodes_left_out=answer.not_run,
        mesh_picture=data_uri(folder / "mesh.png") if solved else "",
        mesh_levels=_levels(solved[0]) if solved else [],
        areas=_areas(solved),
        resolved=to_toml(answer.case),
        assumptions=assumptions(answer.case),
        sources=_sources(answer),
        method=METHOD,
        left_out=LEFT_OUT,
        references=REFERENCES,
        version=__version__,
        seconds=answer.seconds,
    )


def _nearest(answer: Answer, checks: list[PlacedCheck]) -> list[tuple[str, ...]]:
    """By condition, the limit that decides it: condition, limit, place, value, margin, verdict."""
    rows: list[tuple[str, ...]] = []
    for condition in answer.conditions:
        one = decisive([h for h in checks if h.condition == condition.name])
        if one is not None:
            at = f" at {one.at}" if one.at else ""
            row = (condition.name, one.limit, f"{one.place}{at}", one.value)
            rows.append((*row, one.margin, inputs_text(one.check.worth), one.check.verdict))
    return rows


NO_FIELD: dict[str, Any] = {
    "limits": [],
    "limit_notes": [],
    "inputs": [],
    "input_words": [],
    "sensors": [],
    "balance": [],
    "meshes": [],
    "quantities": [],
    "section": "",
    "around": "",
}


def _condition(answer: ConditionAnswer, folder: Path, name: str, stated: frozenset[str]) -> dict[str, Any]:
    return {
        "name": answer.name,
        "verdict": answer.verdict,
        "failure": answer.failure,
        "setting": _setting(answer.case),
        "changes": answer.changes,
        "beside": beside(answer, stated),
        "reasons": answer.reasons,
        "simplified_notes": answer.simplified.notes,
        "asymmetries": answer.asymmetries,
        "notes": answer.notes,
    } | (NO_FIELD if answer.result is None else _field(answer, answer.result, folder, name))


def _setting(case: Case) -> list[str]:
    """What a condition gives, in words."""
    condition = case.conditions[0]
    wind = f"wind {number(condition.wind, 1)} m/s" if condition.wind > 0 else "still air"
    if condition.wind > 0 and condition.wind_from is not None:
        wind += f" from {clock(condition.wind_from)}"
    return [
        f"ambient {number(condition.ambient - ZERO, 1)} degC",
        wind,
        *([f"sun, {100 * condition.sun.absorptivity:g} % absorbed"] if condition.sun is not None else []),
        *(["a sky of its own temperature"] if condition.sky is not None else []),
        *(["rain"] if condition.rain else []),
        f"supply {100 * condition.supply:g} %",
        f"tracer output {condition.output}",
        f"contents {case.contents.state}",
        f"fill {case.contents.fill:g}",
    ]


def _field(answer: ConditionAnswer, result: SectionResult, folder: Path, name: str) -> dict[str, Any]:
    """What the page shows of a condition's field."""
    notes = list(dict.fromkeys(check.note for check in answer.limits if check.note))
    limits: list[tuple[str, ...]] = []
    for check in answer.limits:
        allowed, *cells = limit_cells(check)
        of = ", ".join(part for part in (check.row.words if check.row else NONE, check.state) if part)
        mark = "*" * (notes.index(check.note) + 1) if check.note else ""
        limits.append((LIMITS[check.limit].words(), allowed, of, *cells, mark))
    with_inputs = [check for check in answer.limits if check.inputs]
    return {
        "section": data_uri(folder / f"section_{name}.png"),
        "around": data_uri(folder / f"around_{name}.png"),
        "limit_notes": [("*" * (i + 1), note) for i, note in enumerate(notes)],
        "limits": limits,
        "input_words": [words for check in with_inputs[:1] for words, _ in check.inputs],
        "inputs": [
            (check.words, [inputs_text(worth) if worth > 0 else "0" for _, worth in check.inputs])
            for check in with_inputs
        ],
        "sensors": [
            (
                sensor.name,
                clock(sensor.clock),
                celsius(sensor.reading),
                signed(sensor.above_contents),
                signed(sensor.above_wall),
                f"{sensor.nearest_tracer}, {30 * sensor.hours_away:.0f} degrees"
                if sensor.nearest_tracer
                else NONE,
                "yes" if sensor.keeps_distance else "no",
            )
            for sensor in answer.sensors
        ],
        "balance": _balance(answer),
        "meshes": [f"{cells:,}" for cells in result.cells],
        "quantities": [
            _mesh_row(path, q)
            for path, q in result.quantities.items()
            if quantity(path).band != "none" and isfinite(q.value)
        ],
    }


def _elbows(answer: Answer, folder: Path, names: Mapping[str, str]) -> list[dict[str, Any]]:
    return [
        elbow_section(
            elbow,
            data_uri(folder / f"elbow_{names[elbow.condition]}.png") if elbow.result is not None else "",
        )
        for elbow in answer.elbows
    ]


def _supports(answer: Answer, folder: Path, names: Mapping[str, str]) -> list[dict[str, Any]]:
    caption = "The pipe's outside unrolled, temperatures along the pipe, and a cut through the support."
    sections = []
    for position, support in enumerate(answer.supports, start=1):
        section = support_section(support)
        section["pictures"] = []
        if support.result is not None and support.kind == "support":
            picture = data_uri(folder / f"{picture_name(support, names, position)}.png")
            section["pictures"] = [(caption, picture)]
        sections.append(section)
    return sections


def _episodes(answer: Answer, folder: Path) -> list[dict[str, Any]]:
    names = file_names([episode.name for episode in answer.episodes])
    sections = []
    for episode in answer.episodes:
        files = {kind: folder / f"{kind}_{names[episode.name]}.png" for kind in ("course", "moments")}
        pictures = {kind: data_uri(file) for kind, file in files.items() if file.exists()}
        sections.append(episode_section(episode, pictures))
    return sections


def _balance(answer: ConditionAnswer) -> list[tuple[str, str]]:
    assert answer.result is not None
    values, solution = answer.result.quantities, answer.result.solution
    rows = [
        (f"tracer {t.name}", number(values[f"tracers.{t.name}.output"].value, 3)) for t in answer.case.tracers
    ]
    rows.append(("from the contents", number(values["from_contents"].value, 3)))
    rows.append(("heat in", number(values["heat_in"].value, 3)))
    rows.append(("heat out through the outside", number(values["heat_out"].value, 3)))
    rows.append(("imbalance over all nodes", f"{solution.imbalance:.1e}"))
    return rows


def _mesh_row(path: str, value: Banded) -> tuple[str, ...]:
    row = quantity(path)
    values = [number(row.measure.shown(v), 3) for v in value.values]
    return (
        row.words,
        row.measure.unit,
        *values,
        number(value.order, 1),
        number(row.measure.shown(value.extrapolated), 3),
        number(value.band, 4),
        NONE if row.band == "spread" else "yes" if value.asymptotic else "no",
    )


def _levels(answer: ConditionAnswer) -> list[str]:
    assert answer.result is not None
    return [f"{n:,}" for n in answer.result.cells]


def _areas(solved: list[ConditionAnswer]) -> list[tuple[str, str]]:
    """Error of each region's area on the finest mesh of the first solved condition."""
    if not solved or solved[0].result is None:
        return []
    mesh = solved[0].result.solution.network.mesh
    rows = []
    for number_, (region, error) in enumerate(zip(mesh.layout.regions, mesh.area_error, strict=True)):
        if (mesh.cell_region == number_).any():
            words = {"layer": region.name, "wet": region.name, "tracer": f"tracer {region.name}"}
            rows.append((words.get(region.kind, region.kind), f"{100 * error:+.3f} %"))
    return rows


def _sources(answer: Answer) -> list[tuple[str, str]]:
    """(what, source) of every property the case uses, without repeats."""
    case = answer.case
    rows = [(f"pipe: {case.pipe.material.name}", case.pipe.material.source)]
    rows.append((f"contents: {case.contents.fluid.name}", case.contents.fluid.source))
    rows.append((f"gas: {case.contents.gas.name}", case.contents.gas.source))
    for i, layer in enumerate(case.insulation.layers, start=1):
        rows.append((f"insulation layer {i}: {layer.material or 'given'}", layer.conductivity.source))
    rows.append(("air outside and in voids", "U.S. Standard Atmosphere 1976 (conductivity, viscosity)"))
    return rows
