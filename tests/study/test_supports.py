"""Supports in studies: every limit at every place, as `coldspot check` holds it, and nothing left out in silence."""

import csv
from dataclasses import replace
from functools import partial

import pytest
from study_line import HEAD, LINE
from typer.testing import CliRunner

from sim.case import CaseError, load_case
from sim.cli import app
from sim.judge import check as judge_check
from sim.judge import elbow as judge_elbow
from sim.judge import episode_answers
from sim.judge import support as judge_support
from sim.judge.check import check
from sim.solve.at_rest import MeshStore
from sim.solve.elbow import solve_elbow
from sim.solve.over_time import solve_episode
from sim.solve.section import solve_section
from sim.solve.support_meshes import solve_support
from sim.study import run
from sim.study.execute import execute
from sim.study.pool import serial
from sim.study.run import run_variant
from sim.study.store import Store
from sim.study.tables import place_columns
from sim.study.variants import load_study, variants
from sim.study.verdicts import overall, verdicts

HOLDERS = """
[[support]]
name = "shoe"
spacing = "0.5 m"
[[support]]
name = "flange"
family = "flange"
spacing = "0.5 m"
allowance = "0.5 m"
pad.thickness = "10 mm"
"""
MORE = """
[elbow]
radius = "100 mm"
outside = 3
[[fitting]]
name = "V1"
allowance = "0.3 m"
body = [{ axis = "along", diameter = "120 mm", from = "-40 mm", to = "40 mm", cover = "20 mm" }]
"""
CUT = '[[episode]]\nname = "cut"\ncondition = "cold"\nlasts = "20 min"\nevery = "10 min"\n'
BODY = LINE[: LINE.index("[limits]")].replace("clock = 6", "clock = 12")
BODY = BODY.replace('[[condition]]\nname = "hot"\nambient = "30 degC"\noutput = "high"\n', "")
AXIS = '[[axis]]\nkey = "condition.cold.ambient"\nname = "ambient"\nvalues = ["-20 degC"]\n'
KINDS = {
    "axis, one mesh": AXIS,
    "axis, three meshes": "meshes = 3\n" + AXIS,
    "search": '[search]\nkey = "condition.cold.ambient"\nvalues = ["-20 degC"]\n',
    "samples": '[[uncertain]]\nkey = "insulation.layer.1.density"\ndistribution = "uniform"\nlow = "99 kg/m3"\n'
    'high = "100 kg/m3"\n[sampling]\nsamples = 2\n',
}
LIMITED = BODY + '[limits]\nwall_min = "-19 degC"\n' + HOLDERS
LIMITS = ("contents_min", "wall_min", "wall_max", "sheath_max", "barrier_max")


@pytest.fixture(scope="module")
def solved():
    """Solvers that remember: only the limits differ between the runs of the table, which change nothing in a field."""
    known = {}

    def once(key, solve, case):
        if key not in known:
            known[key] = solve()
        return replace(known[key], case=case)

    def section(case, *given):
        return once("section", lambda: solve_section(case, None, 1.5), case)

    def support(case, of, fineness, **given):
        return once(of.name, lambda: solve_support(case, of, 0.7, section=section(case)), case)

    def elbow(case, *given):
        return once(("elbow", case.tracers[0].clock), lambda: solve_elbow(case, None, 1.0), case)

    def episode(case, of, controls, *given, **more):
        follow = partial(solve_episode, case, of, controls, MeshStore(), 0.75, None, None)
        return replace(once("episode", follow, case), episode=of)

    return {
        (run, "solve_section"): section,
        (judge_check, "solve_section"): section,
        (judge_support, "solve_support"): support,
        (judge_elbow, "solve_elbow"): elbow,
        (episode_answers, "solve_episode"): episode,
    }, {}


@pytest.fixture
def quick(solved, monkeypatch, write):
    """Solving costs nothing after the first time; gives the numbers of the line, by condition and episode."""
    solvers, computed = solved
    for (module, name), solver in solvers.items():
        monkeypatch.setattr(module, name, solver)
    if not computed:
        study = load_study(write('episodes = "all"\n' + AXIS, line=BODY + CUT + HOLDERS + MORE))
        row = run_variant(study.base, next(variants(study)))
        assert row.status == "done", row.reason
        computed |= {place: parts["values"] for place, parts in row.results.items()}
    return computed


