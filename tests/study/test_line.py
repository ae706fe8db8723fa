"""A line of stretches, supports and elbows: bill, balance, the mirrored order, the store, and what is refused."""

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomli_w
from support_lines import line as case_raw
from typer.testing import CliRunner

from sim.case import Case, CaseError, case_for, load_case, parse_case
from sim.cli import app
from sim.judge import check as judging
from sim.report.line import bill, lines, results
from sim.report.line_page import line_page, write_line
from sim.solve.convergence import Banded
from sim.solve.support_meshes import solve_support
from sim.study.line import answer, kinds_of
from sim.study.line_episodes import coldest_over_time, over_time
from sim.study.line_file import Line, load_line
from sim.study.line_pieces import Sink, piece_of, solve_outputs
from sim.study.line_run import LineStudy, run_line
from sim.study.stations import BEND, SECTION, Facts, Kind, facts, output_at

SHOE, ELBOW = {"support": "S1"}, {"elbow": "90 deg"}


def narrowed(raw: dict[str, Any]) -> Case:
    return case_for(parse_case(raw), "a")


@cache
def solved(case: int, what: str) -> Facts:
    """Facts of the tests' one case, on coarse meshes; flowing where case is 1."""
    return facts(Kind(narrowed(raw(flowing=bool(case))), what, 1.0))


def raw(flowing: bool = False) -> dict[str, Any]:
    flow = {"state": "flowing", "temperature": "60 degC", "velocity": "0.02 m/s", "fluid": "water"}
    more: dict[str, Any] = {"contents": flow} if flowing else {}
    limits = {"wall_min": "10 degC", "contents_min": "10 degC", "wall_max": "90 degC"}
    limits |= {"sheath_max": "90 degC", "barrier_max": "60 degC"}
    return case_raw({"allowance": "0.4 m"}, elbow={"radius": "1.5 D"}, limits=limits, **more)


def written(folder: Path, stretches: list[dict[str, Any]], flowing: bool = False) -> Path:
    (folder / "case.toml").write_text(tomli_w.dumps(raw(flowing)))
    file = folder / "line.toml"
    file.write_text(tomli_w.dumps({"title": "a line (invented)", "case": "case.toml", "stretch": stretches}))
    return file


def stretch(name: str, length: float, *stations: dict[str, Any]) -> dict[str, Any]:
    return {"name": name, "length": f"{length} m", "station": list(stations)}


STRETCHES = [
    stretch("one", 20, {"support": "S1", "at": ["3 m", "9 m"]}, {"elbow": "90 deg", "at": ["15 m"]}),
    stretch("two", 10, {"support": "S1", "at": ["4 m"], "allowance": "0 m"}),
]


def known_of(laid: Line, case: int = 0) -> dict[Any, Facts]:
    return {key: solved(case, key[1]) for key in kinds_of(laid)}


def answered(file: Path, flowing: bool = False) -> Any:
    laid = load_line(file)
    return answer(laid, "a", known_of(laid, int(flowing)))


@pytest.fixture
def study(tmp_path: Path) -> LineStudy:
    laid = load_line(written(tmp_path, STRETCHES))
    known = known_of(laid)
    return LineStudy(laid, (answer(laid, "a", known),), {"a": known}, 0, 3, 0.0)


@pytest.mark.parametrize("flowing", [False, pytest.param(True, marks=pytest.mark.slow)])
def test_heat_in_is_heat_out(tmp_path: Path, flowing: bool) -> None:
    one = answered(written(tmp_path, STRETCHES, flowing), flowing)
    assert one.closure < 1e-9
    assert one.allowances == pytest.approx(2 * 0.4 * 25.0, rel=1e-9)
    assert (one.from_stream * (one.stream[0] - one.stream[1]) > 0) if flowing else one.from_stream == 0.0


@pytest.mark.slow
def test_far_from_every_station_the_line_is_the_section(tmp_path: Path) -> None:
    one = answered(written(tmp_path, [stretch("one", 60, {"support": "S1", "at": ["30 m"]})]))
    section = solved(0, SECTION)
    assert one.along[1][0] == pytest.approx(section["wall_min"], abs=1e-6)
    support = solved(0, "S1")
    assert one.stations[0] == pytest.approx(section["wall_min"] - support["installed_dip"], abs=0.02)
    assert one.without[0] == pytest.approx(section["wall_min"] - support["dip"], abs=0.02)
    assert one.gains[0] > 0
    place, path = one.coldest("wall")
    assert (place.label, path) == ("S1 on one", "wall.min")
    assert {c.verdict for c in place.checks if c.limit == "wall_min"} == {"pass"}


