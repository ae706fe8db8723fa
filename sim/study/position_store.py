"""Finished positions of a clock study that is not finished, a file each: the same command goes on with them."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from pydantic import ConfigDict, TypeAdapter

from sim.case import Case, CaseError, resolved
from sim.judge.limits import Verdict

from .cells import replace
from .positions import CheckAt, ClockRow, Placed
from .program import program_version

_Content = tuple[tuple[ClockRow, ...], tuple[CheckAt, ...], Verdict | None, str]
_CONTENT: TypeAdapter[_Content] = TypeAdapter(_Content, config=ConfigDict(ser_json_inf_nan="strings"))


class PositionStore:
    """The files of one clock study in a folder; depends: what its answer depends on besides the case.

    Raises CaseError where the folder cannot be used.
    """

    def __init__(self, folder: Path, case: Case, depends: Mapping[str, Any]) -> None:
        self.folder = folder
        self.of_all = json.dumps([resolved(case), depends, program_version()], sort_keys=True, default=str)
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise CaseError(f"cannot be used: {error.strerror or error}", file=str(folder)) from None

    def _file(self, at: float) -> Path:
        key = hashlib.sha256(f"{self.of_all}{at!r}".encode("utf-8", "surrogatepass")).hexdigest()[:32]
        return self.folder / f"position_{key}.json"

    def finished(self, positions: Iterable[float]) -> dict[float, Placed]:
        """Those of the positions that an earlier run had finished, without their fields."""
        files = {at: self._file(at) for at in positions}
        return {
            at: Placed(at, *_CONTENT.validate_json(file.read_bytes()))
            for at, file in files.items()
            if file.exists()
        }

    def put(self, at: Placed) -> None:
        """Keep a finished position; one that met a fault is computed again."""
        if at.fault is None:
            content = _CONTENT.dump_json((at.rows, at.checks, at.verdict, at.impossible))
            replace(self._file(at.clock), lambda beside: beside.write_bytes(content))
