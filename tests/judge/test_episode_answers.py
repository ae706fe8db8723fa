"""Episodes judged: limits over time, hold after a power cut, warm-up, ice; what is evaluated and what is not."""

import json
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import plain_lines
import pytest
from support_lines import line

from sim.case import CaseError, parse_case
from sim.case.operation import Limits
from sim.judge.check import Answer, check
from sim.judge.episode_answers import EpisodeAnswer, judge, judge_episodes, massless
from sim.judge.episode_limits import _by_earlier_ice
from sim.judge.limits import BRACKET, LimitCheck
from sim.report.episode_results import series_csv
from sim.report.results import as_json, results
from sim.report.worst import headline
from sim.solve.convergence import Banded
from sim.solve.course import course, times
from sim.solve.section import MeshStore

COARSE = 0.7
LINE = line(
    pipe={"size": "DN 50", "schedule": "40", "material": "carbon steel"},
    contents={"fluid": "water", "state": "mixed", "film_coefficient": "100 W/m2/K"},
    tracer=[line()["tracer"][0] | {"output": "20 W/m"}],
    insulation={"layer": [{"thickness": "40 mm", "conductivity": "0.04 W/m/K"}]},
    condition=[{"name": "cold", "ambient": "-20 degC"}],
    sensor=[{"name": "S1", "clock": 12}],
    limits={"contents_min": "5 degC", "sheath_max": "120 degC"},
)
del LINE["support"], LINE["design"]


def answer(*episodes: dict[str, Any], **keys: Any) -> Answer:
    """A check of the line with episodes, each in its one condition."""
    raw = {**LINE, **keys, "episode": [{"condition": "cold", **episode} for episode in episodes]}
    return check(parse_case(raw), fineness=COARSE)


CUT = {"name": "cut", "lasts": "24 h", "change": [{"at": "2 h", "supply": 0}]}


@pytest.fixture(scope="module")
def cut() -> Answer:
    again = {"name": "again", "start": "cut", "lasts": "20 h", "warm_to": "10 degC"}
    again |= {"limits": {"warm_up": "20 h"}}
    return answer({**CUT, "limits": {"hold": "4 h"}}, again)


def test_a_power_cut_is_held_for_a_time(cut: Answer) -> None:
    """The moment that is told is the one at which the course passes the limit; heat closes."""
    first = cut.episodes[0]
    assert first.hold is not None
    assert first.power_lost == 2 * 3600
    curve = first.result.fine.course("contents.min")  # type: ignore[union-attr]
    assert curve is not None
    assert curve.at(first.hold.value + 2 * 3600)[0] == pytest.approx(278.15, abs=1e-3)
    assert first.broken["contents_min"].first.value == pytest.approx(first.hold.value + 2 * 3600)
    assert np.isnan(first.broken["contents_min"].kept_again.value)
    by_name = {check.limit: check for check in first.limits}
    assert by_name["hold"].verdict == "pass"
    assert by_name["contents_min"].verdict == "pass"  # until the power is lost, as `hold` takes over there
    assert 0 < by_name["hold"].band < 0.1 * by_name["hold"].value
    assert abs(first.result.track.closure) < 1e-8  # type: ignore[union-attr]


def test_an_episode_begins_where_another_ends(cut: Answer) -> None:
    before, after = (one.result.series["contents.min"].value for one in cut.episodes)  # type: ignore[union-attr]
    assert after[0] == pytest.approx(before[-1], abs=1e-9)
    warm = cut.episodes[1]
    assert warm.warm_up is not None
    assert warm.warm_to == pytest.approx(283.15)
    assert 0 < warm.warm_up.value < 20 * 3600
    assert warm.verdict == "pass"
    assert warm.broken["contents_min"].first.value == 0.0
    assert 0 < warm.broken["contents_min"].kept_again.value < warm.warm_up.value


