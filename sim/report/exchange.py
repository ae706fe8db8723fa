"""Two names of a file system exchanged in one step, where the system can."""

from __future__ import annotations

import ctypes
import os
import sys
from pathlib import Path

_HERE, _EXCHANGE = -100, 2  # AT_FDCWD and RENAME_EXCHANGE of renameat2(2), Linux 3.15


def exchanged(one: Path, other: Path) -> bool:
    """Exchange two names at once, so that each exists at every moment; False where that cannot be done."""
    if not sys.platform.startswith("linux"):
        return False
    try:
        call = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    return bool(call(_HERE, os.fsencode(one), _HERE, os.fsencode(other), _EXCHANGE) == 0)
