"""How a run gets on, on the terminal: a line for each variant as it comes, progress, and an honest time left."""

from __future__ import annotations

from collections import deque
from time import monotonic
from typing import TYPE_CHECKING, Any

from sim.study.execute import Watcher
from sim.study.run import Row
from sim.study.variants import Variant, duration
from sim.study.words import displayed, number, unit

if TYPE_CHECKING:
    from rich.console import Console

ALL_SHOWN = 60  # variants of which every one gets a line; of more, about this many and every failure
WINDOW = 60  # finished variants that the time left is taken from
EVERY = 5.0  # seconds between lines of progress where there is no terminal
SHOWN = ("contents.min", "tracers.sheath_max", "heat_out")


class Pace:
    """Time left, from how long the last finished variants took. None until there is something to go by."""

    def __init__(self, remaining: float) -> None:
        self.remaining = remaining
        self._ends: deque[float] = deque([monotonic()], maxlen=WINDOW)

    def one(self) -> None:
        self.remaining -= 1
        self._ends.append(monotonic())

    def left(self) -> float | None:
        """Seconds left, None where fewer than four are done."""
        if len(self._ends) < 5:
            return None
        return max(self.remaining, 0) * (self._ends[-1] - self._ends[0]) / (len(self._ends) - 1)


def time_left(seconds: float | None) -> str:
    """ "about 40 s left", "about 5 min left"."""
    return "time left not known yet" if seconds is None else f"about {duration(seconds)} left"


class Terminal(Watcher):
    """Tells a person how the run gets on."""

    def __init__(self, console: Console, *, quiet: bool = False) -> None:
        self.console = console
        self.quiet = quiet
        self._live: Any = None
        self._task: Any = None
        self._headed = False

    def begin(self, total: int, stored: int, what: str, after: float = 0.0) -> None:
        self._what, self._total, self._done, self._count = what, total, stored, 0
        self._pace = Pace(total - stored + after)
        self._told = monotonic()
        self._step = 1 if total <= ALL_SHOWN else -(-total // ALL_SHOWN)
        if total and not self.quiet:
            self._headed = False
            self.console.print(f"{total} {what}", highlight=False)
        if stored and not self.quiet:
            self.console.print(f"{stored} of {total} {what} are stored already", highlight=False)
        if self.quiet or not self.console.is_terminal or total == stored:
            return
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

        self._live = Progress(
            TextColumn("{task.description}", markup=False),
            BarColumn(bar_width=20),
            MofNCompleteColumn(),
            TextColumn("{task.fields[left]}"),
            console=self.console,
            transient=True,
        )
        self._live.start()
        self._task = self._live.add_task(what, total=total, completed=stored, left=time_left(None))

    def row(self, variant: Variant, row: Row) -> None:
        self._pace.one()
        self._done += 1
        self._count += 1
        left = time_left(self._pace.left())
        if self._live is not None:
            self._live.update(self._task, completed=self._done, left=left)
        if self.quiet:
            return
        if row.status != "done" or (self._count - 1) % self._step == 0:
            self._line(variant, row)
        if self._live is None and monotonic() - self._told > EVERY:
            self._told = monotonic()
            self.console.print(f"{self._done} of {self._total} {self._what}, {left}", highlight=False)

    def end(self) -> None:
        if self._live is not None:
            self._live.stop()
            self._live = None

    def _line(self, variant: Variant, row: Row) -> None:
        where = ", ".join(f"{name} {text}" for name, text in variant.texts.items())
        if row.status != "done":
            self.console.print(f"  {variant.number:>5}  {where}: {row.reason}", highlight=False, markup=False)
            return
        if not self._headed:
            self._headed = True
            self.console.print(
                "variant  what; then by condition: coldest contents, hottest sheath, heat loss",
                highlight=False,
            )
        cells = [f"{name} {_numbers(parts['values'])}" for name, parts in row.results.items()]
        self.console.print(
            f"  {variant.number:>5}  {where} | " + " | ".join(cells), highlight=False, markup=False
        )


def _numbers(values: dict[str, float | None]) -> str:
    words = []
    for path in SHOWN:
        value = values.get(path)
        if value is not None:
            words.append(f"{number(displayed(path, value))} {unit(path)}")
    return ", ".join(words)
