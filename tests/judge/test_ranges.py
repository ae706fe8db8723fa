"""Tables used beyond their ends are told of, with what that may be worth."""

import pytest
from plain_lines import FLAT, line

from sim.case import case_for, parse_case
from sim.judge.field_notes import range_notes
from sim.solve.section import solve_section


def notes(**changes: object) -> tuple[str, ...]:
    case = parse_case(line(FLAT, **changes))
    return range_notes(solve_section(case_for(case, case.conditions[0].name), fineness=1.2).solution)


def layer(table: list) -> dict:
    return {"layer": [{"thickness": "40 mm", "conductivity": table}]}


def test_nothing_to_say_within_the_tables() -> None:
    assert notes() == ()
    assert notes(insulation=layer([["-60 degC", "0.02 W/m/K"], ["300 degC", "0.08 W/m/K"]])) == ()


@pytest.mark.parametrize(("slope", "messages"), [(4e-4, True), (2e-6, False)])
def test_insulation_hotter_than_its_table(slope: float, messages: bool) -> None:
    """Beyond the end by some tens of kelvin: told where a straight line on would differ by more than 2 %."""
    table = [["-40 degC", f"{0.03 - 20 * slope} W/m/K"], ["-20 degC", "0.03 W/m/K"]]
    computed = notes(insulation=layer(table))
    assert (
        any("conductivity of layer 1 is known only up to -20 degC" in note for note in computed) == messages
    )


def test_output_table_that_ends_below_the_wall() -> None:
    at = [["-60 degC", "30 W/m"], ["-50 degC", "25 W/m"]]
    computed = notes(tracer=[{**FLAT, "output": {"at": at}}])
    assert len([note for note in computed if note.startswith("the output of") and "-50 degC" in note]) == 1


def test_output_table_that_ends_at_zero_may_be_left() -> None:
    at = [["-60 degC", "0.5 W/m"], ["-50 degC", "0 W/m"]]
    assert notes(tracer=[{**FLAT, "output": {"at": at}}]) == ()
