"""The bytes of one export become its lines: row by row, only the columns that are needed, all as text."""

import difflib
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import BinaryIO

import pandas as pd

from planner.problems import MakerError, Problem
from planner.sales.spreadsheet import sheets
from planner.sales.text import MOST_ROWS_ABOVE, SAVE_AGAIN, first_bytes, is_spreadsheet, text_encoding, text_tables
from planner.settings import EXPORT_COLUMNS, Export
from planner.tables import SalesFile, listed

CHUNK = 500_000  # lines held as text at a time


@dataclass(frozen=True)
class Layout:
    """Where the table stands in a file: the row of its headings, and what stands in which column."""

    heading_row: int  # as a spreadsheet counts
    headings: tuple[str, ...]
    positions: dict[str, int]  # name in EXPORT_COLUMNS: column, counted from 0
    part: str  # the delimiter of a text, the number of the sheet of a spreadsheet


def read_lines(file: SalesFile, export: Export) -> pd.DataFrame:
    """Return the lines of a file: `row` and one column of text for each of EXPORT_COLUMNS, "" where there is none.

    A line is a row of which a needed cell is filled. Columns are categories, so that a text that comes a million
    times is held once. Raises MakerError where the file as a whole cannot be read.
    """
    head = first_bytes(file)
    if is_spreadsheet(file, head):
        tables = sheets(file, export.decimal)
        firsts = ((str(number), rows[: MOST_ROWS_ABOVE + 1]) for number, rows in enumerate(tables))
        layout = _find_layout(file.name, firsts, export)
        chunks = [_columns(tables[int(layout.part)][layout.heading_row :], layout)]
    else:
        encoding = text_encoding(file.name, head)
        layout = _find_layout(file.name, text_tables(head, encoding), export)
        chunks = _read_text(file, encoding, layout)
    return _as_lines(chunks, layout)


def folded(text: str) -> str:
    """Return a heading as it is compared: without case and double blanks.

    >>> folded(" Unit  Price")
    'unit price'
    """
    return " ".join(text.casefold().split())


def _find_layout(name: str, tables: Iterable[tuple[str, Sequence[Sequence[str]]]], export: Export) -> Layout:
    """Return the layout of the first row that has all stated headings, whichever the delimiter or the sheet."""
    wanted = {column: folded(heading) for column, heading in export.columns.items()}
    nearest: tuple[int, list[str], list[str]] = (0, [], [])  # headings found, missing, seen
    for part, rows in tables:
        for number, cells in enumerate(rows, 1):
            seen = [folded(cell) for cell in cells]
            missing = [export.columns[column] for column, heading in wanted.items() if heading not in seen]
            if not missing:
                positions = {column: seen.index(heading) for column, heading in wanted.items()}
                return Layout(number, tuple(cells), positions, part)
            found = len(wanted) - len(missing)
            if found > nearest[0]:
                nearest = (found, missing, [cell for cell in cells if cell.strip()])
    raise MakerError(_no_headings(name, export, *nearest[1:]))


def _no_headings(name: str, export: Export, missing: list[str], seen: list[str]) -> Problem:
    if not seen:
        what = f"has no row with the headings {listed(list(export.columns.values()))}."
        return Problem(name, 0, "", what, "Write in shop.toml, under its [[export]], the headings that it has.")
    what = f"has no heading {listed(missing)}. It has {listed(seen)}."
    near = difflib.get_close_matches(missing[0], seen, 1)
    hint = f"Is {missing[0]} now called {near[0]}? " if near else ""
    return Problem(name, 0, "", what, f"{hint}Change the heading in shop.toml, under its [[export]].")


def _read_text(file: SalesFile, encoding: str, layout: Layout) -> list[pd.DataFrame]:
    """Return the needed columns in chunks of categories. Not UTF-8 after all: western single-byte text."""
    for attempt in (encoding, "cp1252", "latin-1"):
        try:
            with file.open() as stream:
                return _parse(stream, attempt, layout)
        except UnicodeDecodeError:
            continue
        except pd.errors.ParserError as error:
            raise MakerError(_broken(file.name, str(error), layout)) from None
    raise AssertionError("latin-1 reads any byte")


def _parse(stream: BinaryIO, encoding: str, layout: Layout) -> list[pd.DataFrame]:
    with io.TextIOWrapper(stream, encoding=encoding, newline="") as text:
        chunks = pd.read_csv(
            text,
            sep=layout.part,
            header=None,
            skiprows=layout.heading_row - 1,  # the headings stay as first row: they say how wide the table is
            usecols=sorted(set(layout.positions.values())),
            names=range(len(layout.headings)),
            dtype="str",
            na_filter=False,
            skip_blank_lines=False,
            chunksize=CHUNK,
        )
        with chunks:
            return [chunk.iloc[int(number == 0) :].astype("category") for number, chunk in enumerate(chunks)]


def _broken(name: str, error: str, layout: Layout) -> Problem:
    row = re.search(r"EOF inside string starting at row (\d+)", error)
    if row:
        what = 'opens a quote (") that is never closed.'
        return Problem(name, layout.heading_row + int(row[1]), "", what, "Close or remove it, then run again.")
    return Problem(name, 0, "", "cannot be read as a table of rows and columns.", SAVE_AGAIN)


def _columns(rows: Sequence[Sequence[str]], layout: Layout) -> pd.DataFrame:
    places = sorted(set(layout.positions.values()))
    columns = {at: [row[at] if at < len(row) else "" for row in rows] for at in places}
    return pd.DataFrame(columns, dtype="str").astype("category")


def _as_lines(chunks: list[pd.DataFrame], layout: Layout) -> pd.DataFrame:
    count = sum(map(len, chunks))
    lines = {"row": pd.Series(range(layout.heading_row + 1, layout.heading_row + 1 + count), dtype="int64")}
    blank = pd.Series(True, index=lines["row"].index)
    for name in EXPORT_COLUMNS:
        at = layout.positions.get(name)
        if at is None:
            lines[name] = pd.Series(pd.Categorical.from_codes([0] * count, pd.Index([""], dtype="str")))
            continue
        joined = pd.Series(pd.api.types.union_categoricals([chunk[at] for chunk in chunks]))
        lines[name] = joined
        empty = joined.cat.categories.str.strip() == ""
        blank &= empty[joined.cat.codes]
    frame = pd.DataFrame(lines)
    return frame[~blank].reset_index(drop=True)
