"""Weeks in which the whole shop sold nothing although it should have: closed, or an export is missing."""

import numpy as np
import pandas as pd

FEWEST = 26  # weeks in a row; in shorter ones something may really have gone out of fashion
EXPECTED = 20.0  # bottles that should have sold in them: none by chance is one in half a billion


def silent_weeks(rows: pd.DataFrame) -> pd.DatetimeIndex:
    """Return the weeks of runs in which not one bottle was sold of scents on the shelf: they are unknown, not zero.

    `rows` has a row a scent and week, with bottles and shelf_days. A run is FEWEST weeks or more in which EXPECTED
    bottles or more would have sold at the mean of the other weeks.
    """
    there = rows[rows["shelf_days"] > 0]
    sold = there.groupby("week")["bottles"].sum()
    if sold.empty or not sold.any():
        return pd.DatetimeIndex([], dtype="datetime64[us]")
    sold = sold.reindex(pd.date_range(sold.index[0], sold.index[-1], freq="7D"), fill_value=0)
    empty = sold.eq(0).to_numpy(bool)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], empty.astype(int), [0]]))).reshape(-1, 2)
    bottles, silent = float(sold.sum()), np.zeros(len(sold), bool)
    for begin, end in edges:
        weeks = end - begin
        silent[begin:end] = weeks >= FEWEST and weeks * bottles / (len(sold) - weeks) >= EXPECTED
    return pd.DatetimeIndex(sold.index[silent])


def without_silence(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of weeks that are not silent."""
    silent = silent_weeks(rows)
    return rows[~rows["week"].isin(silent)] if len(silent) else rows
