"""Which columns are months where months stand across; and which columns of numbers are none, so that none is missed."""

import calendar
import difflib
import re
from collections import Counter

import pandas as pd

from planner.month_names import month_number
from planner.problems import MakerError, Problem
from planner.sales.totals import names_a_total
from planner.tables import listed
from planner.values import month_heading, numbers

ALIKE = 0.75  # how alike a word and a month's name are that it may be meant for, as difflib measures it: "Febuary"
_ENGLISH = tuple(calendar.month_name[1:])
_UNNAMED = "(column "


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
            found.append(heading.strip() or f"{_UNNAMED}{at + 1})")
    return tuple(found)


def no_month_notes(name: str, row: int, headings: tuple[str, ...], start: str = "") -> list[Problem]:
    """Say which columns of numbers are taken for no month; those that may be meant for one stop, the others are a note.

    row: that of the headings. `start` says on which sheet.
    """
    may_be = [heading for heading in headings if _like_a_month(heading)]
    others = [heading for heading in headings if heading not in may_be]
    notes = []
    if may_be:
        todo = "Write the heading of a month with its year, like Feb 2026; call it Total if it is a sum."
        notes.append(Problem(name, row, "", start + _are_none(may_be), todo))
    if others:
        todo = "Nothing to do if no bottles stand there."
        notes.append(Problem(name, row, "", start + _are_none(others), todo, stops=False))
    return notes


def _are_none(headings: list[str]) -> str:
    if len(headings) == 1:
        return f"column {headings[0]} holds numbers and is no month; bottles in it are not counted."
    return f"columns {listed(headings)} hold numbers and are no months; bottles in them are not counted."


def _like_a_month(heading: str) -> bool:
    """Say whether a heading may be meant for a month: it has a digit, or a word that is nearly a month's name."""
    if heading.startswith(_UNNAMED):
        return False
    words = re.findall(r"[^\W\d_]+", heading)
    near = any(month_number(word) or difflib.get_close_matches(word.title(), _ENGLISH, 1, ALIKE) for word in words)
    return near or re.search("[0-9]", heading) is not None
