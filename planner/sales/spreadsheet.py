"""The sheets of an .xlsx become rows of text; formulas by the value they had when it was saved."""

import warnings
from typing import TYPE_CHECKING

from planner.problems import MakerError, Problem
from planner.sales.text import SAVE_AGAIN
from planner.tables import SalesFile

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet


def sheets(file: SalesFile, decimal: str) -> list[list[list[str]]]:
    """Return the rows of every sheet as text with the stated decimal sign.

    Raises MakerError where the file cannot be opened.
    """
    import openpyxl

    with warnings.catch_warnings(), file.open() as stream:
        warnings.simplefilter("ignore")  # about styles and pictures, which are not read
        try:
            book = openpyxl.load_workbook(stream, read_only=True, data_only=True)
            return [_rows(sheet, decimal) for sheet in book.worksheets]
        except Exception as error:  # a damaged file fails anywhere inside the zip or its XML
            what = f"is not a spreadsheet that can be opened ({type(error).__name__})."
            raise MakerError(Problem(file.name, 0, "", what, SAVE_AGAIN)) from None


def _rows(sheet: "Worksheet", decimal: str) -> list[list[str]]:
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
