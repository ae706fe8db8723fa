"""coldspot: the temperature field of an electrically heat-traced pipe, beside the design's numbers.

    import sim

    case = sim.load_case("cases/winter-brine.toml")
    answer = sim.check(case)
    answer.verdict                                          # "pass", "fail", "too close to call", ...
    night = answer.conditions[0].result.quantities
    night["wall.min"].value, night["wall.min"].band         # kelvin inside, bands in K

`load_case(path)` reads a case file and raises `CaseError` with one clear message. `check(case)` solves and judges
every condition. `write_report(answer, folder)` writes results.json, the report, pictures and fields.
Everything is imported at first use, so that `import sim` costs nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sim.case import Case, CaseError, load_case
    from sim.judge.check import Answer, check
    from sim.report import write_report

__version__ = "0.1.0"

__all__ = ["Answer", "Case", "CaseError", "__version__", "check", "load_case", "write_report"]

_HOMES = {
    "Answer": "sim.judge.check",
    "Case": "sim.case",
    "CaseError": "sim.case",
    "check": "sim.judge.check",
    "load_case": "sim.case",
    "write_report": "sim.report",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
