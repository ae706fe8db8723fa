"""Every error class of the program is raised here along the way a user takes to it; a new class must join them."""

import ast
import builtins
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, LIQUID

from sim.basics import NotMeshed
from sim.case import CaseError, case_for, load_case, parse_case
from sim.judge.check import check
from sim.report.folder import OutputError, written_folder
from sim.section.bend import Bend
from sim.section.mesh import bent
from sim.solve.at_rest import MeshStore
from sim.solve.average import average
from sim.solve.buoyant import scout
from sim.solve.estimate import estimate
from sim.solve.motion import NoSteadyFlow, Work
from sim.solve.multigrid import TooLarge
from sim.solve.section import solve_section
from sim.solve.steady import NotConverged
from sim.solve.stiff import State, StepFailed, Stepper
from sim.solve.track import NotFollowed
from sim.study import pool
from validation.faults.fault import Fault, NoFit

ROOT = Path(__file__).parents[1]


def line(**more: Any) -> dict[str, Any]:
    return {
        "pipe": {"outer_diameter": "60 mm", "wall": "3 mm", "material": "carbon steel"},
        "tracer": [FLAT | {"clock": 3.0}],
        "insulation": {"layer": [{"thickness": "30 mm", "conductivity": "0.04 W/m/K"}]},
        "condition": [{"name": "cold", "ambient": "-10 degC"}],
        **more,
    }


def case_error(folder: Path) -> None:
    load_case(folder / "absent.toml")


def output_error(folder: Path) -> None:
    (folder / "file").write_text("mine")
    with written_folder(folder / "file"):
        pass


def too_large(folder: Path) -> None:
    check(parse_case(line(support=[{"name": "S1"}])), fineness=1.0, memory=1e6)


# Heat that cannot leave: every temperature is a solution, or none.
CLOSED = {"outside": {"coefficient": "0 W/m2/K"}}


def not_converged(folder: Path) -> None:
    solve_section(case_for(parse_case(line(**CLOSED)), "cold"), fineness=1.0)


MOVING = line(
    contents={"state": "buoyant", "fluid": LIQUID | {"viscosity": "1 Pa s", "expansion": "7e-4 1/K"}},
    outside={"coefficient": "10 W/m2/K"},
)


def no_steady_flow(folder: Path) -> None:
    scout(case_for(parse_case(MOVING), "cold"), MeshStore(), 1.0, Work(0.0), print)


def not_followed(folder: Path) -> None:
    case = case_for(parse_case(MOVING | {"contents": MOVING["contents"] | {"fill": 0.5}}), "cold")
    average(case, MeshStore(), 1.0, "a test", estimate(case, MeshStore(), 1.0))


def step_failed(folder: Path) -> None:
    stepper = Stepper(SimpleNamespace())  # type: ignore[arg-type]
    stepper.step = lambda state, length: None  # type: ignore[method-assign]
    list(stepper.march(State(0.0, np.zeros(1), np.zeros(1)), 60.0, 1.0))


def no_fit(folder: Path) -> None:
    Fault("a fault", "an effect", "section.absent:shape", "a + b", "a - b").source()


def cluster_lost(folder: Path) -> None:
    """A client whose scheduler is gone, as each of its calls finds out."""
    pytest.importorskip("distributed")

    def submit(*_: Any, **__: Any) -> None:
        raise ConnectionResetError("gone")

    list(pool._on_cluster(SimpleNamespace(submit=submit, status="closed"), 1, str, [1]))


def not_meshed(_: Path) -> None:
    case = case_for(parse_case(line()), "cold")
    bent(MeshStore().get(case, 1.0), Bend(0.05, 0.0))


REACHED: dict[type[BaseException], tuple[Callable[[Path], None], str]] = {
    CaseError: (case_error, "absent.toml: cannot be read"),
    OutputError: (output_error, "is a file"),
    TooLarge: (too_large, "memory"),
    NotMeshed: (not_meshed, "bend's centre"),
    NotConverged: (not_converged, "heat balance"),
    StepFailed: (step_failed, "even with a step of"),
    NoSteadyFlow: (no_steady_flow, "work limit"),
    NotFollowed: (not_followed, "partly filled"),
    pool.ClusterLost: (cluster_lost, "what is finished is stored"),
    NoFit: (no_fit, "no module"),
}


def classes_of_errors() -> set[str]:
    """Names of all classes of program and evidence that derive from an exception, however many steps away."""
    parents = {
        node.name: {getattr(base, "id", getattr(base, "attr", "")) for base in node.bases}
        for file in (*(ROOT / "sim").rglob("*.py"), *(ROOT / "validation").rglob("*.py"))
        if "class " in (text := file.read_text(encoding="utf-8"))
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.ClassDef)
    }

    def is_error(name: str, depth: int = 0) -> bool:
        known = getattr(builtins, name, None)
        if isinstance(known, type):
            return issubclass(known, BaseException)
        return depth < 20 and any(is_error(base, depth + 1) for base in parents.get(name, ()))

    return {name for name in parents if is_error(name)}


def test_every_error_class_is_reached_here() -> None:
    assert {error.__name__ for error in REACHED} == classes_of_errors()


@pytest.mark.parametrize("error", REACHED, ids=lambda error: error.__name__)
def test_it_is_raised_with_one_clear_line(error: type[BaseException], tmp_path: Path) -> None:
    reach, words = REACHED[error]
    with pytest.raises(error) as caught:
        reach(tmp_path)
    assert type(caught.value) is error
    message = str(caught.value)
    assert words in message
    assert message.isprintable()
