"""Names that the server and its workers share; it imports nothing, so that the server is there at once."""

from __future__ import annotations

QUICK = frozenset({"open", "move", "compare", "save"})
SLOW = frozenset({"answer", "episode", "report"})
"""Jobs that are given to a process of their own, so that what is dragged never waits for them."""


def report_name(case: str) -> str:
    """The folder of a case's report, beside the case."""
    return f"{case.removesuffix('.toml') or 'starter'}-report"
