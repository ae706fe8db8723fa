"""A study from its file to its answer: what is missing is computed, then everything is answered from what is stored."""

from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass, replace
from functools import partial

from . import answer, chance, verdicts
from .axes import Point
from .band import Bands, bands, choose_references, on_one_mesh
from .frame import Frame, frame, without_places
from .pool import Executor
from .run import Row, run_variant
from .search import SearchResult, Step, bisect, judged, space, variants_at
from .store import Store
from .supports import left_out
from .variants import Study, Variant, must_ask, priced, refined, unheld, variants
from .words import of_list, shown_paths

STUDY, REFERENCE, SEARCH, SEARCH_REFERENCE = "study", "reference", "search", "search reference"
THREE_MESHES = 3.0**2 * (1 + 1 / 2 + 1 / 4)  # work of three meshes, as fineness squared
REFERENCES = "reference variants on three meshes"
STEP_REFERENCES = 2  # of a search with uncertain inputs, for each value tried


class Watcher:
    """Someone who is told how a run gets on; this one says nothing."""

    def begin(self, total: int, stored: int, what: str, after: float = 0.0) -> None:
        """A stage begins: `total` variants, `stored` of them finished before, `after` variants' worth to follow."""

    def row(self, variant: Variant, row: Row) -> None:
        """A variant is finished and stored."""

    def end(self) -> None:
        """The stage ends, however it does."""


@dataclass(frozen=True)
class Group:
    """The answer for one point of the axes of an uncertain study."""

    label: str
    rows: chance.Rows
    chances: list[chance.Chance]
    spreads: list[chance.Spread]
    drivers: list[chance.Driver]
    statements: list[str]


@dataclass(frozen=True)
class Answers:
    """Everything a study says. paths: the results shown; said: statements about axes; groups: uncertain inputs."""

    study: Study
    frame: Frame
    bands: Bands
    paths: list[str]
    statements: list[answer.Statement]
    groups: list[Group]
    search: SearchResult | None
    computed: int
    others: int

    @property
    def failed(self) -> list[int]:
        return [i for i, ok in enumerate(self.frame.ok) if not ok]

    @property
    def exit_code(self) -> int:
        """As of `coldspot check`: 0 some variant (the value found) meets every limit, 1 none does, or a limit of the
        case stands where the study leaves something out, 3 some failed."""
        code = verdicts.exit_code(self.frame, self.bands)
        if code == 3:
            return code
        met = code == 0 if self.search is None else self.search.least is not None
        return 0 if met and not unheld(self.study.case, self.study.base) else 1


def execute(
    study: Study, store: Store, executor: Executor, watcher: Watcher | None = None, processes: int = 1
) -> Answers:
    """Run what is missing of a study and answer it. processes: at work at once, for what it will cost.

    Raises CaseError where fields around many supports would be computed that nobody asked for.
    """
    run = _Run(study, store, executor, watcher or Watcher(), processes)
    return run.variants() if study.file.search is None else run.search()


