"""What a forecast by month takes for granted, in words."""

import numpy as np
import pandas as pd

from planner.monthly.foresee import SHOP_MIX
from planner.monthly.months import LEAST_OPEN, Months
from planner.monthly.together import PEAK_SD

NOTICED = 0.005  # of a month's usual sales: a closed day in a calm month is about three times as much
MANY = 3  # months by name in one cell


def month_assumptions(
    series: Months, opened: np.ndarray, ahead: pd.DatetimeIndex, opened_ahead: np.ndarray
) -> pd.DataFrame:
    """Return what foresee_months assumes of a shop: what, assumed, known_from.

    `opened` is how much of each month of `series` was open, `opened_ahead` that of the months `ahead`; shares, 0 to 1.
    """
    rows = [_season(series), _methods(), _peak(), *_closed(series, opened), *_closing(ahead, opened_ahead)]
    return pd.DataFrame(rows, columns=["what", "assumed", "known_from"], dtype="str")


def _season(series: Months) -> tuple[str, str, str]:
    known = (~np.isnan(series.values)).any(axis=0)
    months, seen = int(known.sum()), len(set(series.months.month[known]))
    said = f"learned from {months} month{'s' * (months != 1)} and drawn to that of a usual gift trade"
    if seen < 12:
        said += f"; {12 - seen} of the year's 12 months were never seen and are that trade's"
    return "season of the months", said, "learned, and a rule of thumb"


def _methods() -> tuple[str, str, str]:
    level, year, line = (f"{100 * share:.0f} %" for share in SHOP_MIX)
    said = f"{level} a level that follows the sales, {year} last year with half its growth, {line} a straight line"
    return "how months go on", said, "a rule of thumb"


def _peak() -> tuple[str, str, str]:
    said = f"one year's peak is higher or lower than the season says by about {100 * PEAK_SD:.0f} % of its height"
    return "strength of the peak", said, "a rule of thumb"


def _closed(series: Months, opened: np.ndarray) -> list[tuple[str, str, str]]:
    """Say which months gone count as more than they sold because of closed days, and which as unknown."""
    rows = []
    part, none = (opened < 1 - NOTICED) & (opened >= LEAST_OPEN), opened < LEAST_OPEN
    if part.any():
        rows.append((f"closed days in {_named(series.months[part])}", "sales count as more, as if it had been open"))
    if none.any():
        rows.append((f"closed days in {_named(series.months[none])}", "hardly an open day: unknown, and not zero"))
    return [(*row, "calendar.csv") for row in rows]


def _closing(ahead: pd.DatetimeIndex, opened: np.ndarray) -> list[tuple[str, str, str]]:
    """Say how much of each month to come falls on closed days."""
    return [
        (f"closed days in {month:%b %Y}", f"take away {100 * (1 - share):.0f} % of what it would sell", "calendar.csv")
        for month, share in zip(ahead, opened, strict=True)
        if share < 1 - NOTICED
    ]


def _named(months: pd.DatetimeIndex) -> str:
    names = [f"{month:%b %Y}" for month in months]
    return ", ".join(names) if len(names) <= MANY else f"{', '.join(names[:MANY])} and {len(names) - MANY} more"
