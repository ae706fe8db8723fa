"""What a desk can be asked: each answer is the library's own, put into plain numbers and text for the page."""

import shlex
from base64 import b64encode
from collections.abc import Callable
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

import numpy as np

from sim.case import Case, CaseError, case_for, with_overrides
from sim.case.changes import between
from sim.case.settings import Setting
from sim.case.shipped import shipped
from sim.desk.folder import STARTER, Folder, settings_of
from sim.desk.form import groups
from sim.desk.handles import PLAIN, handles
from sim.desk.names import SHIPPED, report_name
from sim.desk.picture import numbers, one_mesh, picture
from sim.heat.network import network
from sim.judge import check as judging
from sim.report.method import CAUTIONS
from sim.report.worst import PlacedCheck, all_checks, decisive, headline, tally
from sim.section.layout import place
from sim.solve.at_rest import FINENESS, MeshStore, SectionResult
from sim.solve.states import steady_states

DRAGGED = 1.0
"""Fineness of the one mesh while something is moved."""
MOST_MESHES = 8
FINEST = 6.0
STILLS = 24
"""Fields of an episode for its slider."""
MOVING = "contents that stir are drawn as if they stood still while something is moved"
STRAIGHT = "the elbow waits for the three meshes"

Ask = dict[str, Any]
Tell = Callable[[dict[str, Any]], None]
"""Takes what is to be told before the answer is there: {"progress": "..."} or a part of it."""


@dataclass
class Bench:
    """What a worker keeps between requests: the desk's folder, and the last meshes."""

    folder: Folder
    meshes: MeshStore = field(default_factory=MeshStore)
    used: int = 0

    def store(self) -> MeshStore:
        """Meshes of earlier requests; forgotten now and then, so that a day of dragging takes no more memory."""
        self.used += 1
        if self.used % MOST_MESHES == 0:
            self.meshes = MeshStore()
        return self.meshes


def opened(bench: Bench, ask: Ask, tell: Tell) -> dict[str, Any]:
    """Everything of a case that needs no field: its form, its conditions, what can be moved, the command.

    Of one that cannot be read, where `ask["mend"]` says so: its form, and what is wrong with which key.
    """
    name, settings = ask.get("case", STARTER), settings_of(ask.get("edits", []))
    raw, folder = bench.folder.laid(name, settings), bench.folder
    names = {"cases": folder.names(), "shipped": [SHIPPED + shipped_name for shipped_name in shipped()]}
    file = names | {"case": name, "digest": folder.digest(name), "cautions": list(CAUTIONS)}
    try:
        case = folder.parsed(raw, name)
        condition = _condition(case, ask)
        layout = place(case_for(case, condition))
    except (CaseError, ValueError) as error:
        if ask.get("mend") is not True:
            raise
        return file | {"faults": faults(error), "groups": groups(raw, None, None)}
    return file | {
        "title": case.title,
        "conditions": [c.name for c in case.conditions],
        "condition": condition,
        "groups": groups(raw, case, condition),
        "handles": handles(raw, case, condition, layout),
        "around": _interruptions(case),
        "episodes": [e.name for e in case.episodes],
        "command": command(name, settings, _fineness(ask)),
    }


def faults(error: CaseError | ValueError) -> list[dict[str, Any]]:
    """Everything that is wrong with a case: {"key", "message"}; no key where it is of the whole."""
    if isinstance(error, CaseError):
        return [{"key": e.key, "message": e.message} for e in (error, *error.others)]
    return [{"key": None, "message": str(error)}]


def moved(bench: Bench, ask: Ask, tell: Tell) -> dict[str, Any]:
    """The field of one condition on one coarse mesh, and its numbers without bands."""
    raw, case, _ = _case(bench, ask)
    condition = _condition(case, ask)
    narrowed = still = case_for(case, condition)
    notes = []
    if narrowed.contents.state == "buoyant":
        still = case_for(with_overrides(narrowed, {"contents": {"state": "still"}}), condition)
        notes.append(MOVING)
    if narrowed.elbow is not None:
        notes.append(STRAIGHT)
    mesh = bench.store().get(still, DRAGGED)
    result = one_mesh(steady_states(network(still, mesh)).stable[0])
    return {
        "picture": picture(result),
        "numbers": numbers(result),
        "handles": handles(raw, case, condition, mesh.layout),
        "note": "; ".join(notes),
    }


