"""What a clock study holds: positions, the rows and limits of each, and the study of all."""

from dataclasses import dataclass

from sim.case import Case
from sim.judge.limits import LimitCheck, Verdict
from sim.solve.at_rest import SectionResult
from sim.solve.convergence import Banded

from .row import ELBOW

STATES = ("still", "buoyant", "mixed")
POSITIONS = tuple(float(h) for h in range(12))


@dataclass(frozen=True)
class ClockRow:
    """Tracers at one clock position with contents in one state.

    quantities: {path: Banded} of all temperatures, K; empty if it did not converge, and `failure` says why;
    bracketed: moving contents given as a bracket; basis, notes as of the result.
    """

    clock: float
    state: str
    quantities: dict[str, Banded]
    bracketed: bool
    notes: tuple[str, ...]
    failure: str = ""
    basis: str = ""


@dataclass(frozen=True)
class CheckAt:
    """A limit held at one position. place: the support's name, ELBOW in the bend, or "" for the section."""

    condition: str
    place: str
    check: LimitCheck


@dataclass(frozen=True)
class Placed:
    """Tracers at one clock position: the watched condition's rows, every limit of every condition, their verdict.

    impossible: why the tracers cannot be there; fault: of the program, while this position was computed;
    fields: results of the rows that are to be drawn, by state.
    """

    clock: float
    rows: tuple[ClockRow, ...] = ()
    checks: tuple[CheckAt, ...] = ()
    verdict: Verdict | None = None
    impossible: str = ""
    fault: Exception | None = None
    fields: tuple[tuple[str, SectionResult], ...] = ()


@dataclass(frozen=True)
class ClockStudy:
    """Positions in order from 12, each once. case: narrowed to the watched condition; left_out: what was not held."""

    case: Case
    condition: str
    tracer: str | None
    placed: tuple[Placed, ...]
    states: tuple[str, ...]
    paths: tuple[str, ...]
    left_out: tuple[str, ...]

    @property
    def rows(self) -> tuple[ClockRow, ...]:
        return tuple(row for at in self.placed for row in at.rows)

    @property
    def fields(self) -> dict[tuple[float, str], SectionResult]:
        return {(at.clock, state): result for at in self.placed for state, result in at.fields}

    @property
    def complete(self) -> bool:
        """Whether every position that is possible converged in every condition."""
        failed = any(row.failure for row in self.rows)
        return not failed and all(at.impossible or at.verdict != "not converged" for at in self.placed)

    def curve(self, state: str, path: str) -> list[tuple[float, Banded]]:
        """(clock, value) of one state in order of position, where there is one."""
        return [(r.clock, r.quantities[path]) for r in self.rows if r.state == state and path in r.quantities]


def watched(case: Case) -> tuple[str, ...]:
    """Paths of the study: coldest contents (the liquid where the bore is partly filled) and wall, sheaths, sensors; and
    those of them in the bend, where there is one."""
    if case.contents.state == "empty":
        first = []
    else:
        first = ["liquid.min" if 0.0 < case.contents.fill < 1.0 else "contents.min"]
    sheaths = [f"tracers.{t.name}.sheath_max" for t in case.tracers]
    return (
        *first,
        "wall.min",
        *sheaths,
        *(f"sensors.{s.name}.reading" for s in case.sensors),
        *((f"{ELBOW}.{path}" for path in (*first, "wall.min", *sheaths)) if case.elbow is not None else ()),
    )
