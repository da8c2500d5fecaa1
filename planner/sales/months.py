"""Which columns are months where months stand across, and which columns of numbers are none."""

from collections import Counter

import pandas as pd

from planner.problems import MakerError, Problem
from planner.sales.totals import names_a_total
from planner.tables import listed
from planner.values import month_heading, numbers


def months_of(headings: list[str], language: str) -> dict[int, str]:
    """Return the columns that are months and their first days."""
    found = {at: month_heading(heading, language) for at, heading in enumerate(headings)}
    return {at: day.isoformat() for at, day in found.items() if day}


def refuse_repeated(name: str, row: int, months: dict[int, str], start: str = "") -> None:
    """Raise MakerError where two columns are for one month. `start` says on which sheet."""
    for day, times in Counter(months.values()).items():
        if times > 1:
            columns = listed([str(at + 1) for at, other in months.items() if other == day])
            what = f"{start}{times} columns are for the month {day[:7]}, columns {columns}."
            raise MakerError(Problem(name, row, "", what, "Put them together, or take out the heading of one."))


def no_months(headings: list[str], rows: list[list[str]], used: set[int]) -> tuple[str, ...]:
    """Return the headings of columns that are not used, are no totals and have mostly numbers in the rows below."""
    found = []
    for at, heading in enumerate(headings):
        if at in used or names_a_total(heading):
            continue
        cells = pd.Series([row[at] for row in rows if at < len(row) and row[at].strip()], dtype="str")
        is_number = numbers(cells, ".")[0].notna() | numbers(cells, ",")[0].notna()
        if 2 * is_number.sum() > len(cells):
            found.append(heading.strip() or f"(column {at + 1})")
    return tuple(found)
