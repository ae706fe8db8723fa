"""The library as a person uses it in a notebook: cases, answers, tables and figures that name their units.

Numbers inside the program are SI and kelvin; every number here carries its unit, and temperatures are in degC.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.case import Case, CaseError, load_case, parse_case
from sim.dataframes import CAUTION, frame, html_table, pandas
from sim.judge import check as judging
from sim.solve.at_rest import FINENESS
from sim.solve.measures import EVERY_LIMIT, LIMITS
from sim.solve.paths import quantity

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sim.judge.check import ConditionAnswer
    from sim.solve.convergence import Banded
    from sim.study.line_run import LineStudy
    from sim.study.positions import ClockStudy

FIRST = ("contents.min", "wall.min", "heat_out")


def as_case(what: Case | str | Path | Mapping[str, Any]) -> Case:
    """A case from a case, the path of a case file, or a nested dict as the file gives it. Raises CaseError."""
    if isinstance(what, Case):
        return what
    if isinstance(what, str | Path):
        return load_case(what)
    if isinstance(what, Mapping):
        return parse_case(dict(what))
    kind = type(what).__name__
    raise CaseError(
        f"{kind} is no case; accepted: a Case, the path of a case file, or a dict as the file gives it"
    )


@dataclass(frozen=True)
class Shown:
    """A number with its unit, and its band with its own: a temperature in degC, its band in K."""

    value: float
    unit: str
    band: float
    band_unit: str

    def __repr__(self) -> str:
        return f"{self.value:.4g} {self.unit} ± {self.band:.2g} {self.band_unit}".strip()


def shown(path: str, value: Banded) -> Shown:
    """A stored number as it is shown."""
    measure = quantity(path).measure
    return Shown(measure.shown(value.value), measure.unit, value.band, measure.difference)


class ConditionView(Mapping[str, Shown]):
    """The numbers of one condition by path: `answer["winter-night"]["wall.min"]`. Empty if it did not converge."""

    def __init__(self, answer: ConditionAnswer) -> None:
        self.answer = answer
        self._values = answer.result.quantities if answer.result is not None else {}

    def __getitem__(self, path: str) -> Shown:
        return shown(path, self._values[path])

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def __repr__(self) -> str:
        return f"<{self.answer.name}: {self.answer.verdict}, {len(self)} numbers>"


class Answer(judging.Answer):
    """A checked case, with what a notebook shows of it."""

    def __getitem__(self, condition: str) -> ConditionView:
        for one in self.conditions:
            if one.name == condition:
                return ConditionView(one)
        raise KeyError(f"{condition}; known: {', '.join(one.name for one in self.conditions)}")

    def table(self) -> Any:
        """Every number of every condition as a pandas DataFrame: value, unit, band, unit of the band."""
        rows = []
        for one in self.conditions:
            for path, number in ConditionView(one).items():
                words = quantity(path).words
                rows.append((one.name, path, words, number.value, number.unit, number.band, number.band_unit))
        return frame(rows, "condition quantity words value unit band band_unit")

    def limits(self) -> Any:
        """Every limit held at every place (section, elbow, supports and fittings, episodes) as a pandas DataFrame.

        Its margin is less what is asked for besides; margin and band have the unit of differences.
        """
        rows = []
        for one in self.judged:
            for check in one.limits:
                m = EVERY_LIMIT[check.limit].measure
                numbers = (m.shown(check.value), m.shown(check.allowed), m.unit, check.left, check.band)
                rows.append(
                    (one.condition, one.place, check.limit, *numbers, m.difference, check.verdict, check.note)
                )
        names = "condition place limit value allowed unit margin band difference_unit verdict note"
        return frame(rows, names)

    def figure(self, kind: str = "section", condition: str = "") -> Figure:
        """A matplotlib Figure of one condition (the first, if none is named): "section", "around" or "mesh".

        Raises KeyError for an unknown condition, ValueError for another kind or a condition without a field.
        """
        one = self[condition or self.conditions[0].name].answer
        if one.result is None:
            raise ValueError(f"condition {one.name} has no field to draw")
        from sim.report.draw_around import draw_around
        from sim.report.draw_mesh import draw_mesh
        from sim.report.draw_section import draw_section
        from sim.report.scene import mesh_scene, scene

        if kind == "mesh":
            return draw_mesh(mesh_scene(one.result.solution.network.mesh), None)
        if kind not in ("section", "around"):
            raise ValueError(f'"{kind}" is no figure; accepted: section, around, mesh')
        return (draw_section if kind == "section" else draw_around)(scene(one.result), None)

    def _repr_html_(self) -> str:
        heads = ["condition", "verdict", *(quantity(path).words for path in FIRST)]
        rows = []
        for one in self.conditions:
            numbers = ConditionView(one)
            rows.append([one.name, one.verdict, *(repr(numbers[p]) if p in numbers else "" for p in FIRST)])
        return f"<p><b>{escape(self.case.title)}</b>: {self.verdict}</p>{html_table(heads, rows)}<p>{CAUTION}</p>"


def check(
    case: Case | str | Path | Mapping[str, Any],
    *,
    fineness: float = FINENESS,
    progress: Callable[[str, str], None] | None = None,
    memory: float | None = None,
    episodes: Sequence[str] | None = None,
) -> Answer:
    """Solve and judge every condition of a case, then its episodes: a Case, the path of a file, or a dict.

    episodes: names of those to follow; all by default, () for none.

    Raises CaseError for a case that cannot be used, ValueError if the section cannot be meshed.
    """
    judged = judging.check(
        as_case(case), fineness=fineness, progress=progress, memory=memory, episodes=episodes
    )
    return Answer(**vars(judged))


@dataclass(frozen=True, repr=False)
class ClockView:
    """A clock study as a notebook shows it."""

    study: ClockStudy

    @property
    def remarks(self) -> list[str]:
        """The answer in sentences, and what must be read with it."""
        from sim.report.clock_words import remarks

        return remarks(self.study)

    def table(self) -> Any:
        """A row a position and state as a pandas DataFrame; each name says its unit."""
        import io

        from sim.report.clock import clock_csv

        return pandas().read_csv(io.StringIO(clock_csv(self.study)))

    def figure(self) -> Figure:
        """The curves around the clock as a matplotlib Figure."""
        from sim.report.draw_clock import draw_clock

        return draw_clock(self.study, None)

    def __repr__(self) -> str:
        return f"<clock study of {self.study.case.title}, {self.study.condition}: {len(self.study.placed)} positions>"

    def _repr_html_(self) -> str:
        rows = [[f"{at.clock or 12:g} o'clock", at.impossible or str(at.verdict)] for at in self.study.placed]
        return f"{html_table(['tracer at', 'limits'], rows)}<p>{escape(self.remarks[0])}</p><p>{CAUTION}</p>"


def clock(
    case: Case | str | Path | Mapping[str, Any],
    condition: str | None = None,
    *,
    positions: Sequence[float] = tuple(range(12)),
    **options: Any,
) -> ClockView:
    """The tracers at positions around the clock; options as of sim.study.clock.clock. Raises CaseError."""
    from sim.study.clock import clock as turn

    return ClockView(turn(as_case(case), condition, positions=tuple(map(float, positions)), **options))


@dataclass(frozen=True, repr=False)
class LineView:
    """A line as a notebook shows it: `study` holds the answers by condition, in K, W and m."""

    study: LineStudy

    @property
    def verdict(self) -> str:
        """Of every limit at every place in every condition."""
        return self.study.verdict

    def bill(self) -> Any:
        """Metres of tracer on straight pipe, in elbows and as allowances, as a pandas DataFrame."""
        from sim.report.line import bill

        rows = [(i.what, i.number, i.length, i.each, i.total) for i in bill(self.study)]
        return frame(rows, "what number axis_m tracer_each_m tracer_m")

    def limits(self) -> Any:
        """Every limit at every place and condition as a pandas DataFrame, margins as in `Answer.limits`."""
        rows = []
        for one in self.study.answers:
            for place in one.places:
                for c in place.checks:
                    m = LIMITS[c.limit].measure
                    numbers = (m.shown(c.value), c.band, m.shown(c.allowed), c.left)
                    rows.append(
                        (one.condition, place.label, place.at.get(c.quantity), c.limit, *numbers, c.verdict)
                    )
        return frame(rows, "condition place at_m limit value_degC band_K allowed_degC margin_K verdict")

    def along(self, condition: str = "") -> Any:
        """Coldest wall and contents along the line in one condition (the first, if none is named)."""
        one = next(a for a in self.study.answers if condition in ("", a.condition))
        place, wall, contents = one.along
        columns = (
            place.tolist(),
            *((t - LIMITS["wall_min"].measure.zero).tolist() for t in (wall, contents)),
        )
        return frame(list(zip(*columns, strict=True)), "at_m wall_degC contents_degC")

    def figure(self) -> Figure:
        """Temperature along the line in every condition as a matplotlib Figure."""
        from sim.report.draw_line import draw_line

        return draw_line(self.study, None)

    def __repr__(self) -> str:
        return (
            f"<line {self.study.line.file.title}: {self.verdict}, {len(self.study.line.stations)} stations>"
        )

    def _repr_html_(self) -> str:
        from sim.report.line import nearest

        rows = [
            [c.condition, c.limit, f"{c.place}, {c.at}", c.value, c.margin, c.check.verdict]
            for one in self.study.answers
            for c in nearest(one)
        ]
        heads = ["condition", "limit", "nearest at", "value", "margin", "verdict"]
        title = f"<p><b>{escape(self.study.line.file.title)}</b>: {self.verdict}</p>"
        return f"{title}{html_table(heads, rows)}<p>{CAUTION}</p>"


def line(file: str | Path, folder: str | Path | None = None, **options: Any) -> LineView:
    """A line file put together; its fields are kept in the folder (line-NAME here without one).

    options: as of sim.study.line_run.run_line. Raises CaseError, NotConverged.
    """
    from sim.study.line_file import load_line
    from sim.study.line_run import run_line

    place = Path(folder) if folder is not None else Path(f"line-{Path(file).stem}")
    return LineView(run_line(load_line(file), place, **options))