def test_every_limit_is_held_at_every_place(tmp_path: Path) -> None:
    """Stretches, elbow, supports with an allowance and without: each holds each limit, on a number of its own field."""
    one = answered(written(tmp_path, STRETCHES))
    assert [place.label for place in one.places] == [
        "on one", "on two", "S1 1 on one", "S1 2 on one", "elbow on one", "S1 on two",
    ]  # fmt: skip
    section, support = solved(0, SECTION), solved(0, "S1")
    for place in one.places:
        assert sorted(check.limit for check in place.checks) == sorted(raw()["limits"])
        assert all(check.margin == check.margin for check in place.checks)
        extra = place.label.startswith("S1") and place.label != "S1 on two"
        assert extra == any("extra tracer is not resolved" in check.note for check in place.checks)
    rises = {"wall.max": "wall_rise", "barrier.max": "barrier_rise", "tracers.sheath_max": "sheath_rise"}
    names = {"wall.max": "wall_max", "barrier.max": "barrier_max", "tracers.sheath_max": "sheath_max"}
    cooled = answered(written(tmp_path, [stretch("one", 20, SHOE | {"allowance": "0 m"})]))
    for path, rise in rises.items():
        # a support without an allowance only cools the line: what is hottest is its own metal, or the section's
        alone = cooled.places[1].values[path].value
        assert alone == pytest.approx(section[names[path]] + max(support[rise], 0.0), abs=1e-9)
        assert cooled.places[0].values[path].value <= section[names[path]] + 1e-6


def test_where_a_tracer_lifts_its_sheath_is_hotter_and_nothing_drains(tmp_path: Path) -> None:
    lift = {"lift": "1.5 mm", "at": ["10 m"]}
    one = answered(written(tmp_path, [stretch("one", 20, lift)]))
    line, place = one.places
    assert place.label == "lift of T1 on one"
    assert place.values["tracers.sheath_max"].value > line.values["tracers.sheath_max"].value + 5.0
    assert {check.limit for check in place.checks} == set(raw()["limits"])
    assert one.loss == pytest.approx(20 * solved(0, SECTION)["loss"], rel=1e-6)
    assert not any(gain == gain for gain in one.gains)


def test_of_an_allowance_of_the_line_s_own_the_field_is_solved(tmp_path: Path) -> None:
    file = written(tmp_path, [stretch("one", 20, SHOE | {"allowance": "1.5 m"}, SHOE | {"at": ["3 m"]})])
    laid = load_line(file)
    assert [what for _, what in kinds_of(laid)] == [SECTION, "S1", "S1:1.5"]
    assert [one.allowance for one in laid.stations] == [0.4, 1.5]


def test_less_output_is_taken_from_cold_margins_everywhere(tmp_path: Path) -> None:
    """The margin that is left falls with the output that may be lost, at sections and at supports alike."""
    file = written(tmp_path, STRETCHES)
    known = known_of(load_line(file))
    less = {key: facts | {"less_wall": -2.0, "less_contents": -1.0} for key, facts in known.items()}
    text = (tmp_path / "case.toml").read_text().replace("[limits]", "[limits]\noutput_margin = 0.1")
    (tmp_path / "case.toml").write_text(text)
    lefts = {"wall_min": 2.0, "contents_min": 1.0}
    for place in answer(load_line(file), "a", less).places:
        for check in place.checks:
            assert check.margin - check.left == pytest.approx(lefts.get(check.limit, 0.0))


def test_the_order_reversed_is_the_mirrored_line(tmp_path: Path) -> None:
    one = answered(written(tmp_path, STRETCHES))
    elbow, far = {"elbow": "90 deg", "at": ["5 m"]}, SHOE | {"at": ["17 m"]}
    turned = [  # stations out of order are the line in order
        stretch("two", 10, SHOE | {"at": ["6 m"], "allowance": "0 m"}),
        stretch("one", 20, far, elbow, SHOE | {"at": ["11 m"]}),
    ]
    other = answered(written(tmp_path, turned))
    assert other.stations[::-1] == pytest.approx(one.stations, abs=1e-9)
    middle = 15.0 + np.pi / 4 * 0.1524  # of the elbow
    assert [p.at["wall.min"] for p in other.places[2:]] == pytest.approx([6.0, middle, 21.0, 27.0])
    assert other.loss == pytest.approx(one.loss, rel=1e-12)
    assert other.along[1].min() == pytest.approx(one.along[1].min(), abs=1e-9)


