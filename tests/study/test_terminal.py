"""The time left: from how long the last variants took."""

import pytest

from sim.report import study_progress as terminal
from sim.report.study_progress import Pace, time_left


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


def test_durations_in_words() -> None:
    assert time_left(None) == "time left not known yet"
    assert [time_left(s) for s in (0.2, 40.0, 300.0, 9000.0)] == [
        "about 1 s left",
        "about 40 s left",
        "about 5 min left",
        "about 2.5 h left",
    ]
