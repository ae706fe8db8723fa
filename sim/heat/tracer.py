"""What a tracer gives off in one condition: supply, tolerance and the wall temperature beneath it."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from sim.basics import Array

if TYPE_CHECKING:
    from sim.case import Case, Condition, Tracer


def tolerance_factor(tracer: "Tracer", condition: "Condition") -> float:
    """Share of the stated output: 1 less tolerance, 1, or 1 plus it, for low, nominal, high; 0 if off."""
    if not tracer.on:
        return 0.0
    return 1.0 + {"low": -1.0, "nominal": 0.0, "high": 1.0}[condition.output] * tracer.tolerance


def tracer_watts(tracer: "Tracer", condition: "Condition", wall_temperature: ArrayLike) -> Array:
    """Heat of the tracer, W/m, with the pipe wall beneath it at `wall_temperature` in K; same shape."""
    watts = tracer.output.watts(np.asarray(wall_temperature, dtype=float), condition.supply)
    return tolerance_factor(tracer, condition) * np.asarray(watts, dtype=float)


def tracer_slope(tracer: "Tracer", condition: "Condition", wall_temperature: ArrayLike) -> Array:
    """Derivative of `tracer_watts` by the wall temperature, W/(m K); 0 unless self-regulating."""
    slope = tracer.output.slope(np.asarray(wall_temperature, dtype=float), condition.supply)
    return tolerance_factor(tracer, condition) * np.asarray(slope, dtype=float)


def scaled_outputs(case: "Case", factor: "Callable[[Tracer], float]") -> "Case":
    """The case with every tracer's output multiplied by its factor, at every temperature."""

    def scaled(tracer: "Tracer") -> "Tracer":
        output, by = tracer.output, factor(tracer)
        power = None if output.power is None else by * output.power
        at = None if output.at is None else tuple((t, by * q) for t, q in output.at)
        changed = type(output).model_construct(power=power, at=at, voltage_exponent=output.voltage_exponent)
        return tracer.model_copy(update={"output": changed})

    return case.model_copy(update={"tracers": tuple(scaled(t) for t in case.tracers)})
