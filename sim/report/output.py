"""Everything in an output folder, in the order that keeps two processes busy."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from sim.case import Case, to_toml
from sim.judge.check import Answer
from sim.report.episode_page import episode_scene
from sim.report.episode_results import series_csv
from sim.report.field import write_field
from sim.report.painter import Painter
from sim.report.results import as_json, mesh_rows, results
from sim.report.scene import flow_scene, mesh_scene, scene
from sim.report.stage import Job
from sim.report.support_page import picture_name
from sim.report.words import file_names
from sim.solve.at_rest import SectionResult
from sim.solve.convergence import Banded
from sim.solve.elbow import of_elbow
from sim.study.cells import csv_text


def drawn_while_solving(case: Case, folder: Path, painter: Painter) -> Callable[[SectionResult], None]:
    """A listener for `check` that hands every solved section to the painter at once, and the first one's mesh."""
    names = file_names([c.name for c in case.conditions])
    meshed = False

    def draw(result: SectionResult) -> None:
        nonlocal meshed
        name = names[result.case.conditions[0].name]
        shown = scene(result)
        jobs: list[Job] = [
            (shown, what, str(folder / f"{what}_{name}.png")) for what in ("section", "around")
        ]
        moving = flow_scene(result)
        if moving is not None:
            jobs += [(moving, what, str(folder / f"{what}_{name}.png")) for what in ("flow", "frames")]
        if not meshed:
            jobs.append((mesh_scene(result.solution.network.mesh), "mesh", str(folder / "mesh.png")))
        for job in jobs:
            painter.add(job)
        meshed = True

    return draw


def write_all(answer: Answer, folder: Path, painter: Painter, drawn: bool = False) -> None:
    """Write all files of an answer into an empty folder; `drawn`: the pictures are already with the painter.

    Numbers and fields come first, so that they are there whatever happens to a picture or the page.
    Raises OSError if one cannot be written.
    """
    solved = [(c.name, c.result) for c in answer.conditions if c.result is not None]
    names = file_names([c.name for c in answer.conditions])
    if not drawn:
        draw = drawn_while_solving(answer.case, folder, painter)
        for _, result in solved:
            draw(result)
    for name, result in solved:
        write_field(result.solution, folder / f"field_{names[name]}.vtu")
    _text(folder / "resolved.toml", to_toml(answer.case, anywhere=True))
    _text(folder / "three_meshes.csv", three_meshes(answer))
    tree = results(answer)
    _text(folder / "results.json", as_json(tree))
    write_elbows(answer, folder, names, painter)
    write_supports(answer, folder, names)
    write_series(answer, folder, painter)
    from sim.report.page import page  # imported while the painter is still at work

    painter.finish()
    _text(folder / "report.html", page(answer, folder, names))
    tree["files"] = sorted(entry.name for entry in folder.iterdir())
    _text(folder / "results.json", as_json(tree))


def write_elbows(answer: Answer, folder: Path, names: Mapping[str, str], painter: Painter) -> None:
    """Field file of the bend in every condition, and its picture to the painter."""
    for elbow in answer.elbows:
        if elbow.result is not None:
            stem = f"elbow_{names[elbow.condition]}"
            write_field(elbow.result.solution, folder / f"{stem}.vtu")
            shown = replace(scene(elbow.result), name=f"{elbow.condition}, elbow")
            painter.add((shown, "section", str(folder / f"{stem}.png")))


def write_supports(answer: Answer, folder: Path, names: Mapping[str, str]) -> None:
    """Field file, then picture, of every support and fitting in every condition."""
    solved = [
        (support, support.result, folder / picture_name(support, names, position))
        for position, support in enumerate(answer.supports, start=1)
        if support.result is not None
    ]
    if not solved:
        return
    from sim.report.draw_fitting_field import draw_fitting_field
    from sim.report.draw_support import draw_support
    from sim.report.field import write_fitting_field, write_support_field

    for support, result, stem in solved:
        write = write_fitting_field if support.kind == "fitting" else write_support_field
        write(result, stem.with_name(f"{stem.name}.vtu"))
    for support, _, stem in solved:
        draw = draw_fitting_field if support.kind == "fitting" else draw_support
        draw(support, stem.with_name(f"{stem.name}.png"))


def write_series(answer: Answer, folder: Path, painter: Painter) -> None:
    """The series of every episode, a table each, and its pictures to the painter."""
    names = file_names([episode.name for episode in answer.episodes])
    for episode in answer.episodes:
        if episode.result is not None:
            _text(folder / f"episode_{names[episode.name]}.csv", series_csv(episode.result))
            shown = episode_scene(episode)
            kinds = ("course", "moments") if shown.stills else ("course",)
            for kind in kinds:
                painter.add((shown, kind, str(folder / f"{kind}_{names[episode.name]}.png")))


def three_meshes(answer: Answer) -> str:
    """The three-mesh table as CSV: every quantity of every condition, those of supports by their whole path."""
    numbers = ("coarse", "middle", "fine", "order", "extrapolated", "band")
    table = [["condition", "quantity", "unit", *numbers, "asymptotic"]]
    places: list[tuple[str, str, Mapping[str, Banded]]] = []
    places += [(c.name, "", c.result.quantities) for c in answer.conditions if c.result is not None]
    places += [(e.condition, "elbow.", of_elbow(e.result)) for e in answer.elbows if e.result is not None]
    places += [
        (s.condition, f"{s.kind}s.{s.name}.", s.result.quantities)
        for s in answer.supports
        if s.result is not None
    ]
    for condition, before, quantities in places:
        for row in mesh_rows({f"{before}{path}": value for path, value in quantities.items()}):
            shown = [*row["values"], row["order"], row["extrapolated"], row["band"]]
            texts = ["" if x is None else f"{x:.9g}" for x in shown]
            asymptotic = "yes" if row["asymptotic"] else "no"
            table.append([condition, row["quantity"], row["unit"], *texts, asymptotic])
    return csv_text(table)


def _text(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")
