"""On which days each channel is open, and on which a market is held there."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.settings import Settings
from planner.shelf.totals import spans
from planner.tables import WHOLE_SHOP


class Openings(NamedTuple):
    """For each day (down) and channel (across): whether one could buy there, and whether a market was held."""

    opened: pd.DataFrame
    markets: pd.DataFrame
    problems: list[Problem]


def channel_openings(
    days: pd.DatetimeIndex, channels: list[str], sales: pd.DataFrame, calendar: pd.DataFrame, settings: Settings
) -> Openings:
    """Return the days on which each channel was open: those of calendar.csv and those on which it sold.

    A channel for market days is open on the market days of the calendar, every other one is unless it is closed. Sales
    are believed: a day with sales was an open one, and a market day in a channel that is open on those only. It is
    named where the calendar says otherwise.
    """
    opened = open_days(days, channels, calendar, settings)
    markets = market_days(days, channels, calendar)
    sold = _sold_on_days(days, channels, sales, settings)
    late = sold.where(~opened, 0.0)
    on_markets = [name for name in channels if settings.channel(name).open == "market days"]
    held = pd.DataFrame({name: (late[name] > 0) & (name in on_markets) for name in channels}, index=days)
    problems = [_unlisted(name, late[name], name in on_markets) for name in channels if (late[name] > 0).any()]
    return Openings(opened | (late > 0), markets | held, problems)


def open_days(days: pd.DatetimeIndex, channels: list[str], calendar: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Say for each day (down) and channel (across) whether by the calendar one could buy there."""
    opened = {}
    for name in channels:
        only_markets = settings.channel(name).open == "market days"
        at_all = _held(days, name, "market", calendar) if only_markets else np.ones(len(days), bool)
        opened[name] = at_all & ~_held(days, name, "closed", calendar)
    return pd.DataFrame(opened, index=days)


def market_days(days: pd.DatetimeIndex, channels: list[str], calendar: pd.DataFrame) -> pd.DataFrame:
    """Say for each day (down) and channel (across) whether calendar.csv has a market that day."""
    return pd.DataFrame({name: _held(days, name, "market", calendar) for name in channels}, index=days)


def _held(days: pd.DatetimeIndex, channel: str, kind: str, calendar: pd.DataFrame) -> np.ndarray:
    """Mark the days of the events of a kind that belong to the channel, or to no channel by name."""
    whose = calendar["channel"].fillna("")
    events = calendar[whose.isin([*WHOLE_SHOP, channel]) & (calendar["kind"] == kind)]
    held = np.zeros(len(days), bool)
    first = days.searchsorted(events["first_day"], side="left")
    last = days.searchsorted(events["last_day"].fillna(events["first_day"]), side="right")
    for begin, end in zip(first, last, strict=True):
        held[begin:end] = True
    return held


def _sold_on_days(days: pd.DatetimeIndex, channels: list[str], sales: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Bottles sold by day and channel, without totals of weeks and months and what is sold to order."""
    whole = spans(sales, settings)
    told = sales[(sales["kind"] == "sale") & (whole["first"] == whole["last"])]
    sold = told.groupby(["day", "channel"], observed=True)["bottles"].sum().unstack()
    crowd = [name for name in channels if settings.channel(name).open != "to order"]
    return sold.reindex(index=days, columns=crowd).reindex(columns=channels).astype("float64").fillna(0.0)


def _unlisted(channel: str, sold: pd.Series, only_markets: bool) -> Problem:
    """Say what was sold on days that are no open ones by the calendar."""
    days = sold.index[sold > 0]
    several = len(days) > 1
    no = "no market days" if several else "no market day"
    closed = "days on which it was closed" if several else "a day on which it was closed"
    what = (
        f"{channel}: {_bottles(sold.sum())} sold on {len(days)} day{'s' * several} that {'are' if several else 'is'} "
        f"{no if only_markets else closed} here, {'the first on ' if several else ''}{days[0]:%Y-%m-%d}."
    )
    counts = f"{'They count' if several else 'It counts'} as {'market days' if only_markets else 'open'}"
    todo = f"{counts}; {'add them' if only_markets else 'put the closed days right'}."
    return Problem("calendar.csv", 0, "first_day", what, todo, stops=False)


def _bottles(count: float) -> str:
    return f"{count:,.0f} bottle{'' if count == 1 else 's'}"
