"""Every number of a condition over time: constant, as a series, and from a jump on. Every value is invented."""

import tomllib
from typing import Any

import numpy as np
import pytest
from plain_lines import FLAT, STORE, line

from sim.case import Case, case_for, parse_case, resolved, to_toml
from sim.heat.network import network
from sim.heat.outlets import outside
from sim.heat.tracer import tracer_watts
from sim.solve.drive import Drive, jumps
from sim.solve.episode import follow, standard_record

SUN = {"absorptivity": 0.6, "irradiance": "300 W/m2", "clock": 2}
# key, what a condition of its own would say of it, a series that leaves that value for another at 2 h
KEYS: dict[str, tuple[dict[str, Any], Any, Any]] = {
    "ambient": ({"ambient": "-4 degC"}, "-4 degC", ["-4 degC", "-20 degC"]),
    "wind": ({"wind": "3 m/s"}, "3 m/s", ["3 m/s", "12 m/s"]),
    "wind_from": ({"wind": "5 m/s", "wind_from": 3}, 3, [3, 9]),
    "supply": ({"supply": 0.5}, 0.5, [0.5, 1.1]),
    "contents_temperature": ({"contents": {"temperature": "12 degC"}}, "12 degC", ["12 degC", "30 degC"]),
    "sun.irradiance": ({"sun": SUN}, SUN, ["300 W/m2", "900 W/m2"]),
    "sun.absorptivity": ({"sun": SUN}, SUN, [0.6, 0.1]),
    "sun.clock": ({"sun": SUN}, SUN, [2, 7]),
    "sun.diffuse": ({"sun": SUN | {"diffuse": "80 W/m2"}}, SUN | {"diffuse": "80 W/m2"}, ["80 W/m2", "300 W/m2"]),
    "sun.reflected": ({"sun": SUN | {"reflected": "50 W/m2"}}, SUN | {"reflected": "50 W/m2"}, ["50 W/m2", "200 W/m2"]),
    "sky.temperature": ({"sky": {"temperature": "-40 degC"}}, {"temperature": "-40 degC"}, ["-40 degC", "-80 degC"]),
    "sky.dew_point": ({"sky": {"dew_point": "-14 degC"}}, {"dew_point": "-14 degC"}, ["-14 degC", "-40 degC"]),
    "sky.cloud": (
        {"sky": {"dew_point": "-14 degC", "cloud": 1.0}},
        {"dew_point": "-14 degC", "cloud": 1.0},
        [1.0, 0.0],
    ),
    "rain": ({"rain": True}, True, [True, False]),
}  # fmt: skip
ANGLE = np.radians(np.arange(0.0, 360.0, 15.0))
ROWS = ("condition", "constant", "series", "change")


def case(key: str, row: str) -> Case:
    """A line whose key is as the condition's own; a constant of the episode; a series; a jump at 2 h."""
    own, value, (one, other) = KEYS[key]
    table, _, inner = key.partition(".")
    flowing = (
        {"state": "flowing", "temperature": "5 degC", "velocity": "0.1 m/s"} if "contents" in own else {}
    )
    output = {"power": "20 W/m", "voltage_exponent": 2}
    raw = line(FLAT | {"output": output}, outside={}, pipe__material="carbon steel")
    raw["contents"] |= flowing
    windy = {"wind": own["wind"]} if key == "wind_from" else {}
    episode: dict[str, Any] = {"name": "E", "condition": "now", "lasts": "4 h"}
    raw["condition"][0] |= own if row == "condition" else windy
    over = {"at": [["0 h", one], ["2 h", one], ["2.01 h", other]]}
    if row == "constant":
        episode[key if not inner else table] = value
    elif row == "series":
        episode[table] = value | {inner: over} if inner else over
    elif row == "change":
        episode[table] = value
        episode["change"] = [{"at": "2 h", table: value | {inner: other} if inner else other}]
    raw["episode"] = [episode]
    return parse_case(raw)


def leaving(whole: Case, begin: float, time: float) -> np.ndarray:
    """What a moment's condition does to the line: the film's conductance and the temperature that heat goes to around
    the outside, the tracer's watts, and the contents' temperature."""
    there = Drive(case_for(whole, "now"), whole.episodes[0], begin).at(time)
    condition, surface = there.conditions[0], np.full(ANGLE.shape, 275.0)
    film = outside(there, 0.107, surface, ANGLE)
    watts = float(tracer_watts(there.tracers[0], condition, 280.0))
    return np.concatenate([film.conductance, film.temperature, [watts, there.contents.temperature or 0.0]])


@pytest.mark.parametrize("key", KEYS)
def test_every_key_over_time(key: str) -> None:
    """A constant is the condition's; a series and a jump are that up to 2 h, and then another, both the same."""
    computed = {row: case(key, row) for row in ROWS}
    still = leaving(computed["condition"], 0.0, 0.0)
    for begin, time in ((0.0, 0.0), (0.0, 5000.0), (7236.0, 9000.0)):
        assert leaving(computed["constant"], begin, time) == pytest.approx(still)
    for row in ("series", "change"):
        assert leaving(computed[row], 0.0, 5000.0) == pytest.approx(still)
        assert np.abs(leaving(computed[row], 7236.0, 9000.0) - still).max() > 0.01
    later = [leaving(computed[row], 7236.0, 9000.0) for row in ("series", "change")]
    assert later[0] == pytest.approx(later[1])
    assert 7200.0 in jumps(computed["series"].episodes[0])


def test_sun_sky_and_rain_come_and_go_and_energy_closes() -> None:
    """Sun and sky from the start, rain from 30 min to 60 min, in which nothing of either is left; a jump ends it."""
    whole = case("sun.irradiance", "constant")
    raw = resolved(whole)
    raw["episode"][0] |= {
        "lasts": "2 h",
        "rain": {"at": [["0 h", False], ["30 min", True], ["60 min", False]]},
        "sky": {"temperature": "-40 degC"},
        "change": [{"at": "90 min", "sun": SUN | {"irradiance": "0 W/m2"}}],
    }
    whole = parse_case(raw)
    narrowed = case_for(whole, "now")
    net = network(narrowed, STORE.get(narrowed, 0.4))
    track = follow(net, whole.episodes[0], (), np.full(net.nodes, 270.0), 0.05, standard_record)
    assert abs(track.closure) < 1e-7
    time, sun = np.array(track.time), np.array(track.values["from_sun"])
    assert len(time) == len(sun)
    for minute, shines in ((15, True), (45, False), (75, True), (105, False)):
        assert (sun[np.argmin(np.abs(time - 60 * minute))] > 1.0) == shines


@pytest.mark.parametrize("key", KEYS)
def test_written_out_and_read_again(key: str) -> None:
    for row in ROWS:
        whole = case(key, row)
        again = parse_case(tomllib.loads(to_toml(whole)))
        assert again.episodes == whole.episodes
