"""Names that the server and its workers share; it imports nothing, so that the server is there at once."""

QUICK = frozenset({"open", "move", "compare", "save"})
SLOW = frozenset({"answer", "episode", "report"})
"""Jobs that are given to a process of their own, so that what is dragged never waits for them."""


SHIPPED = "shipped:"
"""Before the name of a case that comes with the program."""


def report_name(case: str) -> str:
    """The folder of a case's report, in the desk's folder."""
    return f"{case.rpartition('/')[2].removeprefix(SHIPPED).removesuffix('.toml') or 'starter'}-report"
