"""What is wrong, where, and what to do next, in the maker's words."""

from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd


@dataclass(frozen=True)
class Problem:
    """One thing the maker should know about a file.

    `row` is the line a spreadsheet shows (the header is row 1; 0 means the whole file); `stops` says
    that something could not be done because of it, otherwise it is a note.
    """

    file: str
    row: int
    column: str
    what: str
    todo: str
    stops: bool = True

    def __str__(self) -> str:
        """Return the sentence the maker reads: where, what, what to do."""
        where = ", ".join(filter(None, (self.file, f"row {self.row}" if self.row else "", self.column)))
        return f"{where}: {self.what} {self.todo}".removeprefix(": ").strip()


class MakerError(Exception):
    """Work that cannot go on, said as one sentence for each problem and never shown as a traceback."""

    def __init__(self, *problems: Problem) -> None:
        """Keep the problems, and let the message be their sentences, a line each."""
        self.problems = problems
        super().__init__("\n".join(map(str, problems)))

    def _render_traceback_(self) -> list[str]:
        """Let IPython print the sentences only (it asks an exception for this method)."""
        return [str(problem) for problem in self.problems]


COLUMNS = ("file", "row", "column", "what", "todo", "stops")


def problem_table(problems: Iterable[Problem]) -> pd.DataFrame:
    """Return the problems as a table with one row each, in the order they were found."""
    rows = [[getattr(problem, name) for name in COLUMNS] for problem in problems]
    return pd.DataFrame(rows, columns=list(COLUMNS))
