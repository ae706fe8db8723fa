"""The report as one HTML page that holds its pictures."""

from collections.abc import Mapping
from math import isfinite
from pathlib import Path
from typing import Any

from sim.case import Case, assumptions, to_toml
from sim.judge.check import Answer, ConditionAnswer
from sim.report.elbow_page import elbow_section
from sim.report.episode_page import episode_section
from sim.report.html import STYLE, data_uri, template
from sim.report.method import CAUTIONS
from sim.report.signoff import TO_SIGN, css_string, page_foot, sign_off
from sim.report.summary import beside, condition_row, stated_for
from sim.report.support_page import picture_name, support_section
from sim.report.words import NONE, ZERO, clock, file_names, inputs_text, number
from sim.report.worst import (
    PlacedCheck,
    all_checks,
    condition_verdict,
    decisive,
    headline,
    limit_cells,
    tally,
)
from sim.section.mesh import PlanMesh
from sim.solve.at_rest import SectionResult
from sim.solve.measures import LIMITS
from sim.solve.paths import quantity
from sim.version import __version__


def page(answer: Answer, folder: Path, names: Mapping[str, str]) -> str:
    """The whole page. `folder` holds the pictures, `names` the conditions' parts of their file names."""
    stated = stated_for(answer)
    conditions = [_condition(c, folder, names[c.name], stated[c.name]) for c in answer.conditions]
    fields = [c.result for c in answer.conditions if c.result is not None]
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
        mesh_picture=data_uri(folder / "mesh.png") if fields else "",
        mesh_levels=[f"{n:,}" for n in fields[0].cells] if fields else [],
        areas=_areas(fields[0].solution.network.mesh) if fields else [],
        resolved=to_toml(answer.case),
        assumptions=assumptions(answer.case),
        sources=_sources(answer),
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


OF_A_FIELD = (
    *("limits", "limit_notes", "inputs", "input_words"),
    *("balance", "meshes", "quantities", "section", "around", "flow"),
)


def _condition(answer: ConditionAnswer, folder: Path, name: str, stated: frozenset[str]) -> dict[str, Any]:
    """What the page shows of a condition, beside `of`, its answer."""
    shown = {"of": answer, "setting": _setting(answer.case), "beside": beside(answer, stated)}
    none: dict[str, Any] = dict.fromkeys(OF_A_FIELD, ())
    return shown | (none if answer.result is None else _field(answer, answer.result, folder, name))


def _setting(case: Case) -> list[str]:
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
        "flow": _flow(result, folder, name),
        "limit_notes": [("*" * (i + 1), note) for i, note in enumerate(notes)],
        "limits": limits,
        "input_words": [words for check in with_inputs[:1] for words, _ in check.inputs],
        "inputs": [
            (check.words, [inputs_text(worth) if worth > 0 else "0" for _, worth in check.inputs])
            for check in with_inputs
        ],
        "balance": _balance(answer.case, result),
        "meshes": [f"{cells:,}" for cells in result.cells],
        "quantities": [
            (quantity(path), value)
            for path, value in result.quantities.items()
            if quantity(path).band != "none" and isfinite(value.value)
        ],
    }


def _flow(result: SectionResult, folder: Path, name: str) -> dict[str, Any] | None:
    """Pictures and film of contents that were followed."""
    flow = result.solution.flow
    if flow is None or flow.frames is None:
        return None
    passed = flow.frames.second - flow.frames.second[0]
    return {
        "average": data_uri(folder / f"flow_{name}.png"),
        "frames": data_uri(folder / f"frames_{name}.png"),
        "moments": [f"{t:.0f} s" for t in passed],
        "low": [number(float(t.min()) - ZERO) for t in flow.frames.temperature],
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
    captions = {
        "support": "The pipe's outside unrolled, temperatures along the pipe, and a cut through the support.",
        "fitting": "Cuts along the pipe and across it, and temperatures along the pipe.",
    }
    sections = []
    for position, support in enumerate(answer.supports, start=1):
        section = support_section(support)
        section["pictures"] = []
        if support.result is not None:
            picture = data_uri(folder / f"{picture_name(support, names, position)}.png")
            section["pictures"] = [(captions[support.kind], picture)]
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


def _balance(case: Case, result: SectionResult) -> list[tuple[str, str]]:
    paths = {f"tracer {t.name}": f"tracers.{t.name}.output" for t in case.tracers}
    paths |= {"from the contents": "from_contents", "heat in": "heat_in"}
    paths |= {"heat out through the outside": "heat_out"}
    rows = [(words, number(result.value(path), 3)) for words, path in paths.items()]
    return [*rows, ("imbalance over all nodes", f"{result.solution.imbalance:.1e}")]


def _areas(mesh: PlanMesh) -> list[tuple[str, str]]:
    rows = []
    for number_, (region, error) in enumerate(zip(mesh.layout.regions, mesh.area_error, strict=True)):
        if (mesh.cell_region == number_).any():
            words = {"layer": region.name, "wet": region.name, "tracer": f"tracer {region.name}"}
            rows.append((words.get(region.kind, region.kind), f"{100 * error:+.3f} %"))
    return rows


def _sources(answer: Answer) -> list[tuple[str, str]]:
    """(what, source) of every property the case uses, without repeats."""
    case = answer.case
    named: dict[str, Any] = {
        "pipe": case.pipe.material,
        "contents": case.contents.fluid,
        "gas": case.contents.gas,
    }
    rows = [(f"{what}: {one.name}", one.source) for what, one in named.items()]
    for i, layer in enumerate(case.insulation.layers, start=1):
        rows.append((f"insulation layer {i}: {layer.material or 'given'}", layer.conductivity.source))
    rows.append(("air outside and in voids", "U.S. Standard Atmosphere 1976 (conductivity, viscosity)"))
    return rows
