"""The time left: from how long the last variants took."""

import pytest

from sim.report import study_progress as terminal
from sim.report.study_progress import Pace


def test_time_left_follows_the_pace(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [0.0]
    monkeypatch.setattr(terminal, "monotonic", lambda: now[0])
    pace = Pace(100)
    for _ in range(3):
        now[0] += 2.0
        pace.one()
    assert pace.left() is None
    now[0] += 2.0
    pace.one()
    assert pace.left() == pytest.approx(96 * 2.0)
    # It gets slower: the last ones count.
    for _ in range(terminal.WINDOW):
        now[0] += 5.0
        pace.one()
    assert pace.left() == pytest.approx(36 * 5.0)
