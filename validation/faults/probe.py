"""Run by path, in a copy of the tree: the quick checks up to the first that fails, or what a set of checks reaches.

python probe.py verify              prints one JSON line: {} , {"row": ...} or {"crash": ...}
python probe.py reach OUT verify    writes the functions of sim that the quick checks call, as JSON
python probe.py reach OUT FILE      the same for one file of tests
"""

from __future__ import annotations

import json
import os
import sys
import threading
from pathlib import Path
from types import CodeType, FrameType

sys.path.insert(0, os.getcwd())


class Failed(Exception):
    """A check failed; the message names it."""


def verify() -> dict[str, str]:
    """What of the quick checks fails first, {} if none does."""
    try:
        from sim.verify.rows import Row
        from sim.verify.run import run

        def tell(row: Row) -> None:
            if not row.passed:
                raise Failed(f"{row.check}: {row.quantity}")

        run(False, tell)
    except Failed as failed:
        return {"row": str(failed)}
    except BaseException as error:
        return {"crash": f"{type(error).__name__}: {error}"[:200]}
    return {}


def reach(out: str, what: str) -> int:
    """Run one set of checks and write which functions of sim it called: [file, first line] each."""
    called: dict[int, CodeType] = {}

    def note(frame: FrameType, event: str, _: object) -> None:
        called.setdefault(id(frame.f_code), frame.f_code)

    threading.settrace(note)
    sys.settrace(note)
    if what == "verify":
        status = 1 if verify() else 0
    else:
        import pytest

        status = int(pytest.main(["-q", "-x", "-p", "no:cacheprovider", "-m", "not slow", what]))
    sys.settrace(None)
    root = Path.cwd()
    found = set()
    for code in called.values():
        path = Path(code.co_filename)
        if path.is_relative_to(root / "sim"):
            found.add((path.relative_to(root).as_posix(), code.co_firstlineno))
    Path(out).write_text(json.dumps(sorted(found)), encoding="utf-8")
    return 0 if status in (0, 5) else status  # 5: nothing but slow tests in the file


if __name__ == "__main__":
    if sys.argv[1] == "verify":
        print(json.dumps(verify()))
    else:
        sys.exit(reach(sys.argv[2], sys.argv[3]))
