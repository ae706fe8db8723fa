"""The study file: what is varied, how, and what is kept. Every key is declared once, as in the case."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from sim.case.errors import refuse
from sim.case.fields import Name, Table, Text, declared, fraction, number
from sim.case.text import steers
from sim.case.units import shown

MANY = 10_000  # variants; more than this is asked about first
MOST_VALUES = 100_000  # on one axis


def _count(low: int, high: int) -> Any:
    def parse(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            refuse(f"{shown(value)} is not a whole number; accepted: {low} to {high}")
        if not low <= value <= high:
            refuse(f"{value} is outside what is accepted: {low} to {high}")
        return value

    return BeforeValidator(parse)


def _scalar(value: object) -> object:
    if isinstance(value, str) and steers(value):
        refuse("holds a control character; accepted: printable text")
    if isinstance(value, bool | int | float | str):
        return value
    return refuse(f'{shown(value)} is neither a plain number nor text with a unit, such as 5 or "60 mm"')


def _given(value: list[Any]) -> list[Any]:
    if not value:
        refuse("is empty; accepted: a list of values")
    return value


def _names_of(what: str) -> Any:
    def parse(value: object) -> object:
        names = isinstance(value, list) and value and all(isinstance(name, str) for name in value)
        if value is None or value in ("all", "none") or names:
            return value
        return refuse(
            f'{shown(value)} is not accepted; accepted: "all", "none", or a list of names of {what}'
        )

    return BeforeValidator(parse)


Scalar = Annotated[Any, BeforeValidator(_scalar)]
Values = Annotated[list[Any], AfterValidator(_given)]
Mode = Literal["value", "factor", "shift"]
_MODE = (
    'what the values are: "value" (as the case writes them), "factor" (of the case\'s own value, tables too) '
    'or "shift" (added to it)'
)


class Choice(Table):
    """One point of an axis of named choices: any keys of the case, set together."""

    name: Name = declared(..., "what the choice is called in tables and charts")
    set: dict[str, Any] = declared({}, "keys of the case and their values, nested or dotted")


class Axis(Table):
    """One thing that is varied: a key over a list or a range, or named choices."""

    key: Text | None = declared(
        None, "key of the case, such as insulation.layer.1.thickness, tracer.*.output, condition.*.wind"
    )
    name: Name | None = declared(None, "what the axis is called; default its key")
    mode: Mode = declared("value", _MODE, alias="as")
    values: Values | None = declared(None, "list of values, as the case writes them")
    start: Scalar | None = declared(None, "or a range: its first value", alias="from")
    stop: Scalar | None = declared(None, "its last value", alias="to")
    count: Annotated[int, _count(2, MOST_VALUES)] | None = declared(None, "number of values of the range")
    step: Scalar | None = declared(None, "or the step of the range")
    clocks: Values | None = declared(
        None, "for tracer.count: one list of clock positions for each number of tracers"
    )
    choices: tuple[Choice, ...] = declared((), "or named choices", alias="choice")
    pair: Name | None = declared(None, "axes with the same word here step together instead of being crossed")

    @model_validator(mode="after")
    def _one_way(self) -> Axis:
        if self.choices:
            for other in ("key", "values", "start", "step", "clocks"):
                if getattr(self, other) is not None:
                    refuse("is given beside choices; accepted: one of them", "choice")
            names = [choice.name for choice in self.choices]
            if len(set(names)) < len(names):
                refuse("two choices have the same name", "choice")
            if self.name is None:
                refuse("is missing: an axis of choices needs a name", "name")
            return self
        if self.key is None:
            refuse("is missing; accepted: a key of the case, or choices", "key")
        ranged = self.start is not None or self.stop is not None
        if (self.values is not None) + ranged + (self.clocks is not None) != 1:
            refuse("needs exactly one of: values, a range (from, to), choices", "values")
        if ranged and (self.start is None or self.stop is None):
            refuse("is missing: a range needs from and to", "from" if self.start is None else "to")
        if ranged and (self.count is None) == (self.step is None):
            refuse("a range needs exactly one of: count, step", "count")
        if not ranged and (self.count is not None or self.step is not None):
            refuse("belongs to a range (from, to)", "count" if self.count is not None else "step")
        return self


class Uncertain(Table):
    """One input that is only roughly known."""

    key: Text = declared(..., "key of the case")
    name: Name | None = declared(None, "what the input is called; default its key")
    mode: Mode = declared("value", _MODE, alias="as")
    distribution: Literal["normal", "lognormal", "uniform", "triangular"] = declared(
        ...,
        "normal (mean, spread), lognormal (median, spread), uniform (low, high), triangular (low, mode, high)",
    )
    mean: Scalar | None = declared(None, "mean of a normal distribution")
    median: Scalar | None = declared(None, "median of a lognormal distribution")
    spread: Scalar | None = declared(
        None, "standard deviation; of a lognormal: of its natural logarithm, a plain number"
    )
    low: Scalar | None = declared(None, "least value; cuts a normal or lognormal distribution")
    high: Scalar | None = declared(None, "largest value")
    mode_value: Scalar | None = declared(None, "most likely value of a triangular distribution", alias="mode")

    @model_validator(mode="after")
    def _parameters(self) -> Uncertain:
        expected = {
            "normal": ("mean", "spread"),
            "lognormal": ("median", "spread"),
            "uniform": ("low", "high"),
            "triangular": ("low", "mode", "high"),
        }[self.distribution]
        cut = () if self.distribution in ("uniform", "triangular") else ("low", "high")
        for key in ("mean", "median", "spread", "low", "high", "mode"):
            value = self.mode_value if key == "mode" else getattr(self, key)
            if key in expected and value is None:
                refuse(f"is missing: {self.distribution} needs {', '.join(expected)}", key)
            if value is not None and key not in expected + cut:
                refuse(f"does not belong to {self.distribution}; accepted: {', '.join(expected + cut)}", key)
        return self


class Correlation(Table):
    """Two uncertain inputs that go together."""

    between: tuple[Text, Text] = declared(..., "names (or keys) of two uncertain inputs")
    rank: Annotated[float, number(-0.999, 0.999)] = declared(..., "their rank correlation (Spearman)")


class Sampling(Table):
    """How the uncertain inputs are sampled."""

    method: Literal["latin hypercube", "sobol", "saltelli"] = declared(
        "latin hypercube",
        "latin hypercube, sobol (a scrambled Sobol sequence), or saltelli (the pairs that Sobol indices need: "
        "samples times (inputs + 2) variants)",
    )
    samples: Annotated[int, _count(2, 10_000_000)] = declared(
        128, "number of samples; a power of 2 for Sobol"
    )
    seed: Annotated[int, _count(0, 2**31)] = declared(1, "seed: the same seed gives the same samples")
    confidence: Annotated[float, fraction(0.5, 0.9999)] = declared(0.95, "confidence of the intervals")


class Search(Table):
    """The least value of one key that meets every limit in every condition."""

    key: Text = declared(..., "key of the case that is searched, or tracer.count")
    name: Name | None = declared(None, "what it is called; default its key")
    mode: Mode = declared("value", _MODE, alias="as")
    low: Scalar | None = declared(None, "least value of the bracket")
    high: Scalar | None = declared(None, "largest value of the bracket")
    within: Scalar | None = declared(None, "how closely the least value is wanted, in the same unit")
    values: Values | None = declared(None, "or the values that can be had, from less to more")
    clocks: Values | None = declared(None, "for tracer.count: clock positions for each number of tracers")
    margin: Scalar = declared("0 K", "margin by which every limit must be cleared, beyond the numerical band")
    probability: Annotated[float, fraction(0.01, 0.9999)] | None = declared(
        None, "with uncertain inputs: the probability wanted (its lower confidence bound must reach it)"
    )

    @model_validator(mode="after")
    def _one_way(self) -> Search:
        ranged = [k for k in ("low", "high", "within") if getattr(self, k) is not None]
        if (self.values is not None) + bool(ranged) + (self.clocks is not None) != 1:
            refuse("needs exactly one of: values, clocks, or low with high and within", "values")
        if ranged and len(ranged) < 3:
            missing = next(k for k in ("low", "high", "within") if k not in ranged)
            refuse("is missing: a bracket needs low, high and within", missing)
        return self


class StudyFile(Table):
    """A study: one case, what is varied in it, and what is asked."""

    title: Text = declared("untitled study", "what the study is about")
    case: Text = declared(..., "the case file, its path from the study file")
    conditions: list[Any] | None = declared(None, "names of the case's conditions to run; default all")
    meshes: Literal[1, 3] = declared(
        1,
        "1: one mesh a variant, bands from reference variants; 3: three meshes and a band for every variant",
    )
    fineness: Annotated[float, number(0.75, 6.0)] | None = declared(
        None, "fineness of the mesh (of the finest of three); default 1.5 for one mesh, 3 for three"
    )
    references: Annotated[int, _count(1, 50)] = declared(
        5, "how many variants are solved on three meshes to give the band of the others"
    )
    keep: list[Any] | None = declared(
        None, "results shown, such as contents.min, tracers.*.sheath_max, heat_out; all are stored"
    )
    supports: Annotated[Any, _names_of("supports")] = declared(
        None,
        'supports that are computed in every variant: "all", names, or "none"; default all, unless that takes long',
    )
    episodes: Annotated[Any, _names_of("episodes")] = declared(
        None, 'episodes that are followed in every variant: "all", names, or "none"; default none'
    )
    axes: tuple[Axis, ...] = declared((), "what is varied", alias="axis")
    uncertain: tuple[Uncertain, ...] = declared((), "inputs only roughly known")
    sampling: Sampling = Field(default_factory=Sampling, description="how they are sampled")
    correlations: tuple[Correlation, ...] = declared((), "inputs that go together", alias="correlation")
    search: Search | None = declared(None, "a design search")

    @model_validator(mode="after")
    def _something(self) -> StudyFile:
        if not self.axes and not self.uncertain and self.search is None:
            refuse("nothing is varied; accepted: [[axis]], [[uncertain]] or [search]", "axis")
        if self.search is not None and self.axes:
            refuse("is given beside axes; accepted: one of them in a study", "search")
        if self.search is not None and self.search.probability is not None and not self.uncertain:
            refuse("needs [[uncertain]] inputs", "search.probability")
        if self.uncertain and self.search is not None and self.search.probability is None:
            refuse(
                "is missing: with uncertain inputs a search needs the probability wanted",
                "search.probability",
            )
        method, samples = self.sampling.method, self.sampling.samples
        if self.uncertain and method != "latin hypercube" and samples & (samples - 1):
            refuse(
                f"{samples} is not a power of 2, which {method} needs (64, 128, 256, ...)", "sampling.samples"
            )
        if self.correlations and method == "saltelli":
            refuse(
                "Sobol indices need independent inputs; accepted: latin hypercube or sobol", "sampling.method"
            )
        return self
