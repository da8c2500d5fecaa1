"""What the days and amounts of a file say about how it is written; where they do not say, the maker is asked."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import MakerError, Problem
from planner.sales.distinct import lines_of_each
from planner.sales.names import counted
from planner.settings import DATE_ORDERS, DECIMALS, Export
from planner.values import days, numbers

MONEY = ("bottles", "price", "amount")  # columns that hold numbers


class Evidence(NamedTuple):
    """How a file is written: the choice (blank where the file does not tell), and what speaks for it.

    `only` counts the cells that can be read in one way alone, by way; `either` those that read differently.
    """

    choice: str
    only: dict[str, int]
    either: int
    ways: tuple[str, ...]  # those that read most, if more than one

    def sentence(self, what: str) -> str:
        """Say the evidence in words.

        >>> Evidence("day-first", {"day-first": 31, "month-first": 0}, 12, ()).sentence("day")
        '31 days can only be day-first, 0 only month-first, 12 can be both'
        """
        (first, count), *rest = self.only.items()
        parts = [f"{counted(count, what)} can only be {first}", *(f"{count} only {way}" for way, count in rest)]
        return ", ".join([*parts, f"{self.either} can be both"] if self.either else parts)


def date_evidence(text: pd.Series, today: pd.Timestamp, language: str = "") -> Evidence:
    """Return what the days of a file say about their order; sales are never in the future.

    text: category of days without their time.
    """
    distinct = pd.Series(text.cat.categories, dtype="str")
    read = {order: days(distinct, order, language)[0] for order in DATE_ORDERS}
    both = sum(values.notna().astype("int64") for values in read.values()) > 1
    read = {order: values.where((values <= today) | ~both) for order, values in read.items()}
    found = _evidence(read, np.bincount(text.cat.codes, minlength=len(distinct)))
    only = {way: count for way, count in found.only.items() if way in ("day-first", "month-first") or count}
    return found._replace(only=only)


def decimal_evidence(lines: pd.DataFrame) -> Evidence:
    """Return what the numbers of a file say about their decimal sign."""
    times: dict[str, int] = {}
    for name in MONEY:
        for text, count in lines_of_each(lines[name]).items():
            times[text] = times.get(text, 0) + count
    distinct = pd.Series(list(times), dtype="str")
    read = {sign: numbers(distinct, sign)[0] for sign in DECIMALS}
    return _evidence(read, np.array(list(times.values()), dtype="int64"))


def _evidence(read: dict[str, pd.Series], times: np.ndarray) -> Evidence:
    """Return the evidence from the values of the distinct texts in each way of reading, the usual way first.

    times: how many cells have each text.
    """
    values = pd.DataFrame(read)
    good = values.notna()
    only = {way: int(times[good[way] & (good.sum(axis=1) == 1)].sum()) for way in read}
    most = {way: int(times[good[way]].sum()) for way in read}
    best = tuple(way for way in read if most[way] == max(most.values()))
    differ = values.max(axis=1) > values.min(axis=1)
    either = int(times[differ].sum())
    certain = [way for way, count in only.items() if count]
    among = values[list(best)]
    same = not (among.max(axis=1) > among.min(axis=1)).any()
    clear = len(best) == 1 and certain == [best[0]] if certain else same
    return Evidence(best[0] if clear else "", only, either, best)


class Settled(NamedTuple):
    """How the days and numbers of a file are read, why in words, and notes for the maker."""

    order: str
    decimal: str
    days: str
    numbers: str
    notes: list[Problem]


def settle(name: str, lines: pd.DataFrame, export: Export, today: pd.Timestamp) -> Settled:
    """Return the date order and the decimal sign of a file, as shop.toml states or as its cells say.

    Raises MakerError with the question where neither does, and where its days speak against what shop.toml states.
    """
    problems, notes = [], []
    if export.months_across:
        what = "a month's bottles stand on its first day: on which days they were sold is not known."
        notes.append(Problem(name, 0, "", what, "Nothing to do.", stops=False))
    order, decimal = export.date_order, export.decimal
    why_days, why_numbers = f"{order}, {_STATED}", f"{_SIGNS.get(decimal, '')}, {_STATED}"
    if order:
        _refuse_wrong_order(name, lines["day"], export)
    else:
        found = date_evidence(lines["day"], today, export.language)
        order, why_days = found.choice, f"{found.choice}: {found.sentence('day')}"
        if order == "year-first":
            why_days = "year-first, as all that can be read begin with their year"
        problems += [] if order else [_question(name, export.columns.get("day", ""), "date_order", found, "day")]
        if order in ("day-first", "month-first"):
            notes.append(_note(name, f"its days are read as {order}: {found.sentence('day')}.", "date_order", order))
    if export.months_across:
        why_days = "from the headings, each month on its first day"
    if decimal:
        _refuse_wrong_decimal(name, lines, export)
    else:
        found = decimal_evidence(lines)
        decimal = found.choice
        why_numbers = f"{_SIGNS.get(decimal, '')}: {with_signs(found).sentence('number')}"
        problems += [] if decimal else [_question(name, "", "decimal", found, "number")]
        if decimal == ",":
            notes.append(_note(name, "the comma is read as its decimal sign.", "decimal", decimal))
    if problems:
        raise MakerError(*problems)
    return Settled(order, decimal, why_days, why_numbers, notes)


_STATED = "as shop.toml says"
_SIGNS = {".": "decimal dot", ",": "decimal comma"}


def with_signs(found: Evidence) -> Evidence:
    """Return the evidence on the decimal sign with its ways in words."""
    return found._replace(only={f"with a {_SIGNS[sign]}": count for sign, count in found.only.items()})


def _question(name: str, column: str, setting: str, found: Evidence, what: str) -> Problem:
    certain = [way for way in found.only if found.only[way]]
    asked = certain if len(certain) > 1 else list(dict.fromkeys([*found.ways, *certain]))
    found = found._replace(only={way: found.only.get(way, 0) for way in asked})
    words = (with_signs(found) if setting == "decimal" else found).sentence(what)
    todo = " or ".join(f'{setting} = "{way}"' for way in asked)
    return Problem(name, 0, column, f"{words}.", f"Say which under its [[export]] in shop.toml: {todo}.")


def _note(name: str, what: str, setting: str, value: str) -> Problem:
    todo = f'To state it, write {setting} = "{value}" under its [[export]] in shop.toml.'
    return Problem(name, 0, "", what, todo, stops=False)


def _refuse_wrong_order(name: str, text: pd.Series, export: Export) -> None:
    """Raise MakerError where the days of a file speak against the stated date order.

    They do when some can only be read in another order, none only in the stated one, and reading the rest as
    stated would turn days and months round.
    """
    stated, bad = days(text, export.date_order, export.language)
    for order in DATE_ORDERS if bad.any() else ():
        other, unread = days(text, order, export.language)
        only_other, only_stated = int((bad & ~unread).sum()), int((unread & ~bad).sum())
        turned = bool(((stated != other) & stated.notna() & other.notna()).any())
        if only_other and not only_stated and (turned or not stated.notna().any()):
            here = f"has {counted(only_other, 'day')} that can only be {order}"
            what = f"{here}, none that can only be {export.date_order} as shop.toml says."
            todo = f'Write date_order = "{order}" under its [[export]], or correct the days.'
            raise MakerError(Problem(name, 0, export.columns.get("day", ""), what, todo))


def _refuse_wrong_decimal(name: str, lines: pd.DataFrame, export: Export) -> None:
    """Raise MakerError where some numbers can only have the other decimal sign, and none only the stated one."""
    found = decimal_evidence(lines)
    (other,) = (sign for sign in DECIMALS if sign != export.decimal)
    if found.only[other] and not found.only[export.decimal]:
        here = f"has {counted(found.only[other], 'number')} that can only have a {_SIGNS[other]}"
        what = f"{here}, none that can only have a {_SIGNS[export.decimal]} as shop.toml says."
        todo = f'Write decimal = "{other}" under its [[export]], or correct the numbers.'
        raise MakerError(Problem(name, 0, "", what, todo))


def asked_for(setting: str, found: Evidence) -> str:
    """Return the line to paste for a setting: the choice, or the question as a comment."""
    if found.choice:
        return f'{setting} = "{found.choice}"'
    return f"# {setting} = " + " or ".join(f'"{way}"' for way in found.ways) + "  say which"
