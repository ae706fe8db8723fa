"""coldspot: the temperature field of an electrically heat-traced pipe, beside the design's numbers.

    import sim

    answer = sim.check("cases/winter-brine.toml")           # or a Case, or a dict as the file gives it
    answer.verdict                                          # "pass", "fail", "too close to call", ...
    answer["winter-night"]["wall.min"]                      # 18.6 degC ± 0.03 K
    answer.table(), answer.limits()                         # pandas, each number beside its unit
    answer.figure("section", "winter-night")                # matplotlib
    case = sim.with_overrides(sim.load_case("cases/winter-brine.toml"), {"tracer": {"T1": {"clock": 4}}})
    sim.clock(case), sim.study("study.toml")                # the tracers round the clock; many variants
    sim.line("cases/lines/rack-and-drain.toml")             # a line put together: limits(), bill(), figure()

What an answer shows is in degC with bands in K; `answer.conditions[0].result.quantities` holds kelvin and SI.
`load_case(path)` and `parse_case(dict)` raise `CaseError` with one clear message. `write_report(answer, folder)` writes
results.json, the report, pictures and fields. Everything is imported at first use, so that `import sim` costs nothing.
"""

# ruff: noqa: F401  (the names are those of _HOMES)
from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sim.version import __version__

if TYPE_CHECKING:
    from sim import study
    from sim.case import Case, CaseError, load_case, parse_case, to_toml, with_overrides
    from sim.notebook import Answer, check, clock, line
    from sim.report import write_report

_HOMES = {
    "Answer": "sim.notebook",
    "Case": "sim.case",
    "CaseError": "sim.case",
    "check": "sim.notebook",
    "clock": "sim.notebook",
    "line": "sim.notebook",
    "load_case": "sim.case",
    "parse_case": "sim.case",
    "to_toml": "sim.case",
    "with_overrides": "sim.case",
    "write_report": "sim.report",
}
__all__ = ["__version__", "study", *_HOMES]


def __getattr__(name: str) -> Any:
    from importlib import import_module

    if name == "study":
        return import_module("sim.study")
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
