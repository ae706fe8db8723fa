"""Tables of the case for its operation: conditions, sensors, limits, and what the design said."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, model_validator

from .episode import Duration
from .errors import refuse
from .fields import Clock, Difference, Name, Power, Speed, Switch, Table, Temperature, declared, fraction
from .sun_and_sky import Sky, Sun
from .units import write_quantity

OVERRIDABLE = (
    *("pipe", "contents", "tracer", "insulation", "foil", "barrier"),
    *("outside", "sensor", "support", "limits", "design"),
)


class Condition(Table):
    """One named operating state of the line. Any key of the case may be overridden in it."""

    further_keys: ClassVar[tuple[str, ...]] = OVERRIDABLE

    name: Name = declared(..., "name of the condition")
    ambient: Temperature = declared(..., "ambient temperature")
    wind: Speed = declared(0.0, "wind speed")
    wind_from: Clock | None = declared(
        None, "clock position the wind blows from; without it the film is uniform"
    )
    supply: Annotated[float, fraction(0.0, 1.5)] = declared(1.0, "supply voltage as a fraction of nominal")
    output: Literal["low", "nominal", "high"] = declared(
        "nominal", "which end of each tracer's tolerance: low, nominal or high"
    )
    sun: Sun | None = declared(None, "the sun on the outer surface; not counted where it is not given")
    sky: Sky | None = declared(
        None, "the sky above; without it all surroundings are at the ambient temperature"
    )
    rain: Switch = declared(False, "rain keeps the outer surface wet, at the ambient temperature")
    overrides: dict[str, Any] = Field(default_factory=dict, exclude=True)

    @model_validator(mode="after")
    def _outdoors(self) -> Condition:
        for key in ("sun", "sky"):
            if self.rain and getattr(self, key) is not None:
                refuse("has no effect beside rain, which keeps the surface at the ambient temperature", key)
        dew = self.sky.dew_point if self.sky is not None else None
        if dew is not None and dew > self.ambient:
            refuse(
                f"is above the ambient; accepted: at most {write_quantity(self.ambient, 'temperature')}",
                "sky.dew_point",
            )
        return self

    @model_validator(mode="before")
    @classmethod
    def _gather_overrides(cls, data: Any) -> Any:
        if not isinstance(data, dict):
            return data
        for key in ("condition", "title", "overrides"):
            if key in data:
                refuse(
                    f"cannot be overridden in a condition; accepted: keys of {', '.join(OVERRIDABLE)}", key
                )
        plain = {key: value for key, value in data.items() if key not in OVERRIDABLE}
        overrides = {key: value for key, value in data.items() if key in OVERRIDABLE}
        return plain | {"overrides": overrides}


class Sensor(Table):
    """A temperature sensor on the pipe's outer surface."""

    name: Name = declared(..., "name of the sensor")
    clock: Clock = declared(..., "clock position on the pipe")
    time_constant: Duration = declared(
        0.0, "its reading follows the pipe's surface with this time constant; 0 follows at once"
    )


class Limits(Table):
    """Limits to judge against; one that is not given is not judged."""

    contents_min: Temperature | None = declared(None, "lowest temperature allowed anywhere in the contents")
    wall_min: Temperature | None = declared(None, "lowest temperature allowed in the pipe wall")
    wall_max: Temperature | None = declared(None, "highest temperature allowed in the pipe wall")
    sheath_max: Temperature | None = declared(None, "highest temperature allowed on a tracer's sheath")
    barrier_max: Temperature | None = declared(None, "highest temperature allowed on the outside surface")
    margin: Difference | None = declared(
        None, "margin that every limit must keep besides, for what is uncertain"
    )
    output_margin: Annotated[float, fraction(0.0, 0.9)] | None = declared(
        None, "share of the tracers' output that may be lost with contents_min and wall_min still met"
    )


class Design(Table):
    """What the simplified design said, to be set beside the field's numbers."""

    maintain: Temperature | None = declared(None, "maintain temperature")
    heat_loss: Power | None = declared(None, "heat loss of the design")
    output: Power | None = declared(None, "tracer output of the design at the maintain temperature")
    sheath: Temperature | None = declared(None, "sheath temperature of the design")
    margin: Annotated[float, fraction(-1.0, 100.0)] | None = declared(
        None, "margin of output over loss, a fraction"
    )
