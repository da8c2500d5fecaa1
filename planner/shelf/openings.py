"""On which days each channel is open, and on which a market is held there."""

import numpy as np
import pandas as pd

from planner.settings import Settings


def open_days(days: pd.DatetimeIndex, channels: list[str], calendar: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Say for each day (down) and channel (across) whether one could buy there.

    A channel for market days is open on those in calendar.csv only; every other one is, unless it is closed.
    """
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
    events = calendar[whose.isin(["", "all", channel]) & (calendar["kind"] == kind)]
    held = np.zeros(len(days), bool)
    first = days.searchsorted(events["first_day"], side="left")
    last = days.searchsorted(events["last_day"].fillna(events["first_day"]), side="right")
    for begin, end in zip(first, last, strict=True):
        held[begin:end] = True
    return held
