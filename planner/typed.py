"""From text cells to one of the maker's tables: every cell of its kind, every bad row set aside with a reason."""

import difflib

import pandas as pd

from planner.problems import Problem
from planner.settings import Settings
from planner.tables import Table, check, empty
from planner.values import days, numbers

MAY_BE_NEGATIVE = ("score",)
HOW = {
    "number": "Write a plain number, and the unit in its own column.",
    "count": "Write a whole number.",
    "date": "Write the day like 2026-09-28.",
}


def typed_table(sheet: pd.DataFrame, table: Table, file: str, settings: Settings) -> tuple[pd.DataFrame, list[Problem]]:
    """Return the table as its contract says, with the spreadsheet `row` kept, and what was wrong.

    A row without a readable needed cell, or that repeats a key, is set aside; a bad optional cell is left empty.
    """
    absent = [name for name in table.needed if name not in sheet.columns]
    if absent:
        todo = f"The first row holds the headings: {', '.join(table.columns)}."
        return _nothing(table), [Problem(file, 1, "", f"has no column {' and no '.join(absent)}.", todo)]
    problems = _unknown_headings(sheet, table, file)
    typed = {
        name: _column(sheet, name, table.kind(name), file, settings) for name in table.columns if name in sheet.columns
    }
    problems += [problem for _, _, found in typed.values() for problem in found]
    frame = pd.DataFrame({name: values for name, (values, _, _) in typed.items()}).assign(row=sheet["row"])
    unread = pd.concat([typed[name][1] for name in table.needed], axis=1).any(axis=1)
    blank = sheet[list(table.needed)] == ""
    problems += _blanks(blank, sheet["row"], table, file)
    frame = frame[~unread & ~blank.any(axis=1)]
    frame, repeats = _first_of_each(frame, table, file)
    frame = frame.reset_index(drop=True)
    return check(frame, table).assign(row=frame["row"]), problems + repeats


def _nothing(table: Table) -> pd.DataFrame:
    return empty(table).assign(row=pd.Series(dtype="int64"))


def _unknown_headings(sheet: pd.DataFrame, table: Table, file: str) -> list[Problem]:
    problems = []
    for name in sheet.columns.drop("row"):
        if name not in table.columns:
            near = difflib.get_close_matches(name, table.columns, 1)
            todo = f"Did you mean {near[0]}?" if near else f"Known are {', '.join(table.columns)}."
            problems.append(Problem(file, 1, name, "is not a column we read.", todo, stops=False))
    return problems


def _column(
    sheet: pd.DataFrame, name: str, kind: str, file: str, settings: Settings
) -> tuple[pd.Series, pd.Series, list[Problem]]:
    """Return values, which cells could not be read, and a problem for each of those."""
    text = sheet[name]
    if kind == "text":
        return text.where(text != "", None).astype("str"), pd.Series(False, index=text.index), []
    values, bad = days(text, settings.date_order) if kind == "date" else numbers(text, settings.decimal)
    if kind in ("number", "count") and name not in MAY_BE_NEGATIVE:
        bad |= values < 0
    if kind == "count":
        bad |= values.notna() & (values % 1 != 0)
    values = values.mask(bad)
    problems = [
        Problem(file, int(row), name, f"'{cell}' cannot be used as a {_word(kind)}.", _how(cell, kind))
        for row, cell in zip(sheet.loc[bad, "row"], text[bad], strict=True)
    ]
    return values, bad, problems


def _word(kind: str) -> str:
    return {"number": "number", "count": "whole number", "date": "day"}[kind]


def _how(cell: str, kind: str) -> str:
    return "It cannot be below zero." if cell.startswith(("-", "−")) else HOW[kind]


def _blanks(blank: pd.DataFrame, rows: pd.Series, table: Table, file: str) -> list[Problem]:
    todo = f"One row is {table.row}; fill it in or delete the row."
    return [Problem(file, int(row), name, "is empty.", todo) for name in blank for row in rows[blank[name]]]


def _first_of_each(frame: pd.DataFrame, table: Table, file: str) -> tuple[pd.DataFrame, list[Problem]]:
    key = [name for name in table.key if name in frame.columns]
    if not key:
        return frame, []
    repeated = frame.duplicated(key)
    first = frame.groupby(key, dropna=False, sort=False)["row"].transform("first")
    problems = []
    for position in frame.index[repeated]:
        what = ", ".join(_said(frame.at[position, name]) for name in key)
        sentence = f"is for {what}, and so is row {first[position]}."
        problems.append(
            Problem(file, int(frame.at[position, "row"]), "", sentence, f"Row {first[position]} counts; keep one.")
        )
    return frame[~repeated], problems


def _said(value: object) -> str:
    return value.date().isoformat() if isinstance(value, pd.Timestamp) else str(value)
