"""The checks in their order, what each needs, and running them one after another.

A module of `validation.checks` names its checks in `GROUPS`, and those too long for the quick run in `LONG`: functions
without arguments that return rows, each timed on its own; the first sentence of a docstring is the title of its check.
A module with nothing but a function `rows` is one check.
"""

import importlib
import re
import traceback
from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib.util import find_spec
from pathlib import Path
from time import perf_counter
from types import ModuleType

from validation.published.rows import Row
from validation.published.sources import complaint

Rows = Callable[[], list[Row]]
OWN_PROCESS = ("fipy",)
"""Packages that must not be loaded into this process: FiPy reads the arguments of the process."""


@dataclass(frozen=True)
class Check:
    """A module of `validation.checks`; quick: in the quick run too; needs: packages beyond the program's own."""

    name: str
    quick: bool
    needs: tuple[str, ...] = ()


CHECKS = (
    Check("conduction.benchmarks", True),
    Check("conduction.closed_forms", True),
    Check("films.handbook", True),
    Check("judging.simplified", True),
    Check("bore.convection", True),
    Check("supports.iso_10211_case3", True),
    Check("supports.elements", False, ("skfem", "gmsh")),
    Check("peers.finite_elements", False, ("skfem", "gmsh")),
    Check("peers.same_cells", False, ("fipy",)),
    Check("peers.sections", False, ("skfem", "gmsh")),
    Check("mesh.manufactured", True),
    Check("supports.plates", True),
    Check("supports.legs", True),
    Check("supports.fins", True),
    Check("supports.bessel", True),
    Check("supports.unchanged", True),
    Check("supports.parts", True),
    Check("supports.judged", True),
    Check("conduction.insulation", True),
    Check("bore.contents", True),
    Check("bore.unsteady", True),
    Check("conduction.halves", True),
    Check("tracers.shapes", True),
    Check("tracers.contacts", True),
    Check("tracers.heat", True),
    Check("films.outside", True),
    Check("inputs.units", True),
    Check("inputs.catalogue", True),
    Check("judging.limits", True),
    Check("judging.answers", True),
    Check("tracers.stirred_gap", True),
    Check("films.iso_12241", True),
    Check("bore.moving", True),
    Check("elbow.torus", True),
    Check("line.axial", True),
    Check("elbow.elements", False, ("skfem", "gmsh")),
    Check("fittings.flange", False, ("skfem",)),
    Check("fittings.valve", False, ("skfem", "gmsh")),
    Check("fittings.closed_forms", False),
    Check("fittings.iso_10211_case4", False),
    Check("time.bars", True),
    Check("time.cooling", True),
    Check("time.freezing", True),
    Check("time.order", True),
)


@dataclass(frozen=True)
class Group:
    """What one check said: its rows and how long it took, or why it has none.

    name: module.function; subject: the title of its module; crash: what it died of; missing: why it could not be run.
    """

    name: str
    subject: str
    title: str
    rows: tuple[Row, ...] = ()
    seconds: float = 0.0
    crash: str = ""
    missing: str = ""

    @property
    def failed(self) -> list[Row]:
        return [row for row in self.rows if not row.passed]

    @property
    def verdict(self) -> str:
        if self.crash or self.failed:
            return "FAIL"
        return "not run" if self.missing else "pass"


@dataclass(frozen=True)
class Outcome:
    """Every check of a run in its order; full: whether it was the whole set."""

    groups: tuple[Group, ...]
    full: bool
    seconds: float

    @property
    def rows(self) -> list[Row]:
        return [row for group in self.groups for row in group.rows]

    def of(self, verdict: str) -> list[Group]:
        """The checks that ended so: FAIL, not run or pass."""
        return [group for group in self.groups if group.verdict == verdict]

    @property
    def exit_code(self) -> int:
        """0 every check passed, 1 one failed, 3 one could not be run."""
        return 1 if self.of("FAIL") else 3 if self.of("not run") else 0


def run(full: bool, tell: Callable[[str, str], None] = lambda which, what: None) -> Outcome:
    """Run the quick checks, or all of them; `tell` hears which comes next ("3 of 20") and its title."""
    begin = perf_counter()
    planned = [part for check in CHECKS if full or check.quick for part in _parts(check, full)]
    groups = []
    for number, (group, rows) in enumerate(planned, start=1):
        tell(f"{number} of {len(planned)}", group.title)
        groups.append(group if rows is None else _ran(group, rows))
    return Outcome(tuple(groups), full, perf_counter() - begin)


def _parts(check: Check, full: bool) -> list[tuple[Group, Rows | None]]:
    """The checks of a module; one that says why, where the module cannot be had."""
    whole = check.name.replace(".", ", ").replace("_", " ")
    reasons = [reason for package in check.needs if (reason := _absent(package))]
    if reasons:
        text = "; ".join(reasons) + ": pip install 'coldspot[validation]'"
        return [(Group(check.name, whole, whole, missing=text), None)]
    try:
        module = importlib.import_module(f"validation.checks.{check.name}")
    except Exception as error:
        return [(Group(check.name, whole, whole, crash=_failure(error)), None)]
    return [
        (Group(f"{check.name}.{rows.__name__}", title_of(module, whole), title_of(rows, whole)), rows)
        for rows in checks_of(module, full)
    ]


def checks_of(module: ModuleType, full: bool) -> tuple[Rows, ...]:
    """The check functions of a module, in order."""
    groups: tuple[Rows, ...] = getattr(module, "GROUPS", ())
    long: tuple[Rows, ...] = getattr(module, "LONG", ())
    if groups or long:
        return groups + (long if full else ())
    return (module.rows,)


def title_of(thing: object, instead: str) -> str:
    """First sentence of a docstring, without its full stop."""
    words = " ".join((thing.__doc__ or instead).strip().split("\n\n")[0].split())
    return re.split(r"\.(?:\s|$)", words)[0]


def _ran(group: Group, rows: Rows) -> Group:
    begin = perf_counter()
    computed: tuple[Row, ...] = ()
    crash = ""
    try:
        computed = tuple(rows())
        complaints = [text for row in computed if (text := complaint(row.source))]
        crash = complaints[0] if complaints else "" if computed else "it compared nothing"
    except Exception as error:
        crash = _failure(error)
    return replace(group, rows=computed, seconds=perf_counter() - begin, crash=crash)


def _absent(package: str) -> str:
    """Why a package cannot be used; empty where it can."""
    if find_spec(package) is None:
        return f"{package} is not installed"
    if package not in OWN_PROCESS:
        try:
            importlib.import_module(package)
        except (ImportError, OSError) as error:
            return f"{package} cannot be loaded ({_plain(str(error))})"
    return ""


def _failure(error: Exception) -> str:
    """What a check died of and where, on one line and without the folders of this machine."""
    where = traceback.extract_tb(error.__traceback__)
    place = f" ({Path(where[-1].filename).name}, line {where[-1].lineno})" if where else ""
    return f"{type(error).__name__}: {_plain(str(error))}{place}"


def _plain(text: str) -> str:
    folders = re.compile(r"(?<![\w/])(?:[A-Za-z]:)?(?:[\\/][^\s\\/'\"]+)+[\\/](?=[^\s])")
    return folders.sub("", " ".join(text.split()))[:300]
