"""A way to write a study of the small line into a folder."""

from collections.abc import Callable
from pathlib import Path

import pytest
from study_line import HEAD, LINE

Writer = Callable[..., Path]


@pytest.fixture
def write(tmp_path: Path) -> Writer:
    """Write a study of the small line: its axes as TOML; the case may be given too."""

    def written(body: str, *, line: str = LINE, head: str = HEAD) -> Path:
        (tmp_path / "line.toml").write_text(line, encoding="utf-8")
        path = tmp_path / "study.toml"
        path.write_text(head + body, encoding="utf-8")
        return path

    return written
