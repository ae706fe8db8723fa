"""The checks in their order, what each needs, and running them one after another."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib.util import find_spec
from time import perf_counter

from sim.verify.rows import Row


@dataclass(frozen=True)
class Check:
    """A module of `sim.verify.checks` with a function `rows`; needs: packages beyond the program's own."""

    name: str
    quick: bool
    needs: tuple[str, ...] = ()


CHECKS = (
    Check("conduction", True),
    Check("closed_forms", True),
    Check("films", True),
    Check("simplified", True),
    Check("convection", False),
    Check("supports", False),
    Check("support_elements", False, ("skfem", "gmsh", "fipy")),
    Check("same_cells", False, ("fipy",)),
    Check("shipped", False, ("skfem", "gmsh")),
    Check("sections", False, ("skfem", "gmsh")),
)


@dataclass
class Outcome:
    """Rows of the checks that ran, seconds of each check, and why others did not run."""

    rows: list[Row] = field(default_factory=list)
    seconds: dict[str, float] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)

    @property
    def failed(self) -> list[Row]:
        return [row for row in self.rows if not row.passed]

    @property
    def exit_code(self) -> int:
        """0 every check passed, 1 one failed, 3 one could not be run."""
        return 1 if self.failed else 3 if self.missing else 0


def run(full: bool, tell: Callable[[Row], None] = lambda row: None) -> Outcome:
    """Run the quick checks, or all of them; `tell` hears every row as it comes."""
    outcome = Outcome()
    for check in CHECKS:
        if not (full or check.quick):
            continue
        absent = [package for package in check.needs if find_spec(package) is None]
        if absent:
            outcome.missing.append(
                f"{check.name} needs {', '.join(absent)}: pip install 'coldspot[validation]'"
            )
            continue
        begin = perf_counter()
        found = importlib.import_module(f"sim.verify.checks.{check.name}").rows()
        outcome.seconds[check.name] = perf_counter() - begin
        for row in found:
            tell(row)
        outcome.rows += found
    return outcome