def answered(bench: Bench, ask: Ask, tell: Tell) -> dict[str, Any]:
    """Every condition on three meshes with its limits; the field of the chosen one is told as soon as it is there.

    Supports are solved where `ask["around"]` says so, episodes never: what is left out is named.
    """
    _, case, settings = _case(bench, ask)
    chosen, fineness, around = _condition(case, ask), _fineness(ask), ask.get("around") is True

    def solved(result: SectionResult) -> None:
        if result.case.conditions[0].name == chosen:
            tell({"picture": picture(result), "numbers": numbers(result)})

    answer = judging.check(
        case, fineness=fineness, progress=_teller(tell), solved=solved, episodes=(), around=around
    )
    left = [] if around else _interruptions(case)
    shown = next(c for c in answer.conditions if c.name == chosen)
    every = all_checks(answer)
    return {
        "verdict": answer.verdict,
        "tally": tally(every),
        "headline": headline(answer),
        "limits": [_limit_row(one, one is decisive(every)) for one in every],
        "conditions": [
            {"name": c.name, "verdict": c.verdict, "failure": c.failure} for c in answer.conditions
        ],
        "notes": list(shown.notes),
        "changes": list(shown.changes),
        "left_out": [*left, *(f"episode {e.name}" for e in case.episodes)],
        "supports": [_around(case, one) for one in answer.supports if one.condition == chosen],
        "seconds": answer.seconds["total"],
        "command": command(ask["case"], settings, fineness),
    }


def _interruptions(case: Case) -> list[str]:
    """Supports and fittings of any condition, by kind and name."""
    every = [case_for(case, c.name) for c in case.conditions]
    supports = [f"support {s.name}" for one in every for s in one.supports]
    return list(dict.fromkeys([*supports, *(f"fitting {f.name}" for one in every for f in one.fittings)]))


def _limit_row(one: PlacedCheck, decides: bool) -> dict[str, Any]:
    return {
        "condition": one.condition,
        "place": one.place,
        "limit": one.limit,
        "value": f"{one.value} {one.unit}".strip(),
        "margin": one.margin,
        "verdict": one.check.verdict,
        "note": one.check.note,
        "at": one.at,
        "decides": decides,
    }


def _around(case: Case, answer: Any) -> dict[str, Any]:
    """One support or fitting: its numbers and limits in the report's words, and a picture.

    Of a support its field; of a fitting the bodies that it is made of.
    """
    from sim.report.support_page import support_section

    shown = support_section(answer) | {"kind": answer.kind}
    if answer.kind == "fitting":
        from sim.report.draw_fitting import draw_fitting

        shown["picture"] = _png(draw_fitting(case_for(case, answer.condition), answer.support, None))
        shown["alt"] = (
            f"{answer.name}, what it is made of: cut along the pipe and across it, with its lengths"
        )
    elif answer.result is not None:
        from sim.report.draw_support import draw_support

        shown["picture"] = _png(draw_support(answer, None))
        shown["alt"] = f"Field around {answer.name}: the wall unrolled, a cut, and along the pipe"
    return shown


def _png(figure: Any) -> str:
    target = BytesIO()
    figure.savefig(target, format="png")
    return b64encode(target.getvalue()).decode("ascii")


def followed(bench: Bench, ask: Ask, tell: Tell) -> dict[str, Any]:
    """One episode: its limits and answers, its curves, and its fields at even moments."""
    from sim.desk.followed import shown_episode
    from sim.judge.episode_answers import judge_episodes, wanted

    _, case, _ = _case(bench, ask)
    name = ask.get("episode")
    if name not in [e.name for e in case.episodes]:
        raise CaseError("there is no such episode", key="episode")
    chosen = wanted(case, [name])
    parts = tuple((np.arange(STILLS) + 1.0) / STILLS)
    supports: list[Any] = []
    if any(e.support is not None for e in chosen):  # it starts from the steady field around the support
        supports = list(
            judging.check(case, fineness=_fineness(ask), progress=_teller(tell), episodes=()).supports
        )
    answers = judge_episodes(
        case, chosen, MeshStore(), _fineness(ask), _teller(tell), supports=supports, shown=parts
    )
    return shown_episode(answers[-1])


