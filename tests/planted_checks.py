"""Checks planted for the tests of the command: one that passes, and ones that fail in every way a check can."""

import sys
from types import ModuleType

import pytest

from validation.published import run as running
from validation.published.rows import Row
from validation.published.run import Check

SOURCE = "@carslaw1959, section 7"


def row(computed: float = 1.0, quantity: str = "heat", **more: float) -> Row:
    return Row("planted", SOURCE, quantity, 1.0, computed, 0.5, "half of it", "W", **more)


def right() -> list[Row]:
    """A check that passes. What follows is not its title."""
    return [row(1.1, band=0.2)]


def many() -> list[Row]:
    """A check of many numbers."""
    return [row(1.0 + 0.01 * i, f"number {i}") for i in range(12)]


def wrong() -> list[Row]:
    """A check that fails."""
    return [row(2.0, "too much"), row(1.0, "right")]


def endless() -> list[Row]:
    """A check that finds no number."""
    return [row(float("nan"))]


def stops() -> list[Row]:
    """A check that stops."""
    raise ValueError("no file /home/somebody/secret/case.toml for W/m/K")


def unsourced() -> list[Row]:
    """A check whose number is nobody's."""
    return [Row("planted", "a handbook", "heat", 1.0, 1.0, 0.5, "half of it", "W")]


def nothing() -> list[Row]:
    """A check that compares nothing."""
    return []


def elsewhere() -> list[Row]:
    """A check that needs a package which is not here."""
    raise ImportError("no_such_package")


def interrupted() -> list[Row]:
    """A check during which the keyboard is used."""
    raise KeyboardInterrupt


def plant(
    monkeypatch: pytest.MonkeyPatch, *checks: object, needs: tuple[str, ...] = (), **long: object
) -> None:
    """The registry with one module, `planted`, of these checks; long=(...) run in the whole set only."""
    module = ModuleType("validation.checks.planted", "Planted checks.")
    module.GROUPS = tuple(check for check in checks if check is not elsewhere)  # type: ignore[attr-defined]
    module.LONG = long.get("long", ())  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, module.__name__, module)
    absent = (Check("absent", True, ("no_such_package",)),) if elsewhere in checks else ()
    planted = (Check("planted", True, needs),) if module.GROUPS or module.LONG else ()
    monkeypatch.setattr(running, "CHECKS", planted + absent)
