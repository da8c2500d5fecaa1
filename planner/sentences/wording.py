"""How amounts, days and names are written in a sentence."""

import pandas as pd

from planner.settings import Settings
from planner.tables import listed

SHORT_LIST = 4  # names in one sentence; more are counted


def number(amount: float, word: str, words: str = "") -> str:
    """Write an amount with its word, singular or plural.

    >>> number(1, "batch", "batches"), number(1200, "bottle")
    ('1 batch', '1,200 bottles')
    """
    plain = f"{amount:,.0f}"
    return f"{plain} {word if plain == '1' else words or word + 's'}"


def money(amount: float, settings: Settings) -> str:
    """Write an amount of money, whole: 1,234 EUR."""
    return f"{amount:,.0f} {settings.currency}"


def day(when: pd.Timestamp) -> str:
    """Write a day as people say it: Thu 17 Dec 2026."""
    return f"{when:%a} {when.day} {when:%b %Y}"


def names(some: list[str], others: str = "more") -> str:
    """Write some names, counting those beyond the first few as `others`."""
    if len(some) <= SHORT_LIST:
        return listed(some)
    return f"{', '.join(some[: SHORT_LIST - 1])} and {len(some) - SHORT_LIST + 1} {others}"
