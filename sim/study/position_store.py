"""Finished positions of a clock study that is not finished, in a study's store: the same command goes on with them."""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from pydantic import ConfigDict, TypeAdapter

from sim.case import Case, resolved, to_toml
from sim.judge.limits import Verdict

from .positions import CheckAt, ClockRow, Placed
from .program import program_version
from .run import Row
from .store import Store
from .variants import Variant

ROLE, FILE = "clock", "positions.sqlite"
_Content = tuple[tuple[ClockRow, ...], tuple[CheckAt, ...], Verdict | None, str]
_CONTENT: TypeAdapter[_Content] = TypeAdapter(_Content, config=ConfigDict(ser_json_inf_nan="strings"))


class PositionStore:
    """The store of one clock study."""

    def __init__(self, store: Store, keys: Mapping[float, str]) -> None:
        self.store, self.keys = store, keys

    def finished(self) -> dict[float, Placed]:
        """Positions that an earlier run had finished, without their fields."""
        at = {key: clock for clock, key in self.keys.items()}
        finished = {}
        for one in self.store.stored(ROLE):
            clock = at[one.row.key]
            rows, checks, verdict, impossible = _CONTENT.validate_json(one.row.results["clock"]["at"]["json"])
            finished[clock] = Placed(clock, rows, checks, verdict, impossible)
        return finished

    def put(self, at: Placed) -> None:
        """Keep a finished position; one that met a fault is computed again."""
        if at.fault is None:
            text = _CONTENT.dump_json((at.rows, at.checks, at.verdict, at.impossible)).decode()
            self.store.put(Row(self.keys[at.clock], "done", "", {"clock": {"at": {"json": text}}}, 0.0, 0.0))


@contextmanager
def position_store(
    folder: Path | None, case: Case, depends: Mapping[str, Any], positions: Iterable[float]
) -> Iterator[PositionStore | None]:
    """The store of a clock study in a folder; None without one. depends: what its answer depends on besides the case.

    Raises CaseError where the folder cannot be used.
    """
    if folder is None:
        yield None
        return
    program = program_version()
    of_all = json.dumps([resolved(case), depends, program], sort_keys=True, default=str)
    keys = {at: hashlib.sha256(f"{of_all}{at!r}".encode()).hexdigest() for at in positions}
    with Store(folder / FILE, program) as store:
        store.begin_run("clock", json.dumps(depends), to_toml(case))
        store.plan(ROLE, (Variant(n, {}, {"clock": at}, (), keys[at]) for n, at in enumerate(keys)))
        yield PositionStore(store, keys)
