"""Text of the user's that is shown to a person: what would steer a terminal or turn a line around is not text."""

from __future__ import annotations

import re

# C0 and C1 control characters, lone surrogates, line and paragraph separators, and the embeddings, overrides and
# isolates of the Unicode bidirectional algorithm (UAX 9), which reorder what follows them. Letters written from right
# to left need none of these.
STEERING = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff\u2028\u2029\u202a-\u202e\u2066-\u2069]+")


def printable(text: str) -> str:
    """The text on one line, each run of steering characters a blank."""
    return STEERING.sub(" ", text)


def steers(text: str, allowed: str = "") -> bool:
    """Whether a text holds a steering character other than those allowed."""
    return any(c not in allowed for run in STEERING.findall(text) for c in run)
