"""Weeks in which the whole shop sold nothing although it should have: closed, or an export is missing."""

import numpy as np
import pandas as pd

FEWEST = 26  # weeks in a row that are a silence whatever other years sold then; in shorter ones a season may be over
EXPECTED = 20.0  # bottles that should have sold in them: none by chance is one in half a billion
FEW = 3  # weeks in a row: a fortnight without a sale is soon told from holidays, and harms little
CHANCE = 1e-3  # of no sale in all these weeks, from which on they are a silence
SIZE = 1.5  # a shop's weeks are at most that uneven: size of the negative binomial (judgement)
AROUND = 8  # weeks to either side that say how much was due
LEAST = 1.0  # bottle a week around them: weeks of another year that stand beside next to nothing tell nothing
YEAR = 52  # weeks: the same weeks of other years say what the time of year does


def silent_weeks(rows: pd.DataFrame) -> pd.DatetimeIndex:
    """Return the weeks of runs in which not one bottle was sold of scents on the shelf: they are unknown, not zero.

    `rows` has a row a scent and week, with bottles and shelf_days. A run is FEWEST weeks or more in which EXPECTED
    bottles or more would have sold at the mean of the other weeks; or FEW weeks or more in which nothing would have
    sold with a chance below CHANCE, going by the weeks around it and by what the same weeks of other years sold.
    """
    there = rows[rows["shelf_days"] > 0]
    bottles, shelf = (there.groupby(["week", "scent"])[name].sum().unstack() for name in ("bottles", "shelf_days"))
    if bottles.empty or not (bottles > 0).any(axis=None):
        return pd.DatetimeIndex([], dtype="datetime64[us]")
    weeks = pd.date_range(bottles.index[0], bottles.index[-1], freq="7D")
    sold, on_shelf = (table.reindex(weeks).to_numpy(float, na_value=0.0) for table in (bottles, shelf / 7))
    sold, on_shelf = np.nan_to_num(sold), np.nan_to_num(on_shelf)
    empty = sold.sum(axis=1) == 0
    runs = np.flatnonzero(np.diff(np.concatenate([[0], empty.astype(int), [0]]))).reshape(-1, 2)
    silent = np.zeros(len(weeks), bool)
    for begin, end in runs[runs[:, 1] - runs[:, 0] >= FEW]:
        silent[begin:end] = _long(sold, begin, end) or _chance_of_none(sold, on_shelf, empty, begin, end) < CHANCE
    return pd.DatetimeIndex(weeks[silent])


def without_silence(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of weeks that are not silent."""
    silent = silent_weeks(rows)
    return rows[~rows["week"].isin(silent)] if len(silent) else rows


def _long(sold: np.ndarray, begin: int, end: int) -> bool:
    """Return whether a run is so long that nothing in fashion explains it."""
    weeks = end - begin
    return weeks >= FEWEST and weeks * sold.sum() / max(len(sold) - weeks, 1) >= EXPECTED


def _chance_of_none(sold: np.ndarray, on_shelf: np.ndarray, empty: np.ndarray, begin: int, end: int) -> float:
    """Return the chance that nothing sells from week `begin` to before `end`; `sold` and `on_shelf` by week and scent.

    Due is what the weeks before the run or those after it, whichever sold less, would have sold of what was on the
    shelf in it, times what the same weeks of other years sold against those around them then.
    """
    sides = [slice(max(begin - AROUND, 0), begin), slice(end, end + AROUND)]
    sides = [side for side in sides if not empty[side].all()]
    usual = [sold[side].sum(axis=0) / np.maximum(on_shelf[side].sum(axis=0), 1.0) for side in sides]
    due = min((on_shelf[begin:end] @ pace for pace in usual), key=np.sum)
    due = due * _time_of_year(sold.sum(axis=1), begin, end)
    return float(np.exp(-SIZE * np.log1p(due / SIZE).sum()))


def _time_of_year(sold: np.ndarray, begin: int, end: int) -> np.ndarray | float:
    """Return how many times as much as in the weeks around them those from `begin` to `end` sold in other years.

    The least of all years that lie wholly inside the history: a shop that is silent every year keeps its zeros. 1 where
    there is no such year.
    """
    found: np.ndarray | float = 1.0
    least = np.inf
    for shift in range(-(begin // YEAR) * YEAR, len(sold), YEAR):
        first, last = begin + shift, end + shift
        if shift == 0 or first - AROUND < 0 or last > len(sold):
            continue
        sides = [sold[first - AROUND : first], sold[last : last + AROUND]]
        around = min(side.mean() for side in sides if len(side))
        times = sold[first:last] / max(around, LEAST)
        if around >= LEAST and times.sum() < least:
            found, least = times, times.sum()
    return found
