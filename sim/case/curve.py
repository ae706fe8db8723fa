"""A property over temperature: one value, a table or a polynomial, held at its ends."""

import math
from dataclasses import dataclass, field
from typing import Any, Literal, overload

import numpy as np

from sim.basics import ZERO_CELSIUS
from sim.basics import Array as Array

from .units import rounded

GIVEN = "given in the case"


@dataclass(frozen=True)
class Curve:
    """A property over temperature. Called with kelvin (float or array of any shape), gives SI values.

    kind "constant": `values` has one entry; "table": `values` at `temperatures` (kelvin, increasing), linear
    between them, or linear in the logarithm where `logarithmic`; "polynomial": `values` are coefficients over
    degC, lowest power first. Outside [low, high] (kelvin) the value at the end holds. `source` says where the
    numbers come from.
    """

    kind: Literal["constant", "table", "polynomial"]
    values: tuple[float, ...]
    temperatures: tuple[float, ...] = ()
    low: float = -math.inf
    high: float = math.inf
    logarithmic: bool = False
    source: str = GIVEN
    _x: Array = field(init=False, repr=False, compare=False)
    _y: Array = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        y = np.array(self.values, dtype=float)
        object.__setattr__(self, "_x", np.array(self.temperatures, dtype=float))
        object.__setattr__(self, "_y", np.log(y) if self.logarithmic else y)

    @property
    def is_constant(self) -> bool:
        """True where the temperature makes no difference."""
        return len(self.values) == 1

    @overload
    def __call__(self, temperature: float) -> float: ...
    @overload
    def __call__(self, temperature: Array) -> Array: ...
    def __call__(self, temperature: float | Array) -> float | Array:
        """Value at a temperature in kelvin; a float gives a float, an array an array of the same shape."""
        kelvin = np.asarray(temperature, dtype=float)
        if self.is_constant:
            result = np.full(kelvin.shape, self.values[0])
        elif self.kind == "table":
            result = np.interp(kelvin, self._x, self._y)
            result = np.exp(result) if self.logarithmic else result
        else:
            celsius = np.clip(kelvin, self.low, self.high) - ZERO_CELSIUS
            result = np.polynomial.polynomial.polyval(celsius, self._y)
        return result if isinstance(temperature, np.ndarray) else float(result)

    def extremes(self) -> tuple[float, float]:
        """Smallest and largest value over the range."""
        if self.kind == "polynomial" and not self.is_constant:
            values = self(self._turns())
            return float(values.min()), float(values.max())
        return min(self.values), max(self.values)

    def _turns(self) -> Array:
        """Temperatures (n,), K, where a polynomial can be smallest or largest: its ends, and where its slope is 0."""
        slope = np.trim_zeros(np.polynomial.polynomial.polyder(self._y), "b")
        roots = np.polynomial.polynomial.polyroots(slope) if len(slope) > 1 else np.zeros(0)
        flat = roots[np.abs(roots.imag) < 1e-6 * (1.0 + np.abs(roots))].real + ZERO_CELSIUS
        return np.array([self.low, self.high, *flat[(flat > self.low) & (flat < self.high)]])

    def farthest_outside(self, low: float, high: float) -> float:
        """The temperature, K, of the value of a polynomial that leaves [low, high] the most."""
        turns = self._turns()
        values = self(turns)
        return float(turns[np.argmax(np.maximum(low - values, values - high))])

    def in_words(self, unit: str) -> str:
        """Short description for a report."""
        if self.is_constant:
            return f"{self.values[0]:g} {unit}"
        span = f"{self.low - ZERO_CELSIUS:.0f}..{self.high - ZERO_CELSIUS:.0f} degC"
        if self.kind == "polynomial":
            powers = ("", " T", *(f" T^{n}" for n in range(2, len(self.values))))
            terms = " + ".join(f"{c:g}{p}" for c, p in zip(self.values, powers, strict=False)).replace(
                "+ -", "- "
            )
            return f"{terms} {unit} (T in degC, {span})"
        values = f"{min(self.values):.3g}..{max(self.values):.3g}"
        return f"table of {len(self.values)} points, {values} {unit} ({span})"


def constant(value: float, source: str = GIVEN) -> Curve:
    """A property that does not depend on temperature."""
    return Curve("constant", (float(value),), source=source)


def table(celsius: Any, values: Any, source: str, *, logarithmic: bool = False) -> Curve:
    """A property tabled over degC (increasing)."""
    kelvin = tuple(rounded(float(t) + ZERO_CELSIUS) for t in celsius)
    return Curve("table", tuple(float(v) for v in values), kelvin, kelvin[0], kelvin[-1], logarithmic, source)


def polynomial(coefficients: Any, low_celsius: float, high_celsius: float, source: str) -> Curve:
    """A property as a polynomial over degC, lowest power first, held outside the range."""
    low, high = low_celsius + ZERO_CELSIUS, high_celsius + ZERO_CELSIUS
    return Curve("polynomial", tuple(float(c) for c in coefficients), low=low, high=high, source=source)