def test_a_step_ends_where_freezing_begins(cut: Answer) -> None:
    """As a switching does: the courses bend there, and the moment stands twice, with liquid at its freezing point."""
    track = cut.episodes[0].result.track  # type: ignore[union-attr]
    at, frozen = np.array(track.time), np.array(track.values["frozen"])
    twice = at[:-1][(np.diff(at) == 0.0) & (at[:-1] > 2 * 3600.0)]
    assert len(twice) == 1
    assert 0.0 <= frozen[at == twice[0]].max() < 1e-3
    assert frozen[at < twice[0]].max() == 0.0 < frozen[at > twice[0]].min()
    assert np.array(track.values["contents.min"])[at == twice[0]] == pytest.approx(273.15, abs=0.01)


def test_without_a_limit_of_its_own_an_episode_breaks_the_cases(cut: Answer) -> None:
    result = cut.episodes[0].result
    assert result is not None
    plain = result.episode.model_copy(update={"limits": None})
    assert judge(replace(result, episode=plain)).verdict == "fail"


def _without_later_end(answer: EpisodeAnswer, moment: float, limits: dict[str, Any]) -> LimitCheck:
    """The last limit of an episode whose contents are known ever less towards a moment."""
    result = answer.result
    assert result is not None
    known = result.series["contents.min"]
    band = np.interp(result.time - moment, [-7200.0, 3600.0], [1e-3, 30.0])
    series = {**result.series, "contents.min": replace(known, band=band, largest=30.0)}
    assert result.episode.limits is not None
    own = result.episode.limits.model_copy(update=limits)
    episode = result.episode.model_copy(update={"limits": own})
    return judge(replace(result, series=series, episode=episode)).limits[-1]


def test_a_moment_without_a_later_end_is_judged_by_its_earlier_one(cut: Answer) -> None:
    """By the band of their value the contents may not pass it at all: then they hold longer, or are never warm."""
    before, after = cut.episodes
    for one, moment, limit, sure, unsure in (
        (before, before.broken["contents_min"].first, "hold", ("pass", 0.5), 1.5),
        (after, after.warm_up, "warm_up", ("fail", 0.5), 1.5),
    ):
        assert moment is not None
        value = getattr(one, limit).value
        clear = _without_later_end(one, moment.value, {limit: sure[1] * value})
        assert (clear.limit, clear.verdict) == (limit, sure[0])
        assert 0.0 < clear.band < 0.5 * value
        other = _without_later_end(one, moment.value, {limit: unsure * value})
        assert other.verdict == "too close to call"


def test_what_an_episode_cannot_answer_is_not_evaluated() -> None:
    never = {"hold": "8 h", "warm_up": "1 h", "frozen_share": 0.1}
    short = {"name": "short", "lasts": "30 min", "limits": never}
    limits = {"sheath_max": "120 degC", "contents_min": "-40 degC"}
    (judged,) = answer(short, limits=limits, contents={"state": "empty"}).episodes
    by_name = {check.limit: (check.verdict, check.note) for check in judged.limits}
    assert by_name["contents_min"][0] == "not evaluated"  # from when it is warm, of which nothing is known
    assert by_name["sheath_max"][0] == "pass"
    assert by_name["hold"] == ("not evaluated", "the power is not lost in this episode")
    assert by_name["warm_up"][0] == "not evaluated"
    assert by_name["frozen_share"][0] == "not evaluated"
    assert judged.verdict == "not evaluated"


def test_results_have_every_key_and_null_where_nothing_happened(cut: Answer) -> None:
    tree = json.loads(as_json(results(cut)))["episodes"]["cut"]
    count = len(tree["time"])
    assert count == 201
    paths = "contents.min wall.max tracers.T1.sheath_max sensors.S1 heat_out ambient frozen"
    for keys in paths.split():
        series, extremes, band = tree["series"], tree["extremes"], tree["band"]["series"]
        for key in keys.split("."):
            series, extremes = series[key], extremes[key]
            band = band[key] if keys != "ambient" else 0.0
        assert len(series) == count
        assert extremes["min"] <= min(series) + 1e-6
        assert 0 <= extremes["min_at"] <= 86400
        assert band >= 0
    assert tree["series"]["heat_in"][0] == pytest.approx(20.0)
    assert tree["series"]["heat_in"][-1] == 0.0
    assert tree["limits"]["contents_min"]["kept_again"] is None
    assert tree["warm_up"] is None
    assert tree["freezing"]["first"] is not None
    assert tree["freezing"]["share"]["0.95"] is None
    assert tree["freezing"]["smallest_passage"] < 2 * 26.3e-3
    assert tree["energy"]["T1"] == pytest.approx(20.0 * 7200)
    table = series_csv(cut.episodes[0].result).splitlines()  # type: ignore[arg-type]
    assert len(table) == count + 1
    assert table[0].startswith('"time, s"')


