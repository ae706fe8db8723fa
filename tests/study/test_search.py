"""The search on rules whose answer is known."""

from types import SimpleNamespace

import pytest
from frames import frame

from sim.study.axes import Point
from sim.study.band import Bands
from sim.study.search import Space, Step, bisect, judged


def number_space(low: float, high: float, within: float) -> Space:
    return Space("x", "mm", (), low, high, within, lambda v: Point(f"{v:g} mm", v, ()))


def rule(met):
    return lambda point: Step(point, met(point.number), 0.0, "")


@pytest.mark.parametrize("threshold", [10.0, 10.3, 28.6, 77.7, 119.9])
def test_least_number_within_the_tolerance(threshold: float) -> None:
    search = bisect(number_space(10.0, 120.0, 0.5), rule(lambda v: v >= threshold), "it")
    assert search.least is not None
    assert threshold <= search.least.number <= threshold + 0.5
    assert search.below is None or search.below.number < threshold
    assert len(search.path) <= 11


def test_nothing_meets_it() -> None:
    search = bisect(number_space(0.0, 100.0, 1.0), rule(lambda v: False), "it")
    assert search.least is None
    assert "No value of x" in search.in_words()


@pytest.mark.parametrize("threshold", [1, 2, 3, 4])
def test_least_of_a_list(threshold: int) -> None:
    points = tuple(Point(str(n), float(n), ()) for n in (1, 2, 3, 4))
    search = bisect(Space("n", "", points), rule(lambda v: v >= threshold), "it")
    assert search.least == points[threshold - 1]
    tried = [step.point.number for step in search.path]
    assert len(tried) == len(set(tried))


def judged_by(margins: dict[str, list[float]], band: float, **search: object) -> Step:
    """One value of a search judged from made-up rows."""
    file = SimpleNamespace(
        search=SimpleNamespace(**{"probability": None, "margin": "0 K"} | search),
        sampling=SimpleNamespace(confidence=0.95),
    )
    paths = {limit: limit.replace("_", ".") for limit in margins}
    n = len(next(iter(margins.values())))
    made = frame(values={"c": {p: [280.0] * n for p in paths.values()}}, margins={"c": margins})
    bands = Bands({}, {"c": dict.fromkeys(paths.values(), band)}, {}, 1)
    study = SimpleNamespace(file=file, source="study.toml")
    return judged(study, Point("40 mm", 40.0, ()), made, bands)  # type: ignore[arg-type]


def test_a_value_meets_its_limits_only_beyond_the_band() -> None:
    step = judged_by({"wall_min": [3.0], "contents_min": [1.0]}, 0.4)
    assert (step.met, step.merit) == (True, pytest.approx(0.6))
    assert not judged_by({"wall_min": [0.3]}, 0.4).met
    assert not judged_by({"wall_min": [3.0]}, 0.4, margin="2.7 K").met
    assert judged_by({"wall_min": [3.0]}, 0.4, margin="2.5 K").met


def test_a_probability_is_met_by_the_low_end_of_its_interval() -> None:
    """60 of 60 hold: the low end is 0.025^(1/60) = 0.940 (Clopper and Pearson 1934)."""
    sure = {"wall_min": [3.0] * 60}
    assert judged_by(sure, 0.4, probability=0.93).met
    assert not judged_by(sure, 0.4, probability=0.95).met
