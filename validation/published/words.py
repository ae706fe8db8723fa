"""Numbers and sentences of a run of the checks, the same on the terminal and in the files."""

from math import isfinite

from sim.report.words import NONE, counted
from validation.published.rows import Row
from validation.published.run import Group, Outcome
from validation.published.sources import spoken

READ = (
    "Difference is computed less published. The band is the numerical uncertainty of the computed number (three "
    "meshes); a formula has none. The tolerance is the largest difference allowed, with the reason why that much."
)


def value(number: float) -> str:
    """A number to five digits; words where there is none."""
    return f"{number + 0.0:.5g}" if isfinite(number) else "no number"


def difference(row: Row) -> str:
    """Signed, to two digits."""
    return f"{row.difference + 0.0:+.2g}" if isfinite(row.difference) else NONE


def band(row: Row) -> str:
    """To two digits; a dash for a formula."""
    return NONE if row.band is None else f"{row.band:.2g}" if isfinite(row.band) else "no band"


def tolerance(row: Row) -> str:
    return f"{row.tolerance:.2g}"


def seconds(time: float) -> str:
    """Seconds with what matters of them: 0.02 s, 3.1 s, 65 s."""
    return f"{time:.2f} s" if time < 1 else f"{time:.1f} s" if time < 10 else f"{time:.0f} s"


def duration(time: float) -> str:
    return f"{time:.0f} s" if time < 120 else f"{time / 60:.1f} min"


def label(group: Group, row: Row) -> str:
    """What a row of a check compares; with the check's name where the check holds several."""
    several = len({r.check for r in group.rows}) > 1
    return f"{row.check}: {row.quantity}" if several else row.quantity


def unit(row: Row) -> str:
    """The unit with the comma before it; nothing where there is none."""
    return "" if row.unit in ("-", "") else f", {row.unit}"


def sources(group: Group) -> list[str]:
    """Sources of a check's rows as a person reads them, each once."""
    return list(dict.fromkeys(spoken(row.source) for row in group.rows))


def trouble(group: Group) -> str:
    """Why a check has no rows; empty where it has."""
    if group.crash:
        return f"it stopped: {group.crash}"
    return group.missing and f"could not be run: {group.missing}"


def summary(outcome: Outcome) -> str:
    """The whole run in a sentence or two."""
    rows, groups = outcome.rows, outcome.groups
    failed, missing = outcome.of("FAIL"), outcome.of("not run")
    wrong = sum(not row.passed for row in rows)
    if failed:
        text = f"{len(failed)} of {counted(len(groups), 'check')} FAILED, with {wrong} of {len(rows)} numbers outside"
        text += " their tolerance"
        stopped = sum(bool(group.crash) for group in failed)
        text += f" and {counted(stopped, 'check')} stopped" if stopped else ""
    elif len(missing) < len(groups):
        left = len(groups) - len(missing)
        text = (
            f"{'All ' if not missing else ''}{counted(len(rows), 'number')} of {counted(left, 'check')} pass"
        )
    else:
        text = "No check was run"
    if missing:
        text += f"; {counted(len(missing), 'check')} could not be run"
    return f"{text}."


def scope(outcome: Outcome) -> str:
    """Which set was run, and how long it took."""
    which = "The whole set" if outcome.full else "The quick set; `coldspot verify --full` runs all"
    return f"{which}. It took {duration(outcome.seconds)}."
