"""What stands in a table of sales and is not read: rows above the headings, columns of numbers that are no month."""

import difflib
import re

from planner.month_names import month_number
from planner.problems import Problem
from planner.sales.layout import Layout
from planner.tables import listed

ALIKE = 0.75  # how alike a word and a month's name are that it may be meant for, as difflib measures it: "Febuary"
_ENGLISH = ["January", "February", "March", "April", "May", "June", "July"]
_ENGLISH += ["August", "September", "October", "November", "December"]


def left_out(name: str, layout: Layout, above: int = 0, title: str = "") -> list[Problem]:
    """Say what of a table is not read though it may be sales. above: rows of the sheets before that of this title."""
    row, start = layout.heading_row + above, f"on sheet {title}, " if title else ""
    notes = _above_notes(name, row, layout.sales_above, start)
    return [*notes, *_no_month_notes(name, row, layout.no_months, start)]


def _above_notes(name: str, row: int, rows: tuple[int, ...], start: str) -> list[Problem]:
    """Say which rows above the headings look like lines of sales."""
    if not rows:
        return []
    which = f"rows {rows[0]} to {rows[-1]} look" if len(rows) > 1 else f"row {rows[0]} looks"
    what = f"{start}{which} like sales and {'stand' if len(rows) > 1 else 'stands'} above the headings: not read."
    return [Problem(name, row, "", what, "Move the headings to the top, then run again.")]


def _no_month_notes(name: str, row: int, headings: tuple[str, ...], start: str) -> list[Problem]:
    """Say which columns of numbers are taken for no month; those that may be meant for one stop, others are a note."""
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
    if heading.startswith("(column "):
        return False
    words = re.findall(r"[^\W\d_]+", heading)
    near = any(month_number(word) or difflib.get_close_matches(word.title(), _ENGLISH, 1, ALIKE) for word in words)
    return near or re.search("[0-9]", heading) is not None
