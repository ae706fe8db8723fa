"""A study as a person runs and sees it in a notebook: `sim.study(file)`."""

from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

from sim.dataframes import CAUTION, pandas


@dataclass(frozen=True, repr=False)
class StudyView:
    """An answered study as a notebook shows it; `answers` has all of it."""

    answers: Any

    @property
    def statements(self) -> list[str]:
        """What the study says, in sentences."""
        search = [self.answers.search.in_words()] if self.answers.search is not None else []
        groups = [text for group in self.answers.groups for text in group.statements]
        return [*search, *(one.text for one in self.answers.statements), *groups]

    def table(self) -> Any:
        """A row a variant and condition as a pandas DataFrame; each name says its unit."""
        from sim.study.tables import columns

        return pandas().DataFrame(dict(columns(self.answers)))

    def __repr__(self) -> str:
        return f"<study of {self.answers.study.file.title}: {len(self.answers.frame)} variants>"

    def _repr_html_(self) -> str:
        items = "".join(f"<li>{escape(text)}</li>" for text in self.statements[:12])
        return f"<p>{escape(repr(self)[1:-1])}</p><ul>{items}</ul><p>{CAUTION}</p>"


def study(file: str | Path, folder: str | Path | None = None, *, processes: int = 1) -> StudyView:
    """Run a study file, or go on with the rows that its folder holds; without a folder nothing is kept.

    Raises CaseError for a file that cannot be used.
    """
    from tempfile import TemporaryDirectory

    from sim.study.execute import execute
    from sim.study.pool import local
    from sim.study.program import program_version
    from sim.study.store import Store
    from sim.study.variants import load_study

    laid = load_study(Path(file))
    with TemporaryDirectory() as nowhere:
        place = Path(folder if folder is not None else nowhere) / "study.sqlite"
        with Store(place, program_version()) as store:
            return StudyView(execute(laid, store, local(processes), processes=processes))