def test_a_short_bend_is_between_the_endless_one_and_the_straight_pipe(tmp_path: Path) -> None:
    one = answered(written(tmp_path, [stretch("one", 30, {"elbow": "90 deg"})]))
    section, bend = solved(0, SECTION), solved(0, BEND)
    low, high = sorted((section["wall_min"], bend["wall_min"]))
    assert low < one.stations[0] < high


BENT = [["40 degC", "26 W/m"], ["60 degC", "0 W/m"]]  # no more is given below 40 degC


@pytest.mark.parametrize(("apart", "within"), [(0.5, 0.02), (1.0, 0.04), (4.0, 0.08)])
def test_outputs_follow_their_table_along_the_line(apart: float, within: float) -> None:
    """Half a span between sinks, against the same fin with the table itself by collocation; a straight line drawn from
    the section's own output would be far too warm where the sinks are close."""
    from scipy.integrate import solve_bvp

    case = narrowed(case_raw({}, tracer=[case_raw()["tracer"][0] | {"output": {"at": BENT}}]))
    level, ambient, along, loss, sink = 320.0, 253.0, 0.08, 0.26, 0.35
    out = loss * (level - ambient)
    wall = 333.15 - out / 1.3
    given = {"level": level, "ambient": ambient, "along": along, "loss_slope": loss, "loss": out}
    given |= {"output": out, "output_slope": -1.3, "stream": 0.0, "from_contents": 0.0}
    given |= {"beneath_0": wall, "heat_0": out}
    half = solve_outputs(
        [piece_of(apart / 2, given)], [given], [case], lambda _: [Sink(sink / 2, ambient), Sink()]
    )

    def slopes(_: Any, y: Any) -> Any:
        return np.vstack([y[1], (loss * (y[0] - ambient) - output_at(case, given, y[0] - level)) / along])

    def ends(a: Any, b: Any) -> Any:
        return np.array([along * a[1] - sink / 2 * (a[0] - ambient), b[1]])

    x = np.linspace(0.0, apart / 2, 41)
    exact = solve_bvp(slopes, ends, x, np.vstack([np.full(41, level - 10.0), np.zeros(41)]), tol=1e-6)
    assert exact.success
    fall = level - exact.y[0, 0]
    assert half.temperature[0] == pytest.approx(exact.y[0, 0], abs=within * fall)


@pytest.mark.slow
def test_what_a_support_drains_does_not_depend_on_the_temperature_it_is_told_at() -> None:
    """A leg held at another temperature than the ambient, and contents that are to be kept at the ambient."""

    def told(maintain: str, leg: dict[str, str]) -> Facts:
        return facts(Kind(narrowed(case_raw({"leg": leg}, design={"maintain": maintain})), "S1", 1.0))

    held = {"end": "held", "end_temperature": "20 degC"}
    film = {"film_coefficient": "12 W/m2/K"}  # free convection would grow with the temperature
    legs, plain = ([told(maintain, leg) for maintain in ("0 degC", "60 degC")] for leg in (held, film))
    # steel conducts about a hundredth less at 60 degC than at 0 degC
    for name in ("chi", "drains_to"):
        assert legs[0][name] == pytest.approx(legs[1][name], rel=0.02)
    assert 273.15 < legs[0]["drains_to"] < 293.15
    assert plain[0]["chi"] == pytest.approx(plain[1]["chi"], rel=0.02)
    assert plain[0]["drains_to"] == pytest.approx(273.15, abs=0.5)


