"""One thing to ask about, and how days and amounts are written in it."""

from typing import NamedTuple

import pandas as pd

from planner.tables import listed

NAMED = 3  # examples in one sentence; more are counted


class Finding(NamedTuple):
    """What kind of thing, where, the sentence with its figures, and what it would change if it is wrong."""

    what: str
    where: str
    finding: str
    would_change: str


def day(when: pd.Timestamp) -> str:
    """Write a day as people say it: Thu 17 Dec 2026."""
    return f"{when:%a} {when.day} {when:%b %Y}"


def span(first: pd.Timestamp, last: pd.Timestamp) -> str:
    """Write a run of days: Sat 5 Dec 2026 to Sun 6 Dec 2026."""
    return day(first) if first == last else f"{day(first)} to {day(last)}"


def number(amount: float, word: str) -> str:
    """Write an amount with its word: 1 bottle, 1,200 bottles."""
    plain = f"{amount:,.0f}"
    return f"{plain} {word}" if plain == "1" else f"{plain} {word}s"


def some(names: list[str]) -> str:
    """Name the first few and count the rest."""
    return listed(names) if len(names) <= NAMED else f"{', '.join(names[:NAMED])} and {len(names) - NAMED} more"
