"""The shop's own calendar, day by day: closed days, market days, promotions and holidays of its own."""

import numpy as np
import pandas as pd

from planner.tables import WHOLE_SHOP


def open_days(calendar: pd.DataFrame, days: np.ndarray) -> np.ndarray:
    """Return which days the whole shop is not closed, shaped like `days`; one channel alone closes none."""
    closed = calendar[calendar["kind"].eq("closed") & calendar["channel"].fillna("").isin(WHOLE_SHOP)]
    return ~_within(closed, days)


def event_days(calendar: pd.DataFrame, days: np.ndarray, names: tuple[str, ...]) -> np.ndarray:
    """Return for each day whether each named event is on, the events as the last axis."""
    labels = event_names(calendar)
    columns = [_within(calendar[labels.eq(name)], days) for name in names]
    return np.stack(columns, axis=-1).astype(float) if columns else np.zeros((*days.shape, 0))


def event_names(calendar: pd.DataFrame) -> pd.Series:
    """Return what each line of the calendar counts as: market, promotion, the holiday's own name, or nothing."""
    own = calendar["what"].fillna("").str.strip().str.lower()
    return calendar["kind"].where(
        calendar["kind"].isin(["market", "promotion"]), own.where(calendar["kind"].eq("holiday"), "")
    )


def _within(events: pd.DataFrame, days: np.ndarray) -> np.ndarray:
    inside = np.zeros(days.shape, bool)
    first = events["first_day"].to_numpy("datetime64[D]")
    last = events["last_day"].fillna(events["first_day"]).to_numpy("datetime64[D]")
    for begin, end in zip(first, last, strict=True):
        inside |= (days >= begin) & (days <= end)
    return inside