@pytest.mark.slow
def test_what_neighbours_take_is_in_the_band(tmp_path: Path) -> None:
    """A row of shoes closer than the fin's reach, with an output whose table ends above the cold."""
    more = {"tracer": [case_raw()["tracer"][0] | {"output": {"at": BENT}}], "limits": {"wall_min": "2 degC"}}
    more["condition"] = [{"name": "a", "ambient": "-20 degC"}]
    file = written(tmp_path, [stretch("one", 12.5, {"support": "S1", "number": 25})])
    (tmp_path / "case.toml").write_text(tomli_w.dumps(case_raw({}, **more)))
    laid, own = load_line(file), narrowed(case_raw({}, **more))
    told = answer(laid, "a", {key: facts(Kind(own, key[1], 1.0)) for key in kinds_of(laid)})
    place = next(one for one in told.places if one.station == 12)
    field = between_mirrors("0.5 m", **more)
    mine = place.values["wall.min"]
    assert abs(mine.value - field.value) <= mine.band + field.band


def between_mirrors(spacing: str, **more: Any) -> Banded:
    """The coldest wall of one shoe in the field in three dimensions, between mirrors."""
    case = narrowed(case_raw({"spacing": spacing}, **more))
    return solve_support(case, case.supports[0], 1.0).quantities["wall_min"]


@pytest.mark.slow
def test_supports_at_even_distance_are_the_field_of_that_distance(tmp_path: Path) -> None:
    """A line of many shoes against the field in three dimensions of one shoe between mirrors."""
    section = solved(0, SECTION)
    span = section["wall_min"] - section["ambient"]
    for apart in (0.8, 3.0):
        shoes = SHOE | {"number": 9, "allowance": "0 m"}
        one = answered(written(tmp_path, [stretch("one", 9 * apart, shoes)]))
        assert one.stations[4] == pytest.approx(between_mirrors(f"{apart} m").value, abs=0.01 * span)


def test_the_bill_adds_up(study: LineStudy) -> None:
    arc = 0.5 * 3.141592653589793 * 0.1524
    bend = arc * solved(0, BEND)["tracer"]
    assert sum(item.total for item in bill(study)) == pytest.approx(30.0 - arc + bend + 2 * 0.4, rel=1e-9)
    assert bend > arc  # its tracer is at 3 o'clock, outside
    assert results(study)["conditions"]["a"]["closure"] < 1e-9


AT_ONE = 'stretch[1] "one".station[1]'


@pytest.mark.parametrize(
    ("stretches", "key", "words"),
    [
        ([], "stretch", "at least one"),
        ([stretch("one", 9, {"support": "S2"})], AT_ONE + ".support", "no support"),
        ([stretch("one", 9, {"support": "S1", "at": ["10 m"]})], AT_ONE + ".at", "beyond"),
        ([stretch("one", 9, {"number": 2})], AT_ONE + ".support", "one of"),
        ([stretch("one", 9, SHOE | {"number": 2, "at": ["1 m"]})], AT_ONE + ".number", "beside"),
        ([stretch("one", 9, ELBOW | {"allowance": "1 m"})], AT_ONE + ".allowance", "belongs to a support"),
        ([stretch("one", 9, SHOE, ELBOW)], "stretch", "stand in each other"),
        ([stretch("one", 9, {"lift": "1 mm", "tracer": "T9"})], "station[1].lift", "known: T1"),
        ([stretch("one", 9, {"lift": "1 mm", "bands": "20 m"})], "station[1]", "longer stretch"),
        ([stretch("one", 9, ELBOW | {"bands": "1 m"})], "station[1].tracer", "belongs to a lift"),
        ([stretch("one", 0.05, SHOE)], AT_ONE, "longer stretch"),
        ([stretch("one", 9, SHOE | {"at": ["0 m"]})], AT_ONE, "beyond its stretch"),
        ([stretch("one", 9, ELBOW | {"at": ["8.99 m"]})], AT_ONE, "beyond"),
        ([stretch("one", 9), stretch("one", 9)], 'stretch[2] "one".name', "earlier stretch"),
    ],
)
def test_what_does_not_fit_is_refused(tmp_path: Path, stretches: list[Any], key: str, words: str) -> None:
    with pytest.raises(CaseError) as raised:
        load_line(written(tmp_path, stretches))
    assert key in str(raised.value.key)
    assert words in str(raised.value)


STILL = {"state": "still", "velocity": None, "temperature": None}


