"""Supports in studies: every limit at every place, as `coldspot check` holds it, and nothing left out in silence."""

import csv
from dataclasses import replace

import pytest
from study_line import HEAD, LINE
from typer.testing import CliRunner

from sim.case import CaseError, load_case
from sim.cli import app
from sim.judge import check as judge_check
from sim.judge import support as judge_support
from sim.judge.check import check
from sim.solve.section import solve_section
from sim.solve.support_meshes import solve_support
from sim.study import run
from sim.study.execute import execute
from sim.study.pool import serial
from sim.study.run import run_variant
from sim.study.store import Store
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
LIMITS = ("contents_min", "wall_min", "wall_max", "sheath_max", "barrier_max")


@pytest.fixture(scope="module")
def solved():
    """Solvers that remember: only the limits differ between the runs of the table, which change nothing in a field."""
    sections, fields = {}, {}

    def section(case, *given):
        if "one" not in sections:
            sections["one"] = solve_section(case, None, 1.5)
        return replace(sections["one"], case=case)

    def support(case, of, fineness, **given):
        if of.name not in fields:
            fields[of.name] = solve_support(case, of, 0.7, section=section(case))
        return replace(fields[of.name], case=case)

    return section, support, {}


@pytest.fixture
def quick(solved, monkeypatch, write):
    """Solving costs nothing after the first time; gives the numbers of the line."""
    section, support, computed = solved
    monkeypatch.setattr(run, "solve_section", section)
    monkeypatch.setattr(judge_check, "solve_section", section)
    monkeypatch.setattr(judge_support, "solve_support", support)
    if not computed:
        study = load_study(write(AXIS, line=BODY + HOLDERS))
        computed |= run_variant(study.base, next(variants(study))).results["cold"]["values"]
    return computed


def degrees(kelvin: float) -> str:
    return f"{kelvin - 273.15:.6f} degC"


def of_section(limit: str) -> str:
    part, _, end = limit.rpartition("_")
    return "tracers.sheath_max" if part == "sheath" else f"{part}.{end}"


PLACES = ("nowhere", "section", "support")
TABLE = [  # the quick ones have every limit in every kind, and every place of each
    pytest.param(limit, place, kind, marks=[] if (i + j + k) % 3 == 0 else pytest.mark.slow)
    for i, limit in enumerate(LIMITS)
    for j, place in enumerate(PLACES)
    for k, kind in enumerate(KINDS)
]


@pytest.mark.parametrize(("limit", "place", "kind"), TABLE)
def test_every_limit_at_every_place_in_every_kind_of_study(
    limit, place, kind, write, tmp_path, quick
) -> None:
    """The limit lies beyond both, between section and support, or short of both: check and study say the same."""
    computed = quick
    sign = 1 if limit.endswith("min") else -1
    line = computed[of_section(limit)]
    # The bare shoe is cold, the flange with its looped tracer hot.
    around = min(
        (computed[f"supports.{s}.with_allowance.{limit}"] for s in ("shoe", "flange")), key=lambda v: sign * v
    )
    assert sign * (line - around) > 0, "no support is worse than the line"
    allowed = {
        "nowhere": around - sign * 5.0,
        "support": (line + around) / 2,
        "section": max(line, around) + 5.0 if sign > 0 else min(line, around) - 5.0,
    }[place]
    given = f'{BODY}[limits]\n{limit} = "{degrees(allowed)}"\n{HOLDERS}'
    study = load_study(write(KINDS[kind], line=given))
    case = load_case(study.base.source)
    answer = check(case)
    assert answer.exit_code == (0 if place == "nowhere" else 1)
    with Store(tmp_path / "s.sqlite", "one") as store:
        answers = execute(study, store, serial)
    assert answers.exit_code == answer.exit_code
    by_place = {"": answer.conditions[0].limits} | {s.name: s.limits for s in answer.supports}
    for name, checks in by_place.items():
        key = f"{limit} at {name}" if name else limit
        assert {verdicts(answers.frame, answers.bands, "cold", key)[0]} == {c.verdict for c in checks}
    assert set(overall(answers.frame, answers.bands, ["cold"])) == {answer.verdict}
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
    given = BODY + '[limits]\nwall_min = "-19 degC"\n' + HOLDERS
    study = write('supports = "none"\n' + AXIS, line=given)
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


def test_a_search_that_leaves_a_support_out_names_it(write, tmp_path) -> None:
    given = BODY + '[limits]\nwall_min = "-19 degC"\n' + HOLDERS
    study = load_study(write('supports = "none"\n' + KINDS["search"], line=given))
    with Store(tmp_path / "s.sqlite", "one") as store:
        answers = execute(study, store, serial)
    assert answers.exit_code == 1
    assert (
        "The limits were not held at shoe and flange, which the study leaves out" in answers.search.in_words()
    )


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
        with pytest.raises(
            CaseError, match=r"6 fields around supports \(shoe, flange\).* the first of 3 variants"
        ):
            execute(load_study(write(axis, line=BODY + HOLDERS)), store, serial)
        requested = execute(
            load_study(write('supports = "all"\n' + axis, line=BODY + HOLDERS)), store, serial
        )
    assert requested.computed == 2  # the first was computed for its price, and kept
    assert len(requested.frame) == 3


def test_the_table_of_supports(write, tmp_path, quick) -> None:
    body = 'keep = ["supports.*.chi"]\n[[axis]]\nkey = "support.shoe.allowance"\nname = "extra"\nvalues = ["0 m"]\n'
    given = BODY + '[limits]\nwall_min = "-19 degC"\n' + HOLDERS
    done = CliRunner().invoke(
        app, ["study", str(write(body, line=given)), "--out", str(tmp_path / "out"), "-p", "1"]
    )
    assert done.exit_code == 0, done.output
    with open(tmp_path / "out" / "supports.csv", newline="", encoding="utf-8") as file:
        rows = {row["support"]: row for row in csv.DictReader(file)}
    assert list(rows) == ["shoe", "flange"]
    for name, row in rows.items():
        assert float(row["chi [W/K]"]) == quick[f"supports.{name}.chi"]
        assert float(row["chi band [W/K]"]) > 0
        assert float(row["wall_min [degC]"]) == pytest.approx(quick[f"supports.{name}.wall_min"] - 273.15)
        assert row["verdict wall_min"] == "pass"
    assert rows["flange"]["allowance [m]"] == "0.5"
    with open(tmp_path / "out" / "table.csv", newline="", encoding="utf-8") as file:
        (line,) = csv.DictReader(file)
    assert float(line["supports.shoe.chi [W/K]"]) == quick["supports.shoe.chi"]
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
    given = (
        BODY + '[limits]\nwall_min = "-19 degC"\n' + HOLDERS[HOLDERS.index('[[support]]\nname = "shoe"') :]
    )
    study = load_study(write('supports = ["shoe"]\n' + AXIS, line=given))
    row = run_variant(study.base, next(variants(study)))
    assert (row.status, row.reason) == (
        "failed",
        "support shoe: could not be computed: ValueError: would need more memory",
    )
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


def test_a_condition_that_is_not_run_is_said(write, tmp_path) -> None:
    study = load_study(write('conditions = ["cold"]\nkeep = ["heat_out"]\n' + AXIS, line=LINE))
    with Store(tmp_path / "s.sqlite", "one") as store:
        text = execute(study, store, serial).statements
    assert any("The condition hot was left out" in s.text for s in text)
