"""What the maker is told of the sheets of a spreadsheet: which were read, how rows are counted, what looks wrong."""

from collections.abc import Sequence
from typing import NamedTuple

import pandas as pd

from planner.problems import MakerError, Problem
from planner.sales.layout import Missing
from planner.sales.names import counted
from planner.settings import EXPORT_COLUMNS, Export
from planner.tables import listed

FEWEST_ALIKE = 10  # lines of one sheet that all stand in another make a copy; fewer may be alike by chance
FEWEST_ORDERS = 2  # so many where they have order numbers
FIRST_NUMBER, LAST_NUMBER = 20_000, 80_000  # days as spreadsheets number them: 1954 to 2119


class SheetRead(NamedTuple):
    """One sheet: its lines (as reading.Reading has them), and where its rows stand among those of all."""

    title: str  # blank where it is the only one with rows
    number: int
    heading_row: int  # as counted in the sheet
    above: int  # rows of the sheets before it
    last: int  # its last row, counted on from these
    lines: pd.DataFrame


def sheets_in_words(read: Sequence[SheetRead]) -> str:
    """Say from which sheets the lines are.

    >>> sheets_in_words([SheetRead("Jan", 1, 2, 0, 9, None), SheetRead("Feb", 2, 1, 9, 20, None)])
    'spreadsheet, sheets Jan and Feb, headings in rows 2 and 1'
    """
    if len(read) == 1:
        return f"spreadsheet, sheet {read[0].number}, headings in row {read[0].heading_row}"
    rows = listed([str(sheet.heading_row) for sheet in read])
    return f"spreadsheet, sheets {listed([sheet.title for sheet in read])}, headings in rows {rows}"


def not_read(name: str, title: str, layout: Missing, export: Export, may_be_sales: bool) -> Problem:
    """Say that a sheet was not read and why. It stops where one heading only is missing or it looks like sales."""
    what = f"sheet {title} was not read: it has no heading {listed(layout.missing or list(export.columns.values()))}."
    if layout.found and len(layout.missing) == 1:
        todo = f"It has {listed(layout.seen)}. If it holds sales, give it the headings of the sheets that are read."
        return Problem(name, 0, "", what, todo)
    if may_be_sales:
        what = f"{what[:-1]}, and it holds days and numbers."
        return Problem(name, 0, "", what, "If these are sales, give it the headings of the sheets that are read.")
    return Problem(name, 0, "", what, "Nothing to do if it holds no sales.", stops=False)


def row_notes(name: str, read: Sequence[SheetRead]) -> list[Problem]:
    """Say how rows are numbered where several sheets were read."""
    if len(read) == 1:
        return []
    first, *others = read
    places = [f"rows {at.above + 1} to {at.last} are rows 1 to {at.last - at.above} of {at.title}" for at in others]
    here = f"has {len(read)} sheets that are read. Their rows are counted on: up to row {first.last} of {first.title}"
    return [Problem(name, 0, "", f"{here}; {'; '.join(places)}.", "Nothing to do.", stops=False)]


def refuse_copies(name: str, read: Sequence[SheetRead]) -> None:
    """Raise MakerError where all lines of a sheet stand in another one too: many lines, or some with order numbers."""
    texts = [pd.util.hash_pandas_object(sheet.lines[list(EXPORT_COLUMNS)].astype("str"), index=False) for sheet in read]
    for at, small in enumerate(texts):
        least = FEWEST_ORDERS if (read[at].lines["order"].astype("str") != "").any() else FEWEST_ALIKE
        for other, large in enumerate(texts):
            longer = len(large) > len(small) or (len(large) == len(small) and other < at)
            if longer and len(small) >= least and _holds(large, small):
                lines = counted(len(small), "line")
                what = f"sheet {read[at].title} has the same {lines} as sheet {read[other].title}."
                todo = "Delete one of the two from the file, then run again: they would count twice."
                raise MakerError(Problem(name, 0, "", what, todo))


def _holds(large: pd.Series, small: pd.Series) -> bool:
    """Say whether each line of the small sheet stands in the large one at least as often."""
    often = small.value_counts()
    return bool((large.value_counts().reindex(often.index, fill_value=0) >= often).all())


def day_number_notes(name: str, read: Sequence[SheetRead], column: str) -> list[Problem]:
    """Say on which sheets all days are numbers such as 46082, a day without the format of one.

    Raises MakerError where no sheet has any other day.
    """
    found = [sheet for sheet in read if _are_numbers(sheet.lines["day"])]
    todo = "In the spreadsheet, select the column, format it as a date, save, then run again."
    if found and len(found) == sum(_is_filled(sheet.lines["day"]) for sheet in read):
        what = f"has no days but numbers such as {_first(found[0].lines['day'])}: that is how spreadsheets number days."
        raise MakerError(Problem(name, 0, column, what, todo))
    what = "sheet {} has no days but numbers such as {}: that is how spreadsheets number days."
    return [Problem(name, 0, column, what.format(one.title, _first(one.lines["day"])), todo) for one in found]


def _with_digits(days: pd.Series) -> pd.Series:
    text = pd.Series(days.cat.categories, dtype="str").str.strip()
    return text[text.str.contains("[0-9]")]


def _are_numbers(days: pd.Series) -> bool:
    """Say whether every cell with a digit is a number that may be a day."""
    text = _with_digits(days)
    if text.empty or not text.str.fullmatch(r"[0-9]{5}(?:[.,][0-9]+)?").all():
        return False
    return bool(text.str.slice(stop=5).astype("int64").between(FIRST_NUMBER, LAST_NUMBER).all())


def _is_filled(days: pd.Series) -> bool:
    return not _with_digits(days).empty


def _first(days: pd.Series) -> str:
    return str(_with_digits(days).iloc[0])
