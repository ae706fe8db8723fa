"""Sensors: what they read and how far from the tracers they sit."""

import pytest
from plain_lines import FLAT, line, only

from sim.judge.sensors import clock_distance, read_sensors
from sim.solve.at_rest import MeshStore
from sim.solve.section import solve_section


@pytest.mark.parametrize(
    ("a", "b", "hours"),
    [(1, 11, 2), (11, 1, 2), (0, 12, 0), (6, 12, 6), (3, 9, 6), (5.5, 5.0, 0.5), (0, 6.5, 5.5)],
)
def test_distance_goes_the_short_way(a: float, b: float, hours: float) -> None:
    assert clock_distance(a, b) == pytest.approx(hours)


def test_readings_offsets_and_distances() -> None:
    sensors = [{"name": n, "clock": c} for n, c in (("near", 4.0), ("edge", 2.0), ("far", 11.0))]
    raw = line(FLAT | {"clock": 5.0}, FLAT | {"name": "T2", "clock": 8.0}, sensor=sensors)
    result = solve_section(only(raw), MeshStore(), 1.2)
    readings = {r.name: r for r in read_sensors(result)}
    assert (readings["near"].nearest_tracer, readings["near"].hours_away) == ("T1", pytest.approx(1.0))
    assert not readings["near"].keeps_distance
    assert readings["edge"].keeps_distance  # 90 degrees is far enough
    assert readings["far"].nearest_tracer == "T2"
    assert readings["far"].hours_away == pytest.approx(3.0)
    for reading in readings.values():
        assert reading.above_wall == pytest.approx(reading.reading.value - result.value("wall.min"))
        assert reading.above_contents == pytest.approx(reading.reading.value - result.value("contents.min"))
        assert reading.above_wall >= -1e-9
    assert readings["near"].reading.value > readings["far"].reading.value


def test_a_line_without_tracers_keeps_every_distance() -> None:
    raw = line(
        sensor=[{"name": "S1", "clock": 3}],
        contents__state="flowing",
        contents__temperature="20 degC",
        contents__film_coefficient="100 W/m2/K",
    )
    (reading,) = read_sensors(solve_section(only(raw), MeshStore(), 1.0))
    assert reading.nearest_tracer is None
    assert reading.keeps_distance
