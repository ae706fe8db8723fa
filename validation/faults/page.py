"""The page about planted faults, made from the record of a run."""

from __future__ import annotations

from validation.faults.listing import Fault
from validation.faults.trial import Outcome

HEAD = """# Planted faults

Made by `python -m validation.faults --page` from the record of a run; not written by hand. Each fault is one small edit
of the numerics in `sim/` (`validation/faults/*.toml`): a sign, a factor, a lost contact, a swapped clock direction. The
faults were chosen by reading the code, before anything was run, and all of them are kept. With each one in place the
quick checks of `coldspot verify` run, then the tests that call the function it is in. A check that nothing can break
proves nothing; this page says what breaks which.

{totals}

| effect | fault | caught by |
|---|---|---|
"""


def page(every: tuple[Fault, ...], known: dict[str, Outcome]) -> str:
    """The page: totals, effect by effect, and the survivors with what is known of them."""
    tried = [f for f in every if f.key in known]
    by = {kind: sum(known[f.key].by == kind for f in tried) for kind in ("verify", "tests", "")}
    survivors = [f for f in tried if not known[f.key].by]
    explained = [f for f in survivors if f.why]
    caught = by["verify"] + by["tests"]
    totals = (
        f"**{caught} of {len(tried)} faults caught ({100 * caught / max(len(tried), 1):.1f} %)**, of "
        f"{len(every)} in the list: {by['verify']} by a row of `coldspot verify`, {by['tests']} by the tests alone. "
        f"{len(survivors)} survived, {len(explained)} of them explained below."
    )
    rows = []
    for effect in sorted({f.effect for f in tried}):
        for fault in (f for f in tried if f.effect == effect):
            found = known[fault.key]
            words = {"verify": f"check {found.what}", "tests": f"test `{found.what}`", "": "**survived**"}
            rows.append(f"| {effect} | {fault.name} | {_plain(words[found.by])} |")
            effect = ""
    lines = [HEAD.format(totals=totals) + "\n".join(rows), "", "## Survivors", ""]
    lines += [f"- {f.name} (`{f.file}`): {f.why or 'not explained'}" for f in survivors] or ["None."]
    return "\n".join(lines) + "\n"


def _plain(text: str) -> str:
    return text.replace("|", "/").replace("\n", " ")
