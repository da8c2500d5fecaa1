"""The sheets of an .xlsx become rows of text; formulas by the value they had when it was saved."""

import re
import warnings
import zipfile
from typing import TYPE_CHECKING, BinaryIO, NamedTuple

from planner.problems import MakerError, Problem
from planner.sales.text import SAVE_AGAIN
from planner.tables import SalesFile

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

MOST_UNPACKED = 1 << 29  # bytes; a full sheet of a million rows takes less, a file made to choke its reader takes more


MOST_FILLED = 1 << 24  # bytes; to fill merged cells all cells are held, which takes some ten times as much memory


class Book(NamedTuple):
    """The sheets of a spreadsheet, each a list of rows of text up to its last filled one; their names; notes on it."""

    tables: list[list[list[str]]]
    notes: tuple[Problem, ...]
    titles: tuple[str, ...]


def sheets(file: SalesFile, decimal: str) -> Book:
    """Return the rows of every sheet as text with the stated decimal sign.

    A formula whose value was not saved is given as it is written, so that no number is taken for it. Raises
    MakerError where the file cannot be opened.
    """
    with file.open() as stream:
        try:
            marks = _marks(file.name, stream)
            titles, tables = _tables(stream, decimal, values=True)
            if marks.formulas:
                _, written = _tables(stream, decimal, values=False)
                tables = [_with_formulas(*pair) for pair in zip(tables, written, strict=True)]
            if marks.merged and marks.unpacked <= MOST_FILLED:
                _fill_merged(stream, tables)
        except MakerError:
            raise
        except Exception:  # a damaged file fails anywhere inside the zip or its XML
            what = "is not a spreadsheet that can be opened: it is damaged."
            raise MakerError(Problem(file.name, 0, "", what, SAVE_AGAIN)) from None
    for rows in tables:
        while rows and not any(map(str.strip, rows[-1])):
            rows.pop()
    return Book(tables, (_merged_note(file.name, marks),) if marks.merged else (), titles)


def _merged_note(name: str, marks: "_Marks") -> Problem:
    held = "only the first of these rows has their value"
    if marks.unpacked <= MOST_FILLED:
        held = "a day or a word in them stands for each of these rows, a number for the first only"
    what = f"has cells merged over several rows ({marks.merged}): {held}."
    return Problem(name, 0, "", what, "Unmerge them if lines were set aside for it.", stops=False)


class _Marks(NamedTuple):
    """What the sheets hold besides values."""

    formulas: bool
    merged: str  # the first place merged over several rows
    unpacked: int  # bytes


def _marks(name: str, stream: BinaryIO) -> _Marks:
    """Look for formulas and merged cells. Raises MakerError where the file unpacks to more than any sheet of sales."""
    with zipfile.ZipFile(stream) as packed:
        unpacked = sum(item.file_size for item in packed.infolist())
        if unpacked > MOST_UNPACKED:
            what = f"unpacks to {unpacked / 1e6:,.0f} MB, more than any sheet of sales."
            raise MakerError(Problem(name, 0, "", what, SAVE_AGAIN))
        formulas, merged = False, ""
        for item in packed.namelist():
            if item.startswith("xl/worksheets/") and item.endswith(".xml"):
                xml = packed.read(item)
                formulas |= b"<f>" in xml or b"<f " in xml
                places = re.findall(rb'<mergeCell ref="([A-Z]+([0-9]+):[A-Z]+([0-9]+))"', xml)
                merged = merged or next((ref.decode() for ref, top, end in places if top != end), "")
    return _Marks(formulas, merged, unpacked)


def _tables(stream: BinaryIO, decimal: str, values: bool) -> tuple[tuple[str, ...], list[list[list[str]]]]:
    """Return the names of the sheets and their rows."""
    import openpyxl

    stream.seek(0)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about styles and pictures, which are not read
        book = openpyxl.load_workbook(stream, read_only=True, data_only=values)
        titles = tuple(str(sheet.title) for sheet in book.worksheets)
        return titles, [_rows(sheet, decimal) for sheet in book.worksheets]


def _fill_merged(stream: BinaryIO, tables: list[list[list[str]]]) -> None:
    """Write what stands in cells merged over several rows into each of them; a number would count several times."""
    import openpyxl

    stream.seek(0)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(stream)
    for sheet, rows in zip(book.worksheets, tables, strict=True):
        for area in sheet.merged_cells.ranges:
            at = area.min_col - 1
            text = "".join(rows[area.min_row - 1][at : at + 1]) if area.min_row <= len(rows) else ""
            if not re.fullmatch(r"[\d\W]*", text) or re.match(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
                for row in rows[area.min_row : area.max_row]:
                    row += [""] * (at + 1 - len(row))
                    row[at] = row[at] or text


def _rows(sheet: "Worksheet", decimal: str) -> list[list[str]]:
    if hasattr(sheet, "reset_dimensions"):
        sheet.reset_dimensions()  # some programs write a wrong size
    return [[cell_text(value, decimal) for value in row] for row in sheet.iter_rows(values_only=True)]


def _with_formulas(values: list[list[str]], written: list[list[str]]) -> list[list[str]]:
    """Put the formula where its value was not saved."""
    return [
        [value or (text if text.startswith("=") else "") for value, text in zip(row, texts, strict=False)]
        for row, texts in zip(values, written, strict=False)
    ]


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