@pytest.mark.parametrize(
    ("contents", "key", "words"),
    [
        ({"velocity": "0.05 m/s"}, 'stretch "two".case', "accepted: one stream"),
        ({"velocity": None, "film_coefficient": "300 W/m2/K"}, "contents.velocity", "accepted: a velocity"),
        (STILL, 'stretch "two".case', "and nothing on two"),
    ],
)
def test_a_stream_that_does_not_go_on_is_refused(
    tmp_path: Path, contents: dict[str, Any], key: str, words: str
) -> None:
    file = written(tmp_path, [stretch("one", 9), stretch("two", 9) | {"case": "other.toml"}], flowing=True)
    other = raw(flowing=True)
    other["contents"] = {k: v for k, v in (other["contents"] | contents).items() if v is not None}
    (tmp_path / "other.toml").write_text(tomli_w.dumps(other))
    with pytest.raises(CaseError) as raised:
        load_line(file)
    assert key in str(raised.value.key)
    assert words in str(raised.value)


def test_the_page_shows_every_place_and_is_whole(study: LineStudy, tmp_path: Path) -> None:
    assert "report.html" in write_line(study, tmp_path)
    page = (tmp_path / "report.html").read_text()
    for words in (*(f"<td>{place.label}</td>" for place in study.answers[0].places), "not a certificate"):
        assert words in page


def test_a_notebook_shows_bill_limits_and_the_line(study: LineStudy) -> None:
    from sim.notebook import LineView

    view = LineView(study)
    table = view.limits()
    assert len(table) == len(raw()["limits"]) * len(study.answers[0].places)
    assert view.bill().tracer_m.sum() == pytest.approx(results(view.study)["tracer_length"])
    assert view.along().wall_degC.min() == pytest.approx(table.value_degC[table.limit == "wall_min"].min())
    assert view.verdict in view._repr_html_()


def test_bad_input_is_one_message_and_exit_code_2(tmp_path: Path) -> None:
    file = written(tmp_path, [stretch("one", 9, {"support": "S2"})])
    result = CliRunner().invoke(app, ["line", str(file), "--out", str(tmp_path / "out")])
    assert result.exit_code == 2


def test_stretches_of_two_cases_meet_at_one_temperature_and_close(tmp_path: Path) -> None:
    """A stretch that conducts twice as well and loses more, as a larger pipe would; the wall's mean has no jump."""
    file = written(tmp_path, [stretch("one", 8, SHOE), stretch("two", 5) | {"case": "other.toml"}])
    (tmp_path / "other.toml").write_text(tomli_w.dumps(raw()))
    laid = load_line(file)
    larger = {key: factor * solved(0, SECTION)[key] for key, factor in (("along", 2.0), ("loss_slope", 1.5))}
    known = {key: solved(0, key[1]) | (larger if key[0] == 1 else {}) for key in kinds_of(laid)}
    known[1, SECTION]["level"] -= 15.0
    one = answer(laid, "a", known)
    assert one.closure < 1e-9
    place, wall, _ = one.along
    before, after = wall[np.abs(place - 8.0) < 1e-9]
    assert abs(after - before) == pytest.approx(15.0, abs=1e-6)  # each told from its own section's mean
    assert one.loss == pytest.approx(one.output + one.allowances, rel=1e-9)


def test_a_condition_that_a_case_lacks_or_without_what_stands_on_the_line_is_refused(tmp_path: Path) -> None:
    file, case = written(tmp_path, STRETCHES), raw()
    case["condition"].append({**case["condition"][0], "name": "b", "support": []})
    (tmp_path / "case.toml").write_text(tomli_w.dumps(case))
    with pytest.raises(CaseError, match='none in condition "b"') as error:
        load_line(file)
    assert error.value.key == AT_ONE
    file = written(tmp_path, [stretch("one", 9), stretch("two", 9) | {"case": "other.toml"}])
    case["condition"] = case["condition"][1:]
    (tmp_path / "other.toml").write_text(tomli_w.dumps(case))
    with pytest.raises(CaseError, match="no condition of the same name"):
        load_line(file)


