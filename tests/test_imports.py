"""What the program imports is what it is installed with: a package of an extra is imported only where it belongs."""

import ast
import re
import subprocess
import sys
import tomllib
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
PROGRAM = sorted((ROOT / "sim").rglob("*.py"))
MODULES = {
    "pillow": "PIL",
    "tomli-w": "tomli_w",
    "scikit-fem": "skfem",
    "salib": "SALib",
}  # where names differ
ROOMS = {
    "notebook": ("dataframes.py",),
    "study": ("study",),
    "cluster": ("study",),
    "weather": ("heat",),
    "desk": ("desk",),
    "test": (),
}


def modules(requirements: list[str]) -> set[str]:
    names = [re.match(r"[A-Za-z0-9_-]+", line)[0].lower() for line in requirements]
    return {MODULES.get(name, name) for name in names}


@cache
def imported(file: Path) -> set[str]:
    """First parts of the names of all modules imported in a file, wherever in it."""
    computed: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            computed |= {name.name.partition(".")[0] for name in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            computed.add((node.module or "").partition(".")[0])
    return computed - set(sys.stdlib_module_names) - {"sim"}


def test_every_package_imported_is_installed() -> None:
    always = modules(PROJECT["dependencies"]) | {"pydantic_core"}  # pydantic's own
    extras = {name: modules(lines) for name, lines in PROJECT["optional-dependencies"].items()}
    wrong = []
    for file in PROGRAM:
        room = file.relative_to(ROOT / "sim").parts[0]
        here = always.union(*(extras[name] for name, rooms in ROOMS.items() if room in rooms))
        wrong += [
            f"{file.relative_to(ROOT)}: {name}" for name in sorted(imported(file) - here - {"validation"})
        ]
    for file in (ROOT / "validation").rglob("*.py"):
        here = always | extras["validation"] | extras["test"] | {"validation"}
        wrong += [f"{file.relative_to(ROOT)}: {name}" for name in sorted(imported(file) - here)]
    assert wrong == []


def test_the_evidence_is_imported_by_its_command_alone() -> None:
    assert [file.name for file in PROGRAM if "validation" in imported(file)] == ["verify.py"]


def test_a_check_imports_nothing_that_it_does_not_use() -> None:
    """Each of these takes as long to import as a section takes to solve."""
    script = """
import sys, sim
import sim.report.output, sim.report.terminal
from sim.judge.check import check
check(sim.load_case('cases/winter-brine.toml'), fineness=1.0)
heavy = 'pint', 'scipy.optimize', 'scipy.interpolate', 'matplotlib', 'pyamg', 'iapws', 'jinja2', 'pandas'
print([name for name in (*heavy, 'sim.judge.episode_answers', 'sim.solve.buoyant') if name in sys.modules])
"""
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
