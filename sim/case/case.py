"""The whole case."""

from __future__ import annotations

from typing import Any

from pydantic import Field, PrivateAttr, model_validator
from pydantic_core import PydanticCustomError

from .covering import Barrier, Insulation, Outside
from .episode import Control, Episode
from .errors import named, refuse
from .fields import Table, Text, declared
from .fitting import Fitting
from .line import Contents, Elbow, Pipe
from .operation import Condition, Design, Limits, Sensor
from .support import Support
from .tracing import Foil, Tracer


def _section(factory: type[Table], meaning: str) -> Any:
    return Field(default_factory=factory, description=meaning, json_schema_extra={"unit": ""})


class Case(Table):
    """One line: its section, its conditions, and what it is judged against. SI and kelvin throughout."""

    title: Text = declared("untitled", "what the case is about")
    tag: Text | None = declared(None, "tag or number of the line, for the report's first page")
    revision: Text | None = declared(None, "revision of this case, for the report's first page")
    pipe: Pipe = declared(..., "the pipe")
    contents: Contents = _section(Contents, "what is in the bore")
    tracers: tuple[Tracer, ...] = declared((), "the tracers", alias="tracer")
    insulation: Insulation = _section(Insulation, "the insulation")
    foil: Foil | None = declared(None, "a foil over the tracers")
    barrier: Barrier | None = declared(None, "the weather barrier")
    outside: Outside = _section(Outside, "the outside surface")
    conditions: tuple[Condition, ...] = declared(..., "operating states, at least one", alias="condition")
    sensors: tuple[Sensor, ...] = declared((), "temperature sensors", alias="sensor")
    supports: tuple[Support, ...] = declared((), "supports along the line", alias="support")
    elbow: Elbow | None = declared(None, "a bend of the line, beside the straight section")
    fittings: tuple[Fitting, ...] = declared((), "fittings along the line", alias="fitting")
    controls: tuple[Control, ...] = declared((), "thermostats and shares of power", alias="control")
    episodes: tuple[Episode, ...] = declared((), "stretches of time", alias="episode")
    limits: Limits = _section(Limits, "limits to judge against")
    design: Design = _section(Design, "the numbers of the simplified design")

    @model_validator(mode="after")
    def _flanges(self) -> Case:
        placed: list[tuple[str, Support | Fitting]] = [
            *named("support", self.supports),
            *named("fitting", self.fittings),
        ]
        for key, one in placed:
            try:
                one.size(self.pipe)
            except PydanticCustomError as error:
                context = error.context or {}
                refuse(str(context["message"]), f"{key}.{context['key']}")
        return self

    _raw: dict[str, Any] | None = PrivateAttr(default=None)
    _source: str = PrivateAttr(default="<dict>")
    _built: dict[str, Case] = PrivateAttr(default_factory=dict)

    def __eq__(self, other: object) -> bool:
        """Equal where every key is: where a case was read from makes no difference."""
        return isinstance(other, Case) and self.__dict__ == other.__dict__

    __hash__ = None  # type: ignore[assignment]

    def model_copy(self, *, update: Any = None, deep: bool = False) -> Case:
        """A copy; a changed one forgets the file it was read from, so nothing stale is rebuilt from it."""
        copy = super().model_copy(update=update, deep=deep)
        if update:
            copy._raw = None
            copy._built = {}
        return copy

    @property
    def interruptions(self) -> tuple[Support | Fitting, ...]:
        """What interrupts the line, each solved in space around it: its supports, then its fittings."""
        return (*self.supports, *self.fittings)

    def __repr__(self) -> str:
        names = ", ".join(condition.name for condition in self.conditions)
        return f"<case {self.title}: {len(self.tracers)} tracers, {len(self.supports)} supports; {names}>"

    __str__ = __repr__
