"""Running the checks: what passes, what fails, and what cannot be run."""

import planted_checks as planted
import pytest
from planted_checks import plant

from validation.published import run as running
from validation.published.rows import Row
from validation.published.run import Check, run


@pytest.mark.parametrize(
    "bad", [planted.wrong, planted.endless, planted.stops, planted.nothing, planted.unsourced]
)
def test_a_failure_is_a_failure_and_the_others_run(monkeypatch: pytest.MonkeyPatch, bad: object) -> None:
    plant(monkeypatch, bad, planted.right)
    outcome = run(False)
    assert [g.verdict for g in outcome.groups] == ["FAIL", "pass"]
    assert outcome.exit_code == 1


def test_what_a_crash_says_names_no_folder_of_the_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    plant(monkeypatch, planted.stops)
    crash = run(False).groups[0].crash
    assert crash.startswith("ValueError: no file case.toml for W/m/K (planted_checks.py, line ")


def test_a_failure_counts_before_what_could_not_be_run(monkeypatch: pytest.MonkeyPatch) -> None:
    plant(monkeypatch, planted.elsewhere, planted.right)
    assert run(False).exit_code == 3
    plant(monkeypatch, planted.elsewhere, planted.wrong)
    assert run(False).exit_code == 1


def test_a_module_that_cannot_be_imported_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(running, "CHECKS", (Check("no_such_check", True),))
    outcome = run(False)
    assert outcome.exit_code == 1
    assert "no_such_check" in outcome.groups[0].crash


def test_long_checks_run_in_the_whole_set_only(monkeypatch: pytest.MonkeyPatch) -> None:
    plant(monkeypatch, planted.right, long=(planted.many,))
    assert [len(run(full).groups) for full in (False, True)] == [1, 2]
    monkeypatch.setattr(running, "CHECKS", (Check("planted", False),))
    assert [len(run(full).groups) for full in (False, True)] == [0, 2]


@pytest.mark.parametrize(
    ("computed", "tolerance", "used"),
    [
        (1.5, 1.0, 0.5),
        (3.0, 1.0, 2.0),
        (1.0, 0.0, 0.0),
        (1.1, 0.0, float("inf")),
        (float("nan"), 1.0, float("inf")),
    ],
)
def test_share_of_the_tolerance(computed: float, tolerance: float, used: float) -> None:
    row = Row("c", planted.SOURCE, "q", 1.0, computed, tolerance, "", "-")
    assert row.used == pytest.approx(used)
    assert row.passed == (used <= 1.0)
