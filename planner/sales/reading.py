"""The bytes of one export become its lines: row by row, only the columns that are needed, all as text."""

import contextlib
import csv
import difflib
import io
import re
import warnings
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import BinaryIO

import pandas as pd

from planner.problems import MakerError, Problem
from planner.settings import EXPORT_COLUMNS, Export
from planner.tables import SalesFile, listed

SAMPLE = 1 << 18  # first bytes looked at to find encoding, delimiter and headings
MOST_ROWS_ABOVE = 50  # rows that may stand above the headings: titles, blank rows, the shop's address
DELIMITERS = (",", ";", "\t", "|")
CHUNK = 500_000  # lines held as text at a time

# how files that are not text begin
_BINARY = {
    b"PK\x03\x04": "a zip file or a spreadsheet",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet (.xls)",
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"\x1f\x8b": "a compressed file",
}
_SAVE_AGAIN = "Export it again as .csv or .xlsx, or open it in a spreadsheet and save it as one of these."


@dataclass(frozen=True)
class Layout:
    """Where the table stands in a file: the row of its headings, and what stands in which column."""

    heading_row: int  # as a spreadsheet counts
    headings: tuple[str, ...]
    positions: dict[str, int]  # name in EXPORT_COLUMNS: column, counted from 0
    delimiter: str = ""


def read_lines(file: SalesFile, export: Export) -> pd.DataFrame:
    """Return the lines of a file: `row` and one column of text for each of EXPORT_COLUMNS, "" where there is none.

    A line is a row of which a needed cell is filled. Columns are categories, so that a text that comes a million
    times is held once. Raises MakerError where the file as a whole cannot be read.
    """
    head = first_bytes(file)
    if is_spreadsheet(file, head):
        layout, chunks = _read_spreadsheet(file, export)
    else:
        encoding = text_encoding(file.name, head)
        layout = _find_layout(file.name, _sample_tables(head, encoding), export)
        chunks = _read_text(file, encoding, layout)
    return _as_lines(chunks, layout)


def first_bytes(file: SalesFile) -> bytes:
    """Return the first bytes. Raises MakerError where there is nothing but blanks."""
    with file.open() as stream:
        head = stream.read(SAMPLE)
    if not head.strip(b" \t\r\n\0\xef\xbb\xbf\xff\xfe"):
        raise MakerError(Problem(file.name, 0, "", "is empty.", "Export it again, or take it out of sales/."))
    return head


def is_spreadsheet(file: SalesFile, head: bytes) -> bool:
    """Say whether it is to be opened as .xlsx."""
    return file.name.lower().endswith((".xlsx", ".xlsm")) and head.startswith(b"PK")


def text_encoding(name: str, head: bytes) -> str:
    """Return the encoding of a text by its first bytes; UTF-8 is only supposed, see `_read_text`.

    Raises MakerError where the bytes are no text.
    """
    for start, what in _BINARY.items():
        if head.startswith(start):
            raise MakerError(Problem(name, 0, "", f"is not text but {what}.", _SAVE_AGAIN))
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    even, odd = head[0:2000:2].count(0), head[1:2000:2].count(0)
    half = min(len(head), 2000) / 2
    if max(even, odd) > 0.4 * half:  # Latin letters in UTF-16 have a zero for every other byte
        return "utf-16-le" if odd > even else "utf-16-be"
    controls = sum(byte < 32 and byte not in b"\t\n\r\f\x1a\0" for byte in head[:2000])
    if controls > 0.02 * 2 * half or even + odd > 0.02 * 2 * half:
        raise MakerError(Problem(name, 0, "", "is not text.", _SAVE_AGAIN))
    return "utf-8-sig"


def sample_rows(head: bytes, encoding: str, delimiter: str) -> list[list[str]]:
    """Return the first rows of a text, cut at one delimiter."""
    stream = io.StringIO(head.decode(encoding, errors="replace"), newline="")
    rows: list[list[str]] = []
    with contextlib.suppress(csv.Error):  # a cell without end
        rows.extend(islice(csv.reader(stream, delimiter=delimiter), MOST_ROWS_ABOVE + 1))
    return rows


def _sample_tables(head: bytes, encoding: str) -> Iterator[tuple[str, list[list[str]]]]:
    return ((delimiter, sample_rows(head, encoding, delimiter)) for delimiter in DELIMITERS)


def folded(text: str) -> str:
    """Return a heading as it is compared: without case and double blanks.

    >>> folded(" Unit  Price")
    'unit price'
    """
    return " ".join(text.casefold().split())


def _find_layout(name: str, tables: Iterable[tuple[str, Sequence[Sequence[str]]]], export: Export) -> Layout:
    """Return the layout of the first row that has all stated headings, under whichever delimiter."""
    wanted = {column: folded(heading) for column, heading in export.columns.items()}
    nearest: tuple[int, list[str], list[str]] = (0, [], [])  # headings found, missing, seen
    for delimiter, rows in tables:
        for number, cells in enumerate(rows, 1):
            seen = [folded(cell) for cell in cells]
            missing = [export.columns[column] for column, heading in wanted.items() if heading not in seen]
            if not missing:
                positions = {column: seen.index(heading) for column, heading in wanted.items()}
                return Layout(number, tuple(cells), positions, delimiter)
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
    text = io.TextIOWrapper(stream, encoding=encoding, newline="")
    chunks = pd.read_csv(
        text,
        sep=layout.delimiter,
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
    return Problem(name, 0, "", "cannot be read as a table of rows and columns.", _SAVE_AGAIN)


def _read_spreadsheet(file: SalesFile, export: Export) -> tuple[Layout, list[pd.DataFrame]]:
    """Return the layout and the columns of the first sheet that has the headings; formulas by their last value."""
    import openpyxl

    with warnings.catch_warnings(), file.open() as stream:
        warnings.simplefilter("ignore")  # about styles and pictures, which are not read
        try:
            book = openpyxl.load_workbook(stream, read_only=True, data_only=True)
            sheets = [_sheet_rows(sheet, export.decimal) for sheet in book.worksheets]
        except Exception as error:  # a damaged file fails anywhere inside the zip or its XML
            what = f"is not a spreadsheet that can be opened ({type(error).__name__})."
            raise MakerError(Problem(file.name, 0, "", what, _SAVE_AGAIN)) from None
    layout = _find_layout(file.name, ((str(n), rows[: MOST_ROWS_ABOVE + 1]) for n, rows in enumerate(sheets)), export)
    rows = sheets[int(layout.delimiter)][layout.heading_row :]
    columns = {at: [row[at] if at < len(row) else "" for row in rows] for at in set(layout.positions.values())}
    return layout, [pd.DataFrame(columns, dtype="str").astype("category")]


def _sheet_rows(sheet: "openpyxl.worksheet.Worksheet", decimal: str) -> list[list[str]]:  # type: ignore[name-defined] # noqa: F821
    if hasattr(sheet, "reset_dimensions"):
        sheet.reset_dimensions()  # some programs write a wrong size
    return [[cell_text(value, decimal) for value in row] for row in sheet.iter_rows(values_only=True)]


def cell_text(value: object, decimal: str) -> str:
    """Return a spreadsheet's cell as text with the stated decimal sign: days as ISO, 3.0 as 3.

    >>> cell_text(12.5, ","), cell_text(3.0, "."), cell_text(None, ".")
    ('12,5', '3', '')
    """
    if value is None:
        return ""
    if isinstance(value, float):
        return (str(int(value)) if value.is_integer() and abs(value) < 2**53 else repr(value)).replace(".", decimal)
    return str(value)


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