def degrees(kelvin: float) -> str:
    return f"{kelvin - 273.15:.6f} degC"


def of_section(limit: str) -> str:
    part, _, end = limit.rpartition("_")
    return "tracers.sheath_max" if part == "sheath" else f"{part}.{end}"


PLACES = ("nowhere", "section", "supports", "fittings", "elbow", "episode")
TABLE = [  # the quick ones have every limit at two places or three, every place and every kind
    pytest.param(
        limit, place, kind, marks=[] if (j - i) % 3 == 0 and k == (i + j // 3) % 4 else pytest.mark.slow
    )
    for i, limit in enumerate(LIMITS)
    for j, place in enumerate(PLACES)
    for k, kind in enumerate(KINDS)
]


def numbers_of(limit: str, computed: dict) -> dict[str, float]:
    """What a limit holds at each place: the worst of several supports."""
    sign = 1 if limit.endswith("min") else -1
    path = of_section(limit)
    single = "tracers.T1.sheath_max" if limit == "sheath_max" else path
    cold = computed["cold"]
    at = {
        kind: [cold[f"{kind}.{name}.with_allowance.{limit}"] for name in names]
        for kind, names in (("supports", ("shoe", "flange")), ("fittings", ("V1",)))
    }
    at |= {"section": [cold[path]], "elbow": [cold[f"elbow.{single}"]]}
    at |= {"episode": [computed["episode cut"][single]]}
    return {place: sign * min(sign * value for value in values) for place, values in at.items()}


@pytest.mark.parametrize(("limit", "place", "kind"), TABLE)
def test_every_limit_at_every_place_in_every_kind_of_study(
    limit, place, kind, write, tmp_path, quick
) -> None:
    """The limit lies beyond all places, or one place breaks it, clear of the section where it is worse: check and
    study say the same of every place."""
    sign = 1 if limit.endswith("min") else -1
    at = numbers_of(limit, quick)
    if place == "nowhere":
        allowed = sign * (min(sign * value for value in at.values()) - 6.0)
    else:
        apart = sign * (at["section"] - at[place])
        allowed = at[place] + sign * (apart / 2 if apart > 12.0 else 6.0)
    given = f'{BODY}[limits]\n{limit} = "{degrees(allowed)}"\n{CUT}{HOLDERS}{MORE}'
    study = load_study(write('episodes = "all"\n' + KINDS[kind], line=given))
    answer = check(load_case(study.base.source))
    assert answer.exit_code == (0 if place == "nowhere" else 1)
    with Store(tmp_path / "s.sqlite", "one") as store:
        answers = execute(study, store, serial)
    assert answers.exit_code == answer.exit_code
    by_place = {("cold", f"{limit} at {s.name}"): s.limits for s in answer.supports}
    by_place |= {
        ("cold", limit): answer.conditions[0].limits,
        ("episode cut", limit): answer.episodes[0].limits,
    }
    by_place |= {("cold", f"{limit} at elbow"): answer.elbows[0].limits}
    for (where, key), checks in by_place.items():
        assert {verdicts(answers.frame, answers.bands, where, key)[0]} == {c.verdict for c in checks}, key
    one = {"section": ("cold", limit), "episode": ("episode cut", limit)}
    one |= {"elbow": ("cold", f"{limit} at elbow"), "fittings": ("cold", f"{limit} at V1")}
    if place in one:
        assert verdicts(answers.frame, answers.bands, *one[place])[0] == "fail"
    assert set(overall(answers.frame, answers.bands, answers.frame.conditions)) == {answer.verdict}
    named = dict(place_columns(answers))
    table = dict(zip(named["place"], named[f"verdict {limit}"], strict=True))
    places = {s.name: s for s in answer.supports} | {"elbow": answer.elbows[0]}
    assert table == {name: place.limits[0].verdict for name, place in places.items()}
    if answers.search is not None:
        assert (answers.search.least is not None) == (place == "nowhere")
    for group in answers.groups:
        assert (group.chances[-1].holds == 2) == (place == "nowhere")


@pytest.mark.slow
def test_three_meshes_give_what_the_check_gives(write) -> None:
    """The same fields: support numbers and bands bit for bit."""
    study = load_study(
        write("meshes = 3\n" + AXIS, line=BODY + HOLDERS, head=HEAD.replace("fineness = 0.75\n", ""))
    )
    row = run_variant(study.base, next(variants(study))).results["cold"]
    for answer in check(load_case(study.base.source)).supports:
        for path, q in answer.result.quantities.items():
            if q.value == q.value and abs(q.value) != float("inf"):
                assert row["values"][f"supports.{answer.name}.{path}"] == q.value
                assert row["bands"][f"supports.{answer.name}.{path}"] == q.band


def test_what_is_left_out_is_said_and_holds_nowhere(write, tmp_path) -> None:
    study = write('supports = "none"\n' + AXIS, line=LIMITED)
    done = CliRunner().invoke(app, ["study", str(study), "--out", str(tmp_path / "out"), "-p", "1"])
    assert done.exit_code == 1
    assert "The supports shoe and flange were left out" in done.stdout
    assert "The limit on the lowest wall at shoe was not evaluated in any of 1" in done.stdout
    assert "The limit on the lowest wall holds in all 1" in done.stdout
    with open(tmp_path / "out" / "table.csv", newline="", encoding="utf-8") as file:
        (row,) = csv.DictReader(file)
    assert (row["verdict wall_min"], row["verdict wall_min at shoe"], row["verdict"]) == (
        "pass",
        "not evaluated",
        "not evaluated",
    )


def test_a_search_in_some_of_the_conditions_names_them(write, tmp_path) -> None:
    other = '[[condition]]\nname = "colder"\nambient = "-40 degC"\n[limits]\nwall_min = "-30 degC"\n'
    found = {}
    for names in ('["cold"]', '["cold", "colder"]'):
        study = load_study(write(f"conditions = {names}\n{KINDS['search']}", line=BODY + other))
        with Store(tmp_path / f"{len(names)}.sqlite", "one") as store:
            found[names] = execute(study, store, serial).search.in_words()
    one, both = found.values()
    assert "meets all limits in cold by" in one
    assert "all conditions" not in one
    assert "all limits in all conditions" in both


LEFT_OUT = {  # what is left out, and how the search calls it
    "support": ('supports = ["V1"]\n', "shoe and flange"),
    "fitting": ('supports = ["shoe", "flange"]\n', "V1"),
    "condition": ('conditions = ["cold"]\n', "condition colder"),
    "episode": ("", "episode cut"),
}
WARMER = '[[condition]]\nname = "colder"\nambient = "-21 degC"\n'


@pytest.mark.parametrize(
    ("what", "kind"),
    [
        pytest.param(what, kind, marks=() if kind == "search" and what else pytest.mark.slow)
        for what in (None, *LEFT_OUT)
        for kind in KINDS
    ],
)
def test_whatever_is_left_out_with_a_limit_is_said_and_is_no_success(
    what, kind, write, tmp_path, quick
) -> None:
    """All limits hold where they are held, and still the study does not end as if they did where they are not."""
    head, named = LEFT_OUT.get(what, ("", ""))
    head += "" if what == "episode" else 'episodes = "all"\n'
    line = BODY + WARMER + '[limits]\nwall_max = "900 degC"\n' + CUT + HOLDERS + MORE
    with Store(tmp_path / "s.sqlite", "one") as store:
        answers = execute(load_study(write(head + KINDS[kind], line=line)), store, serial)
    notes = " ".join(one.text for one in answers.statements)
    assert ("no limit is said to hold there" in notes) == (what is not None)
    assert ("does not end with exit code 0" in notes) == (what is not None)
    assert answers.exit_code == (0 if what is None else 1)
    if what is not None:
        assert f"The {what}" in notes
    if answers.search is not None:
        assert named in answers.search.in_words()
    with Store(tmp_path / "none.sqlite", "one") as store:
        study = load_study(write(head + AXIS, line=line.replace('[limits]\nwall_max = "900 degC"\n', "")))
        assert execute(study, store, serial).exit_code == 0  # nothing is to be held anywhere


@pytest.mark.parametrize(
    ("body", "telling"),
    [
        ('supports = "shoe"\n' + AXIS, 'accepted: "all", "none", or a list'),
        ('supports = ["shoo"]\n' + AXIS, 'no support "shoo"; did you mean "shoe"?'),
        (
            'supports = ["flange"]\n[[axis]]\nkey = "support.shoe.allowance"\nvalues = ["0 m", "1 m"]\n',
            "leaves out shoe",
        ),
        (
            'supports = "none"\n[[axis]]\nkey = "support.*.allowance"\nvalues = ["0 m", "1 m"]\n',
            "in which axis",
        ),
        (
            'supports = "none"\n[[axis]]\nkey = "condition.cold.support.shoe.allowance"\nvalues = ["0 m"]\n',
            "leaves out",
        ),
        ('keep = ["supports.shoo.chi"]\n' + AXIS, "is no result"),
    ],
)
def test_what_cannot_be_asked_of_supports(write, body, telling) -> None:
    with pytest.raises(CaseError) as caught:
        load_study(write(body, line=BODY + HOLDERS))
    assert telling in str(caught.value)


def test_many_supports_are_priced_and_refused_unless_asked_for(write, tmp_path, quick, monkeypatch) -> None:
    monkeypatch.setattr("sim.study.variants.UNASKED", 5)
    axis = AXIS.replace('["-20 degC"]', '["-20 degC", "-25 degC", "-30 degC"]')
    with Store(tmp_path / "s.sqlite", "one") as store:
        words = r"6 fields around supports \(shoe, flange\).* the first of 3 variants"
        with pytest.raises(CaseError, match=words):
            execute(load_study(write(axis, line=BODY + HOLDERS)), store, serial)
        study = load_study(write('supports = "all"\n' + axis, line=BODY + HOLDERS))
        requested = execute(study, store, serial)
    assert requested.computed == 2  # the first was computed for its price, and kept
    assert len(requested.frame) == 3


def test_the_table_of_supports(write, tmp_path, quick) -> None:
    cold = quick["cold"]
    body = 'keep = ["supports.*.chi"]\n[[axis]]\nkey = "support.shoe.allowance"\nname = "extra"\nvalues = ["0 m"]\n'
    words = ["study", str(write(body, line=LIMITED)), "--out", str(tmp_path / "out"), "-p", "1"]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0, done.output
    with open(tmp_path / "out" / "supports.csv", newline="", encoding="utf-8") as file:
        rows = {row["place"]: row for row in csv.DictReader(file)}
    assert list(rows) == ["shoe", "flange"]
    for name, row in rows.items():
        assert row["kind"] == "support"
        assert float(row["chi [W/K]"]) == cold[f"supports.{name}.chi"]
        assert float(row["chi band [W/K]"]) > 0
        assert float(row["wall_min [degC]"]) == pytest.approx(cold[f"supports.{name}.wall_min"] - 273.15)
        assert row["verdict wall_min"] == "pass"
    assert rows["flange"]["allowance [m]"] == "0.5"
    with open(tmp_path / "out" / "table.csv", newline="", encoding="utf-8") as file:
        (line,) = csv.DictReader(file)
    assert float(line["supports.shoe.chi [W/K]"]) == cold["supports.shoe.chi"]
    pandas = pytest.importorskip("pandas")
    pytest.importorskip("pyarrow")
    stored = pandas.read_parquet(tmp_path / "out" / "supports.parquet")
    assert stored["chi [W/K]"].tolist() == [float(row["chi [W/K]"]) for row in rows.values()]


def test_a_support_that_cannot_be_computed_fails_the_variant_and_keeps_the_rest(write, monkeypatch) -> None:
    whole = run.judge_support

    def broken(case, of, *given):
        if of.name == "shoe":
            raise ValueError("would need more memory")
        return whole(case, of, *given)

    monkeypatch.setattr(run, "judge_support", broken)
    study = load_study(write('supports = ["shoe"]\n' + AXIS, line=LIMITED))
    row = run_variant(study.base, next(variants(study)))
    assert row.status == "failed"
    assert row.reason == "support shoe: could not be computed: ValueError: would need more memory"
    assert row.results["cold"]["verdicts"] == {
        "wall_min": "pass",
        "wall_min at shoe": "not converged",
        "wall_min at flange": "not evaluated",
    }


def test_the_key_follows_the_design_and_the_choice_of_supports(write) -> None:
    """A support's heat sink is told at the design's maintain temperature."""

    def key(body: str = "", more: str = "") -> str:
        return next(variants(load_study(write(body + AXIS, line=BODY + HOLDERS + more)))).key

    keys = {key(), key(more='[design]\nmaintain = "10 degC"\n'), key('supports = "none"\n')}
    assert len(keys) == 3