def reported(bench: Bench, ask: Ask, tell: Tell) -> dict[str, Any]:
    """The whole report, as `coldspot check CASE --out` writes it, in a folder beside the case."""
    from sim.report.folder import OutputError, unfinished, written_folder
    from sim.report.output import drawn_while_solving, write_all
    from sim.report.painter import Painter

    _, case, _ = _case(bench, ask)
    out = bench.folder.path / report_name(ask["case"])
    try:
        with (
            Painter() as painter,
            written_folder(out) as work,
            unfinished(work, out, lambda _: None),
            painter,
        ):
            draw = drawn_while_solving(case, work, painter)
            answer = judging.check(case, fineness=_fineness(ask), progress=_teller(tell), solved=draw)
            tell({"progress": "report: pictures and fields"})
            write_all(answer, work, painter, drawn=True)
    except OutputError as error:
        raise CaseError(str(error)) from None
    return {"folder": out.name, "verdict": answer.verdict}


def compared(bench: Bench, ask: Ask, tell: Tell) -> dict[str, Any]:
    """The keys in which two states of a case differ."""
    name = ask["case"]
    _, before = bench.folder.case(name, settings_of(ask.get("pinned")))
    _, after = bench.folder.case(name, settings_of(ask.get("edits")))
    return {"inputs": list(between(before, after))}


def saved(bench: Bench, ask: Ask, tell: Tell) -> dict[str, Any]:
    """The case written with its comments kept; {"conflict": why} where the file holds something else by now."""
    target, known = ask.get("target"), ask.get("digest")
    digest = bench.folder.save(ask["case"], settings_of(ask.get("edits")), target, known)
    if digest is None:
        there = bench.folder.digest(target)
        return {
            "conflict": "the file has changed since it was read" if known else "there is a file of this name"
        } | {"digest": there}
    return {"digest": digest, "case": target}


JOBS: dict[str, Callable[[Bench, Ask, Tell], dict[str, Any]]] = {
    "open": opened,
    "move": moved,
    "answer": answered,
    "episode": followed,
    "report": reported,
    "compare": compared,
    "save": saved,
}


def command(name: str, settings: tuple[Setting, ...], fineness: float) -> str:
    """The command that gives the same answer."""
    last: dict[tuple[str, ...], str] = {}
    for path, text in settings:
        last.pop(path, None)
        last[path] = text
    file = str(shipped()[name.removeprefix(SHIPPED)]) if name.startswith(SHIPPED) else name
    words = ["coldspot", "check", file or "starter.toml"]
    if fineness != FINENESS:
        words += ["--fineness", f"{fineness:g}"]
    for path, text in last.items():
        words += ["--set", f"{'.'.join(map(_step, path))}={text}"]
    return shlex.join(words)


def _step(step: str) -> str:
    return step if PLAIN.fullmatch(step) else '"' + step.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _case(bench: Bench, ask: Ask) -> tuple[dict[str, Any], Case, tuple[Setting, ...]]:
    settings = settings_of(ask.get("edits", []))
    return *bench.folder.case(ask.get("case", STARTER), settings), settings


def _condition(case: Case, ask: Ask) -> str:
    """The condition that is asked for, or the first where the case does not have it (it may have been renamed)."""
    names = [c.name for c in case.conditions]
    return ask["condition"] if ask.get("condition") in names else names[0]


def _fineness(ask: Ask) -> float:
    given = ask.get("fineness", FINENESS)
    if isinstance(given, bool) or not isinstance(given, int | float) or not 1.0 <= given <= FINEST:
        raise CaseError(f"the fineness is no number from 1 to {FINEST:g}")
    return float(given)


def _teller(tell: Tell) -> Callable[[str, str], None]:
    return lambda where, what: tell({"progress": f"{where}: {what}"})
