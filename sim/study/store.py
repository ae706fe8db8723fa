"""Where finished variants are kept: one SQLite file a study, a row committed as soon as it is there.

Write-ahead logging: a process killed at any moment leaves a file that opens, with every committed row in it. A row's
key is a hash of case, changes, meshes and program version, so rows of another case or version are never mixed in.
Readable as it is: the view `results` has one line for each variant, condition and result.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import IO, Any

from sim.case import CaseError

from .run import Row
from .variants import Variant

LAYOUT = 1
APPLICATION = 0x436F6C64  # marks the file as a study's
_SCHEMA = """
create table if not exists done (
    key text primary key, status text not null, reason text not null, results text not null,
    seconds real not null, cpu real not null, run integer not null, program text not null
) without rowid;
create table if not exists plan (
    role text not null, number integer not null, key text not null, texts text not null, numbers text not null,
    primary key (role, number)
) without rowid;
create table if not exists run (
    id integer primary key, started text not null default current_timestamp, program text not null,
    executor text not null, study text not null, resolved_case text not null
);
create view if not exists results as
    select p.role, p.number, p.texts as variant, d.status, d.reason, c.key as condition, q.key as result, q.value
    from plan p join done d on d.key = p.key, json_each(d.results) c, json_each(c.value, '$.values') q;
"""


@dataclass(frozen=True)
class Stored:
    """A planned variant with its finished row."""

    number: int
    texts: dict[str, str]
    numbers: dict[str, float | None]
    row: Row


class Store:
    """The file of one study. Only one run may write at a time; readers are free."""

    def __init__(self, path: Path, program: str) -> None:
        """Open or make the file. Raises CaseError where it cannot be, or is not a study's."""
        self.path = path
        self.program = program
        self.run = 0
        self._lock = _locked(path)
        try:
            self._db = sqlite3.connect(path, timeout=30.0, isolation_level=None)
            ours = self._db.execute("pragma application_id").fetchone()[0]
            empty = self._db.execute("select count(*) from sqlite_master").fetchone()[0] == 0
            if not (empty or ours == APPLICATION):
                raise CaseError("is a database, but not a study's; accepted: another --out", file=str(path))
            layout = self._db.execute("pragma user_version").fetchone()[0]
            if layout not in (0, LAYOUT):
                message = f"is of layout {layout}, this program knows {LAYOUT}; accepted: another --out"
                raise CaseError(message, file=str(path))
            self._db.execute("pragma journal_mode = wal")
            self._db.execute("pragma synchronous = normal")
            self._db.execute(f"pragma application_id = {APPLICATION}")
            self._db.execute(f"pragma user_version = {LAYOUT}")
            self._db.executescript(_SCHEMA)
        except sqlite3.Error as error:
            self.close()
            raise CaseError(f"cannot be used as a study's database: {error}", file=str(path)) from None
        except BaseException:  # an interrupt too: the file and its lock are not left to the collector
            self.close()
            raise

    def begin_run(self, executor: str, study: str, resolved_case: str) -> None:
        """Note that a run begins: what it is of, and what computes."""
        done = self._db.execute(
            "insert into run (program, executor, study, resolved_case) values (?, ?, ?, ?)",
            (self.program, executor, study, resolved_case),
        )
        self.run = int(done.lastrowid or 0)

    def plan(self, role: str, variants: Iterable[Variant]) -> int:
        """Write what belongs to this study, all at once; returns how many."""
        self._db.execute("begin immediate")
        self._db.execute("delete from plan where role = ?", (role,))
        rows = (
            (role, v.number, v.key, json.dumps(v.texts, ensure_ascii=False), json.dumps(v.numbers))
            for v in variants
        )
        count = self._db.executemany("insert or replace into plan values (?, ?, ?, ?, ?)", rows).rowcount
        self._db.execute("commit")
        return max(count, 0)

    def add_to_plan(self, role: str, variant: Variant) -> None:
        """Write one more that belongs to this study."""
        texts, numbers = json.dumps(variant.texts, ensure_ascii=False), json.dumps(variant.numbers)
        row = (role, variant.number, variant.key, texts, numbers)
        self._db.execute("insert or replace into plan values (?, ?, ?, ?, ?)", row)

    def drop_plan(self, roles: Iterable[str]) -> None:
        """Forget what belongs to the study under these roles; finished rows stay."""
        for role in roles:
            self._db.execute("delete from plan where role = ?", (role,))

    def keys(self) -> set[str]:
        """Keys of all finished variants, failed ones too."""
        return {key for (key,) in self._db.execute("select key from done")}

    def progress(self, role: str) -> tuple[int, int]:
        """(planned, finished) variants of a role."""
        sql = "select count(*), count(d.key) from plan p left join done d on d.key = p.key where p.role = ?"
        total, finished = self._db.execute(sql, (role,)).fetchone()
        return int(total), int(finished)

    def put(self, row: Row) -> None:
        """Commit one finished row. A key that is there already is left as it is."""
        results = json.dumps(row.results, allow_nan=False, separators=(",", ":"))
        values = (row.key, row.status, row.reason, results, row.seconds, row.cpu, self.run, self.program)
        self._db.execute("insert or ignore into done values (?, ?, ?, ?, ?, ?, ?, ?)", values)

    def forget_failures(self, role: str) -> int:
        """Drop failed rows of the plan, so that they are tried again; returns how many."""
        sql = "delete from done where status = 'failed' and key in (select key from plan where role = ?)"
        return self._db.execute(sql, (role,)).rowcount

    def stored(self, role: str) -> Iterator[Stored]:
        """Every planned variant of a role that is finished, by number."""
        sql = """select p.number, p.texts, p.numbers, d.key, d.status, d.reason, d.results, d.seconds, d.cpu
            from plan p join done d on d.key = p.key where p.role = ? order by p.number"""
        for number, texts, numbers, key, status, reason, results, seconds, cpu in self._db.execute(
            sql, (role,)
        ):
            row = Row(key, status, reason, json.loads(results), seconds, cpu)
            yield Stored(number, json.loads(texts), json.loads(numbers), row)

    def others(self) -> int:
        """Rows in the file that do not belong to the study as it is now."""
        sql = "select count(*) from done where key not in (select key from plan)"
        return int(self._db.execute(sql).fetchone()[0])

    def close(self) -> None:
        """Close the file and let another run have it."""
        if hasattr(self, "_db"):
            self._db.close()
        if self._lock is not None:
            self._lock.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _locked(path: Path) -> IO[Any] | None:
    """A lock that ends with the process, however it ends. Raises CaseError where another run holds it."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = open(path.with_suffix(".lock"), "a")  # noqa: SIM115
    except OSError as error:
        raise CaseError(f"cannot be written: {error.strerror or error}", file=str(path)) from None
    try:
        import fcntl
    except ImportError:  # not on every system; SQLite's own locks still keep the file whole
        return handle
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        handle.close()
        raise CaseError("another run is at work on this study", file=str(path)) from None
    return handle
