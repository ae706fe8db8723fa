"""Text of the user's that is shown to a person: what would steer a terminal or turn a line around is not text."""

import re
from typing import Any

# C0 and C1 control characters, lone surrogates, line and paragraph separators, and the embeddings, overrides and
# isolates of the Unicode bidirectional algorithm (UAX 9), which reorder what follows them. Letters written from right
# to left need none of these.
STEERING = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff\u2028\u2029\u202a-\u202e\u2066-\u2069]+")


# What leaves no mark on the page (Unicode's default ignorable code points, and fillers and blanks drawn empty), but for
# the joiners that Persian and the scripts of India are written with, direction marks and variation selectors.
_HIDDEN = (
    "\u00ad\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b\u2060-\u2065\u206a-\u206f\u2800\u3164\ufeff\uffa0"
    "\ufff0-\ufff8\U000e0000-\U000e0fff"
)
HIDDEN = re.compile(f"[{_HIDDEN}]")
_UNSEEN = re.compile(f"[{_HIDDEN}\u061c\u200c-\u200f\ufe00-\ufe0f]")


def seen(text: str) -> str:
    """The text without what leaves no mark: two texts that look alike are the same."""
    return _UNSEEN.sub("", text)


def printable(text: str) -> str:
    """The text on one line, each run of steering characters a blank."""
    return STEERING.sub(" ", text)


def steers(text: str, allowed: str = "") -> bool:
    """Whether a text holds a steering character other than those allowed."""
    return any(c not in allowed for run in STEERING.findall(text) for c in run)


# Hebrew to Arabic Extended, presentation forms, and the planes' blocks of scripts written from right to left.
_RIGHT_TO_LEFT = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc\U00010800-\U00010fff\U0001e800-\U0001efff"
_RUN = re.compile(rf"(?>[{_RIGHT_TO_LEFT}]+(?:[^\w\n\x1b]{{1,2}}[{_RIGHT_TO_LEFT}]+)*)(?!\u200e)")


def ordered(text: str) -> str:
    """The text with a left-to-right mark after each run of letters written from right to left.

    Without it a viewer that follows the Unicode bidirectional algorithm takes the numbers after an Arabic name into the
    name's direction, and "44.5 ± 1.4" is read as "1.4 ± 44.5".
    """
    return text if text.isascii() else _RUN.sub(lambda run: run[0] + "\u200e", text)


def in_order(value: Any) -> Any:
    """What a page's template prints: plain text `ordered`, markup as it is."""
    return ordered(value) if type(value) is str else value
