"""One variant to one row: the same bit for bit whatever ran before, and failures with their reasons."""

import pytest
from study_line import HEAD, LINE

from sim.case import case_for, load_case
from sim.solve.at_rest import MeshStore
from sim.solve.section import solve_section
from sim.study import run
from sim.study.run import RecentMeshes, run_variant
from sim.study.variants import load_study, variants

CLOCKS = '[[axis]]\nkey = "tracer.T1.clock"\nvalues = [2, 5, 8]\n'


def bare(row) -> tuple:
    return row.key, row.status, row.reason, row.results


def test_order_and_history_make_no_difference(write) -> None:
    study = load_study(write(CLOCKS))
    listed = list(variants(study))
    forward = [bare(run_variant(study.base, v)) for v in listed]
    run._own.meshes = RecentMeshes(cells=1)
    backward = [bare(run_variant(study.base, v)) for v in reversed(listed)]
    assert forward == backward[::-1]


def test_three_meshes_give_what_the_check_gives(write) -> None:
    study = load_study(write(CLOCKS, head=HEAD.replace("0.75", "1.5") + "meshes = 3\n"))
    row = run_variant(study.base, next(iter(variants(study))))
    case = load_case(study.base.source)
    from sim.case import with_overrides

    moved = with_overrides(case, {"tracer": {"T1": {"clock": 2}}})
    whole = solve_section(case_for(moved, "cold"), MeshStore(), 1.5)
    for path in ("contents.min", "tracers.T1.sheath_max", "heat_out"):
        assert row.results["cold"]["values"][path] == whole.quantities[path].value
        assert row.results["cold"]["bands"][path] == whole.quantities[path].band


def test_a_variant_that_cannot_be_says_why(write) -> None:
    study = load_study(write('[[axis]]\nkey = "tracer.count"\nclocks = [[6.0], [6.0, 6.05]]\n'))
    good, bad = (run_variant(study.base, v) for v in variants(study))
    assert good.status == "done"
    assert bad.status == "failed"
    assert bad.reason.startswith("not a valid case: ")
    assert "T2" in bad.reason


def test_whatever_happens_in_a_variant_is_a_row(write, monkeypatch: pytest.MonkeyPatch) -> None:
    study = load_study(write(CLOCKS))

    def broken(*_: object) -> None:
        raise ZeroDivisionError("by nought")

    monkeypatch.setattr(run, "network", broken)
    row = run_variant(study.base, next(variants(study)))
    assert (row.status, row.reason) == ("failed", "could not be computed: ZeroDivisionError: by nought")


def test_a_bracket_keeps_its_own_band_and_passes_nothing(write, tmp_path, monkeypatch) -> None:
    from dataclasses import replace

    from sim.study.execute import execute
    from sim.study.pool import serial
    from sim.study.store import Store

    whole = run.solve_section

    def unresolved(case, *given):
        still = case.contents.model_copy(update={"state": "still"})
        result = whole(case.model_copy(update={"contents": still}), *given)
        return replace(result, case=case, bracketed=True, ends=ends)

    ends: dict[str, float] = {}

    monkeypatch.setattr(run, "solve_section", unresolved)
    line = LINE.replace('state = "still"', 'fluid = "water"\nstate = "buoyant"')
    study = load_study(write(CLOCKS, line=line, head=HEAD + 'conditions = ["cold"]\n'))
    with Store(tmp_path / "s.sqlite", "one") as store:
        answers = execute(study, store, serial)
    assert answers.bands.references == 0  # no reference is needed
    row = run_variant(study.base, next(variants(study))).results["cold"]
    assert row["mesh"]["bracketed"] == 1
    assert answers.bands.of("cold", "contents.min", 0) == row["bands"]["contents.min"]
    assert set(row["verdicts"].values()) <= {"too close to call", "fail"}
    ends |= {path: (400.0 if "min" in path else 200.0) for path in row["values"]}
    assert "pass" in run_variant(study.base, next(variants(study))).results["cold"]["verdicts"].values()
    ends.clear()
    assert answers.exit_code == 1
    assert all(
        "the result is a bracket, which passes only where" in s.text
        for s in answers.statements
        if s.kind == "limit"
    )


def test_one_condition_that_fails_leaves_the_other(write, monkeypatch) -> None:
    study = load_study(write(CLOCKS))
    whole = run.solve

    def half(net, *given):
        if net.case.conditions[0].name == "hot":
            raise run.NotConverged("by order")
        return whole(net, *given)

    monkeypatch.setattr(run, "solve", half)
    row = run_variant(study.base, next(variants(study)))
    assert (row.status, row.reason) == ("failed", "hot: did not converge: by order")
    assert list(row.results) == ["cold"]


def test_several_steady_states_are_each_held_in_a_study(write) -> None:
    """An output that rises with temperature has a cold and a hot state: both are judged, whatever the meshes."""
    from sim.case import load_case as load
    from sim.judge.check import check
    from sim.judge.limits import worst

    at = '[["0 degC", "2 W/m"], ["40 degC", "2 W/m"], ["60 degC", "60 W/m"], ["200 degC", "60 W/m"]]'
    line = LINE.replace('output = "20 W/m"', f"output = {{ at = {at} }}").replace('output = "high"\n', "")
    study = load_study(write(CLOCKS, line=line, head=HEAD + 'conditions = ["cold"]\n'))
    row = run_variant(study.base, next(variants(study))).results["cold"]
    answer = check(load(study.base.source))
    assert row["mesh"]["states"] == len(answer.conditions[0].result.states) > 1
    for limit in ("contents_min", "sheath_max"):
        judged = worst([c.verdict for c in answer.conditions[0].limits if c.limit == limit])
        assert row["verdicts"][limit] == judged