def test_an_episode_around_a_support_without_its_steady_answer_says_so() -> None:
    episode = {"condition": "cold", **CUT, "support": "A"}
    case = parse_case({**LINE, "support": [{"name": "A", "family": "shoe"}], "episode": [episode]})
    (judged,) = judge_episodes(case, case.episodes, MeshStore())
    assert judged.verdict == "not converged"
    assert "around A has no answer" in judged.failure


@pytest.mark.slow
def test_the_line_is_cold_at_the_support_first() -> None:
    """A power cut around a shoe: it starts from the steady field there, and its coldest wall is the shoe's."""
    short = {"name": "near", "condition": "a", "support": "S1", "lasts": "2 h", "supply": 0}
    raw = line(episode=[short], limits={"wall_min": "20 degC"}, sensor=[{"name": "T", "clock": 12}])
    judged = check(parse_case(raw), fineness=COARSE)
    shoe = judged.episodes[0].result
    assert shoe is not None
    steady = judged.supports[0].result.quantities["wall_min"]  # type: ignore[union-attr]
    wall = shoe.series["wall.min"]
    assert abs(wall.value[0] - steady.value) <= wall.band[0]
    assert (wall.value < shoe.series["sensors.T"].value).all()
    assert (np.diff(wall.value) < 1e-6).all()
    assert abs(shoe.track.closure) < 1e-12


def test_a_start_in_another_body_is_refused() -> None:
    """An earlier episode's end is a field of its own section and contents."""
    warm = {"name": "warm", "ambient": "5 degC", "contents": {"state": "still"}}
    later = {"name": "b", "condition": "warm", "start": "cut", "lasts": "1 h"}
    episodes = [{**CUT, "condition": "cold"}, later]
    with pytest.raises(CaseError, match='"cut" ends in condition "cold"') as fault:
        parse_case({**LINE, "condition": [*LINE["condition"], warm], "episode": episodes})
    assert fault.value.key == 'episode[2] "b".start'


def test_episodes_left_out_are_named() -> None:
    raw = {**LINE, "episode": [{"condition": "cold", **CUT}]}
    judged = check(parse_case(raw), fineness=COARSE, episodes=())
    assert judged.not_run == ("cut",)
    assert judged.episodes == ()


def test_what_an_episode_does_not_follow_is_named_with_the_verdict() -> None:
    """Supports, fittings and the bend: their limits are held in steady conditions alone, at full output."""
    body = {"axis": "along", "diameter": "90 mm", "from": "-40 mm", "to": "40 mm", "cover": "20 mm"}
    raw = {**LINE, "elbow": {}, "support": [{"name": "S1"}], "fitting": [{"name": "V1", "body": [body]}]}
    episode = {"name": "cut", "condition": "cold", "lasts": "10 min", "control": ["C1"]}
    judged = check(parse_case(raw | {"control": [KEEP], "episode": [episode]}), fineness=COARSE, around=False)
    (told,) = judged.not_followed
    assert told == "cut: support S1, fitting V1, elbow"
    (text,) = [text for text in headline(judged) if told in text]
    assert "which know no control, and not evaluated over the episode" in text
    assert results(judged)["not_followed_over_time"] == [told]
    (one,) = judged.episodes
    assert replace(judged, episodes=(replace(one, limits=()),)).not_followed == ()


def test_a_moment_of_a_course_is_found_between_the_steps() -> None:
    """exp(-t) through eleven steps and a jump: crossing and extreme to a part in a thousand."""
    at = np.concatenate([np.linspace(0, 2, 11), np.linspace(2, 4, 11)])
    value = np.where(np.arange(22) < 11, np.exp(-at), 1.0 + np.sin(at - 2))
    curve = course(times(at), value)
    assert curve.first(1, np.exp(-1.234))[0] == pytest.approx(1.234, rel=1e-4)
    assert curve.first(1, np.exp(-1.234))[1] == pytest.approx(2.0)
    top = curve.extreme("max")
    assert top == (pytest.approx(2.0, rel=1e-4), pytest.approx(2 + np.pi / 2, rel=1e-2))
    assert curve.at(2.0)[0] == pytest.approx(np.exp(-2))