def test_an_allowance_that_a_condition_changes_is_changed_along_the_line(tmp_path: Path) -> None:
    """As if the line had no allowance: its output, its temperatures, and a note beside the bill."""
    bare = written(tmp_path, [stretch("one", 20, {**SHOE, "at": ["9 m"], "allowance": "0 m"})])
    expected = answered(bare)
    case = raw()
    case["condition"] = [{**case["condition"][0], "support": {"S1": {"allowance": "0 m"}}}]
    file = written(tmp_path, [stretch("one", 20, {**SHOE, "at": ["9 m"]})])
    (tmp_path / "case.toml").write_text(tomli_w.dumps(case))
    changed = answered(file)
    assert changed.allowances == 0
    assert changed.installed == (0.0,)
    assert changed.stations == pytest.approx(expected.stations)
    assert not any("bill" in note for note in expected.notes)
    assert any("S1 on one 0 m instead of 0.4 m" in note for note in changed.notes)


CHECK = {"limit": "wall_min", "quantity": "wall.min", "value": 280.0, "band": 0.5, "allowed": 283.15}
CHECK |= {"margin": -3.15, "verdict": "fail", "note": "over the episode", "state": "", "inputs": []}
CHECK |= {"spare": -3.15}
COURSE = {"why": "", "coldest": {"wall.min": [280.0, 0.5, 7200.0]}, "checks": [CHECK]}


def cooled(folder: Path, *around: str) -> Path:
    """A line of two shoes, one with an allowance of its own, and an elbow; episodes of the section and around shoes."""
    cut = {"name": "cut", "condition": "a", "lasts": "2 h", "supply": 0}
    near = [cut | {"name": f"at {support}", "support": support} for support in around]
    stations = (SHOE | {"at": ["3 m"]}, SHOE | {"at": ["9 m"], "allowance": "0 m"}, ELBOW | {"at": ["15 m"]})
    file = written(folder, [stretch("one", 20, *stations)])
    (folder / "case.toml").write_text(tomli_w.dumps(raw() | {"episode": [cut, *near]}))
    return file


def test_a_place_that_no_episode_follows_is_not_evaluated(tmp_path: Path) -> None:
    """The stretch by the section's episode, a shoe by one around it as the case has it, nothing else."""
    line = load_line(cooled(tmp_path, "S1"))
    parts = {(0, "cut"): COURSE, (0, "at S1"): COURSE | {"coldest": {"wall.min": [279.0, 0.5, 3600.0]}}}
    told = over_time(line, parts)
    assert [(one.place, one.episode) for one in told] == [(0, "cut"), (3, "at S1"), (9, ""), (15, "")]
    assert [one.verdict for one in told] == ["fail", "fail", "not evaluated", "not evaluated"]
    assert "allowance is not the case's" in told[2].why
    assert "no episode" in told[3].why
    coldest = coldest_over_time(told, "wall")
    assert coldest is not None
    assert (coldest[0].place, coldest[0].coldest["wall.min"][2]) == (3, 3600.0)
    assert coldest_over_time(told, "contents") is None
    alone = over_time(load_line(cooled(tmp_path)), {(0, "cut"): COURSE})
    assert [one.verdict for one in alone] == ["fail", *["not evaluated"] * 3]


@pytest.mark.slow
def test_episodes_of_a_line_are_those_of_its_places_and_kept(tmp_path: Path) -> None:
    """The verdict and the coldest moment of `check`, from the store too; the line says what it holds."""
    file = cooled(tmp_path, "S1")
    study = run_line(load_line(file), tmp_path / "out", fineness=1.0, episodes=True)
    assert (study.computed, study.kept) == (5, 0)  # three fields, two episodes
    judged = judging.check(load_case(tmp_path / "case.toml"), fineness=1.0)
    by_place = {one.place: one for one in study.episodes if one.episode}
    for place, answer_ in zip((0.0, 3.0), judged.episodes, strict=True):
        assert [c.verdict for c in by_place[place].checks] == [c.verdict for c in answer_.limits]
        least = answer_.extremes["wall.min"]
        assert by_place[place].coldest["wall.min"] == pytest.approx(
            (least.min.value, least.min.band, least.min_at.value)
        )
    assert study.verdict in ("fail", "too close to call", "not evaluated")
    again = run_line(load_line(file), tmp_path / "out", fineness=1.0, episodes=True)
    assert (again.computed, again.kept, again.episodes) == (0, 5, study.episodes)
    words = "\n".join(lines(study))
    assert "coldest wall over time" in words
    assert "not evaluated over time: " in words
    write_line(study, tmp_path / "out")
    assert "Over time" in line_page(study, tmp_path / "out" / "line.png")
