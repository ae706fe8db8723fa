"""The database: what is finished stays, what is another's is kept apart."""

import sqlite3

import pytest

from sim.case import CaseError
from sim.study.execute import STUDY, execute
from sim.study.frame import frame
from sim.study.pool import serial
from sim.study.store import Store
from sim.study.variants import load_study, variants

AXIS = '[[axis]]\nkey = "tracer.T1.clock"\nname = "clock"\nvalues = {}\n'


def test_only_what_is_missing_is_computed(write, tmp_path) -> None:
    path = tmp_path / "s.sqlite"

    def computed(values: str, program: str = "one") -> tuple[int, int]:
        with Store(path, program) as store:
            answers = execute(load_study(write(AXIS.format(values))), store, serial)
            return answers.computed, answers.others

    assert computed("[2, 4]") == (3, 0)  # two variants and one reference
    assert computed("[2, 4]") == (0, 0)
    assert computed("[2, 4, 5, 5]")[0] in (1, 2)  # the same variant twice is computed once
    again, others = computed("[8]")
    assert again == 2
    assert others >= 3


def test_a_changed_program_does_not_use_old_rows(write, tmp_path, monkeypatch) -> None:
    import sim.study.variants as module

    path = tmp_path / "s.sqlite"
    with Store(path, "one") as store:
        execute(load_study(write(AXIS.format("[2]"))), store, serial)
    monkeypatch.setattr(module, "program_version", lambda: "another")
    with Store(path, "another") as store:
        answers = execute(load_study(write(AXIS.format("[2]"))), store, serial)
    assert answers.computed == 2
    assert answers.others == 2


def test_numbers_come_back_bit_for_bit_and_others_can_read_them(write, tmp_path) -> None:
    from sim.study.run import run_variant

    study = load_study(write(AXIS.format("[2]")))
    only = next(variants(study))
    row = run_variant(study.base, only)
    with Store(tmp_path / "s.sqlite", "one") as store:
        store.plan(STUDY, [only])
        store.put(row)
        assert next(store.stored(STUDY)).row == row
        table = frame(store.stored(STUDY), study.base.conditions)
    assert table.values["cold"]["contents.min"][0] == row.results["cold"]["values"]["contents.min"]
    with sqlite3.connect(tmp_path / "s.sqlite") as plain:
        sql = "select value from results where condition = 'cold' and result = 'contents.min'"
        assert plain.execute(sql).fetchall() == [(row.results["cold"]["values"]["contents.min"],)]


def test_two_runs_at_once_are_refused(tmp_path) -> None:
    with Store(tmp_path / "s.sqlite", "one"), pytest.raises(CaseError, match="another run is at work"):
        Store(tmp_path / "s.sqlite", "one")
    Store(tmp_path / "s.sqlite", "one").close()


def test_a_file_that_is_no_study_is_refused(tmp_path) -> None:
    path = tmp_path / "s.sqlite"
    path.write_bytes(b"no database at all, only some text that is long enough" * 20)
    with pytest.raises(CaseError, match="cannot be used"):
        Store(path, "one")
    path.unlink()
    with sqlite3.connect(path) as foreign:
        foreign.execute("create table mine (x)")
    foreign.close()
    with pytest.raises(CaseError, match="not a study's"):
        Store(path, "one")