def test_a_course_takes_no_slope_from_the_error_of_a_short_step() -> None:
    """Beside a step of 20 s after one of 2 h, an error of 0.02 K is no bend of kelvins in the 2 h."""
    at = np.array([0.0, 7200.0, 14400.0, 14420.0, 14500.0, 21600.0])
    value = np.array([0.0, 0.01, 0.0, 0.02, 0.0, 0.01])
    curve = course(times(at), value)
    assert curve.extreme("min")[0] > -0.02
    assert curve.extreme("max")[0] < 0.04


def test_what_is_thinner_than_the_mesh_is_said_to_store_nothing() -> None:
    thick, sheet = (
        {"thickness": f"{mm} mm", "conductivity": f"{k} W/m/K"} for mm, k in ((20, 0.04), (0.05, 160))
    )
    thin = plain_lines.line(plain_lines.FLAT, insulation={"fit": "snug", "layer": [thick, sheet, thick]})
    texts = massless(plain_lines.only(thin), plain_lines.mesh(thin))
    assert "stores no heat over time: insulation layer 2" in texts[0]
    plain = plain_lines.line(plain_lines.FLAT)
    assert massless(plain_lines.only(plain), plain_lines.mesh(plain)) == ()


KEEP = {"name": "C1", "sensor": "S1", "on_below": "8 degC", "off_above": "12 degC"}
SHARE = {"name": "C1", "sensor": "ambient", "full_below": "-60 degC", "off_above": "5 degC"}


@pytest.mark.parametrize(
    ("control", "at", "keys", "said"),
    [
        (KEEP, "2 h", {}, True),  # still on its way down to 8 degC
        (KEEP, "2 h", {"start": "12 degC"}, False),
        (SHARE, "2 h", {}, True),
        *(
            pytest.param(*row, marks=pytest.mark.slow)
            for row in (
                (KEEP, "0 h", {}, True),
                (KEEP, "30 h", {}, False),  # in its cycle
                (KEEP | {"on_below": "70 degC", "off_above": "90 degC"}, "2 h", {}, False),  # never off
                (KEEP | {"sensor": "ambient", "off_above": "-30 degC", "on_below": "-35 degC"}, "2 h", {}, True),
                (SHARE | {"full_below": "-20 degC"}, "2 h", {}, False),  # a full share
                (SHARE, "200 h", {}, False),
            )
        ),
    ],
)  # fmt: skip
def test_a_time_held_from_the_heat_of_the_start_is_no_pass(
    control: dict[str, Any], at: str, keys: dict[str, Any], said: bool
) -> None:
    """A steady start is at full output, and the line is warmer there than a control keeps it."""
    last = int(at.split()[0]) + 1
    episode = {"name": "cut", "lasts": f"{last} h", "control": ["C1"], **keys}
    limits = {"hold": "1 min"}
    one = answer({**episode, "change": [{"at": at, "supply": 0}], "limits": limits}, control=[control])
    hold = one.episodes[0].limits[-1]
    assert hold.limit == "hold"
    assert ("full output" in hold.note, hold.verdict) == (said, "too close to call" if said else "pass")


AT_VALVE = {"name": "near", "condition": "a", "support": "V1", "start": "8 degC", "lasts": "2 h", "supply": 0}
BONNET = {"axis": "across", "clock": 12, "diameter": "90 mm", "to": "220 mm"}
VALVE = {
    "name": "V1",
    "allowance": "0.2 m",
    "body": [
        {"axis": "along", "diameter": "150 mm", "from": "-60 mm", "to": "60 mm", "cover": "40 mm"},
        BONNET | {"hollow": {"diameter": "60 mm", "to": "170 mm"}},
    ],
}