@dataclass
class _Run:
    """A study being computed and answered. computed: how many variants were, so far."""

    study: Study
    store: Store
    executor: Executor
    watcher: Watcher
    processes: int
    computed: int = 0

    def variants(self) -> Answers:
        """The answers of axes and samples."""
        study, store, one = self.study, self.store, self.study.base.meshes == 1
        store.drop_plan((SEARCH, SEARCH_REFERENCE, REFERENCE))
        self.price(next(iter(variants(study))))
        store.plan(STUDY, variants(study))
        follow = THREE_MESHES / study.base.fineness**2 * study.file.references if one else 0.0
        self.compute(variants(study), STUDY, "variants", follow)
        table = self.table(STUDY)
        paths = shown_paths(table.paths(), study.file.keep)
        fine: Frame | None = None
        if on_one_mesh(table):
            chosen = {int(table.number[i]) for i in choose_references(table, paths, study.file.references)}
            references = [refined(study, v) for v in variants(study) if v.number in chosen]
            store.plan(REFERENCE, references)
            self.compute(references, REFERENCE, REFERENCES)
            fine = self.table(REFERENCE)
        band = bands(table, fine)
        statements = answer.overruled(study) + answer.unseen(study.case, study.base)
        if not study.inputs:
            statements += answer.statements(table, band, study.lines, paths, study.base)
        groups = _groups(study, table, band, paths)
        return Answers(study, table, band, paths, statements, groups, None, self.computed, store.others())

    def search(self) -> Answers:
        """The answer of a search."""
        study, search = self.study, self.study.file.search
        assert search is not None
        place = space(study)
        self.store.drop_plan((STUDY, REFERENCE, SEARCH, SEARCH_REFERENCE))
        self.price(variants_at(study, place.first, 0)[0])
        tried: list[Variant] = []
        unseen = left_out(study.case, study.base.supports)  # the answer names them

        def judge(point: Point) -> Step:
            needed = variants_at(study, point, len(tried))
            tried.extend(needed)
            for each in needed:
                self.store.add_to_plan(SEARCH, each)
            self.compute(needed, SEARCH, f"{place.name} {point.text}")
            table = without_places(self.table(SEARCH, {each.number for each in needed}), unseen)
            return judged(study, point, table, self.step_bands(needed, table))

        skipped = any(c.name not in study.base.conditions for c in study.case.conditions)
        where = of_list(list(study.base.conditions), 9) if skipped else "all conditions"
        if search.probability is not None:
            meant = f"all limits in {where} with a probability of {100 * search.probability:g} %"
        else:
            meant = f"all limits in {where} by {search.margin} beyond the numerical band"
        outcome = replace(bisect(place, judge, meant), left_out=tuple(unheld(study.case, study.base)))
        whole = self.table(SEARCH)
        band = bands(whole, self.table(SEARCH_REFERENCE) if on_one_mesh(whole) else None)
        paths, notes = shown_paths(whole.paths(), study.file.keep), answer.unseen(study.case, study.base)
        return Answers(study, whole, band, paths, notes, [], outcome, self.computed, self.store.others())

    def step_bands(self, needed: list[Variant], table: Frame) -> Bands:
        """The bands of one step of a search."""
        if not on_one_mesh(table):
            return bands(table, None)
        numbers = {int(table.number[i]) for i in choose_references(table, [], STEP_REFERENCES)}
        better = [refined(self.study, v) for v in needed if v.number in numbers]
        for each in better:
            self.store.add_to_plan(SEARCH_REFERENCE, each)
        self.compute(better, SEARCH_REFERENCE, REFERENCES)
        return bands(table, self.table(SEARCH_REFERENCE, numbers))

    def table(self, role: str, numbers: set[int] | None = None) -> Frame:
        """The finished variants of a role, or some of them."""
        stored = self.store.stored(role)
        return frame((s for s in stored if numbers is None or s.number in numbers), self.study.base.places)

    def price(self, first: Variant) -> None:
        """Where many fields around supports would be computed unasked: compute one, and refuse with the price."""
        if must_ask(self.study):
            self.store.plan(STUDY, [first])
            self.compute([first], STUDY, "variant, to price the supports")
            raise priced(self.study, next(self.store.stored(STUDY)).row.seconds, self.processes)

    def compute(self, needed: Iterable[Variant], role: str, what: str, after: float = 0.0) -> None:
        """Compute those variants of a planned role that are not stored yet, each stored as soon as it is there.

        after: what is to follow, in variants' worth of work, for the time left.
        """
        have = self.store.keys()

        def missing() -> Iterable[Variant]:
            for variant in needed:
                if variant.key not in have:
                    have.add(variant.key)  # two variants that are the same case are computed once
                    yield variant

        self.watcher.begin(*self.store.progress(role), what, after)
        try:
            # closed here, not by the collector: whatever stops this loop ends the workers and their pipes with it
            with closing(self.executor(partial(run_variant, self.study.base), missing())) as computing:
                for variant, row, reason in computing:
                    finished = row if row is not None else Row(variant.key, "failed", reason, {}, 0.0, 0.0)
                    self.store.put(finished)
                    self.computed += 1
                    self.watcher.row(variant, finished)
        finally:
            self.watcher.end()


def _groups(study: Study, table: Frame, band: Bands, paths: list[str]) -> list[Group]:
    if not study.inputs:
        return []
    groups = []
    plan, samples = study.file.sampling, len(study.sample)
    for rows in chance.groups(table, samples):
        label = ", ".join(f"{e.name} {table.texts[e.name][int(rows[0])]}" for e in study.lines)
        plain = chance.independent(rows, table.number, plan, len(study.inputs), samples)
        likely = chance.chances(table, band, plain, plan.confidence)
        spread = chance.spreads(table, band, plain, paths)
        drive = chance.drivers(table, band, rows, paths, study.inputs, plan)
        texts = chance.statements(likely, spread, drive, label, plan.confidence)
        texts += chance.still(table, band, plain, paths, label)
        groups.append(Group(label, rows, likely, spread, drive, texts))
    return groups
