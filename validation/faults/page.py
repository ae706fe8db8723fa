"""The page about planted faults, made from the record of a run."""

from collections.abc import Mapping

from validation.faults.fault import Fault
from validation.faults.trial import Outcome

HEAD = """# Planted faults

Made by `python -m validation.faults --page` from the record of a run; not written by hand. Each fault is one change of
the program's numerics (`validation/faults/faults.toml`): a sign, a factor, a lost contact, a swapped clock direction.
They were chosen by reading the code, before anything was run. With each one in place the quick checks of
`coldspot verify` run, then the tests that call the function it is in. A check that nothing can break proves nothing;
this page says what breaks which.

{totals}

| effect | fault | noticed by |
|---|---|---|
{rows}

## Survivors

{survivors}

## Without a place

The program has changed where these were planted; they are written anew, or go.

{absent}
"""


def page(fit: tuple[Fault, ...], absent: Mapping[str, str], known: Mapping[str, Outcome]) -> str:
    """The page: totals, effect by effect what noticed, the survivors, the faults that no longer have a place."""
    tried = sorted((f for f in fit if f.key in known), key=lambda f: f.effect)
    noticed = [known[f.key] for f in tried if known[f.key].what]
    by_tests = sum(outcome.by == "test" for outcome in noticed)
    days = sorted({known[f.key].day for f in tried})
    totals = (
        f"Tried {' and '.join(days) or 'never'}: {len(tried)} of the {len(fit)} faults that have a place, taken from "
        f"every room in turn. **{len(noticed)} of {len(tried)} were noticed**: {len(noticed) - by_tests} by a row of "
        f"`coldspot verify`, {by_tests} by the tests alone. What holds for a sample need not hold for all: of "
        f"{len(tried)} drawn at random with none missed, up to {300 / max(len(tried), 1):.0f} % of all may yet be "
        "missed (95 % confidence)."
    )
    rows = []
    for fault in tried:
        entry = known[fault.key]
        words = f"test `{entry.what}`" if entry.by == "test" else f"check {entry.what}"
        rows.append(f"| {fault.effect} | {fault.name} | {_plain(words if entry.what else '**nothing**')} |")
    survivors = [f"- {f.name} (`{f.place}`)" for f in tried if not known[f.key].what] or ["None."]
    left = [f"- {name}: {_plain(why)}" for name, why in absent.items()] or ["None."]
    return HEAD.format(
        totals=totals, rows="\n".join(rows), survivors="\n".join(survivors), absent="\n".join(left)
    )


def _plain(text: str) -> str:
    return text.replace("|", "/").replace("\n", " ")