@pytest.mark.slow
@pytest.mark.parametrize("state", ["still", "mixed", "buoyant"])
def test_every_limit_is_held_around_a_fitting(state: str) -> None:
    """Set on either side of what is there, each passes and fails; a bonnet's still water is held apart, stirred water
    is one with the bore's, which is said; on moving contents no pass is built."""
    cold = {"contents_min": 4.0, "wall_min": 4.0}
    hot = {"sheath_max": 60.0, "barrier_max": 60.0}
    first = AT_VALVE | {"limits": {"hold": "0.5 h", "frozen_share": 0.5}}
    later = AT_VALVE | {"name": "later", "start": "near", "supply": 1, "control": ["C1"], "lasts": "1 h"}
    limits = {name: f"{value} degC" for name, value in (cold | hot).items()}
    raw = line(contents={"state": state}, limits=limits, sensor=[{"name": "T", "clock": 12}])
    del raw["support"]
    control = {"name": "C1", "sensor": "T", "on_below": "5 degC", "off_above": "20 degC"}
    raw |= {"fitting": [VALVE], "control": [control], "condition": [{"name": "a", "ambient": "-20 degC"}]}
    judged = check(parse_case(raw | {"episode": [first, later]}), fineness=1.0)
    near, after = judged.episodes
    assert near.result is not None
    assert after.result is not None
    assert judged.not_followed == ()
    assert {c.limit for c in near.limits} == {*limits, "hold", "frozen_share"}
    resolved = state != "mixed"
    held = [c for c in after.limits if c.limit == "contents_min"]
    assert [c.quantity for c in held] == ["contents.min", "hollows.2.min"][: 1 + resolved]
    assert ("one with the bore's contents" in held[0].note) != resolved
    doubt = BRACKET if state == "buoyant" else ""
    for side, verdict in ((1.0, "pass"), (-1.0, "fail")):
        at = {c.limit: c for c in after.limits}
        far = {name: at[name].value - side * (at[name].band + 9.0) for name in cold}
        far |= {name: at[name].value + side * (at[name].band + 9.0) for name in hot}
        moved = Limits.model_validate({name: f"{value!r} K" for name, value in far.items()})
        again = judge(
            replace(after.result, case=after.result.case.model_copy(update={"limits": moved})), doubt
        )
        expected = "too close to call" if doubt and verdict == "pass" else verdict
        assert {c.verdict for c in again.limits if c.quantity != "contents.min"} == {expected}
    walls = [c for c in after.limits if c.limit == "wall_min"]
    assert "none is held on the bodies" in walls[0].note
    assert near.energy["T1"].value == 0.0
    assert after.energy["T1"].value == pytest.approx(25.0 * 3600, rel=1e-3)
    tree = json.loads(as_json(results(judged)))["episodes"]["near"]
    assert tree["around"] == "V1"
    assert tree["series"]["bodies"]["2"]["min"][-1] < tree["series"]["wall"]["min"][-1]
    if resolved:
        assert tree["series"]["hollows"]["2"]["min"][-1] < tree["series"]["contents"]["min"][-1]
        assert set(tree["freezing"]["hollows"]) == {"2"}
    assert max(abs(one.result.track.closure) for one in (near, after) if one.result is not None) < 1e-8


def test_a_frozen_share_of_one_mesh_is_no_pass_where_its_band_may_be_ice() -> None:
    """No ice with no band: kept; none on this mesh and some were it colder by its band: not known."""
    never, may_be = (Banded(np.nan, band, (), np.nan, np.nan, True) for band in (np.nan, np.inf))
    hours = times(np.array([0.0, 1.0, 2.0, 4.0]) * 3600)
    dry, icy = course(hours, np.zeros(4)), course(hours, np.array([0.0, 0.0, 0.1, 0.2]))
    at = Banded(3600.0, 1800.0, (), np.nan, 3600.0, True)
    for curve, first, more in ((dry, never, 0.0), (dry, may_be, np.inf), (icy, at, 0.05)):
        run: Any = SimpleNamespace(course=lambda path, curve=curve: curve)
        result: Any = SimpleNamespace(fine=run)
        assert _by_earlier_ice(result, "frozen", first) == pytest.approx(more)
