"""What the weeks of the pace window hold of each scent, its weeks off the shelf filled in from those around."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.pace.evidence import USUAL_WEEKS, Evidence, lifetime, nearness, weeks_on_shelf
from planner.pace.unevenness import half_drift, week_unevenness

# A half of the window that was not seen differs from the other by twice the drift on average. A scent is rarely off
# the shelf by chance but because it sold well, so twice that is allowed in its range. It also means that such scents
# err the same way, and those that sold out are the fast ones: for who is ahead of whom a quarter is closer to the
# truth. Both were found on simulated shops (0 to 239 and 3000 to 3399 of tests/pace_shops.py).
UNSEEN, COMPARED = 4.0, 0.25


PACE_WEEKS = 26  # the latest half year: long enough to count, short enough to be about now


class Window(NamedTuple):
    """A row a scent: bottles `sold` in `weeks` at the season's average, as good as counted, and how wrong they can be.

    `uneven` is the variance of the mean rate beyond chance, and `unseen` what weeks off the shelf add to it, both in
    parts of the rate squared.
    """

    sold: pd.Series
    weeks: pd.Series
    uneven: pd.Series
    unseen: pd.Series


def ranked_weeks(demand: pd.DataFrame, weeks: int = PACE_WEEKS) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Return the Mondays of the first and the last week that the ranking is made of, NaT where there are none."""
    seen = weeks_on_shelf(demand)["week"]
    last = seen.max()
    return max(seen.min(), last - pd.Timedelta(weeks=weeks - 1)) if len(seen) else last, last


def pace_window(year: Evidence, weeks: int) -> Window:
    """Return what the latest `weeks` tell of each scent that was on the shelf in them.

    The rate wanted is that of all these weeks since the launch. A week off the shelf is filled in from the weeks
    around it, so these count for more than themselves (`counts` below), and are worth fewer weeks than they look.
    """
    fair, sold = year.fair.to_numpy(), year.bottles.to_numpy()
    season = year.season.fillna(0.0).to_numpy()[:, None]
    inside = (np.arange(len(sold)) >= len(sold) - weeks)[:, None]
    there = (fair * inside).any(axis=0)
    missing = np.maximum(lifetime(year.on_shelf.to_numpy()) * season - fair, 0.0) * inside
    near = nearness(len(sold))
    around = near @ fair + USUAL_WEEKS
    counts = inside + near @ (missing / around)
    unevenness = week_unevenness(year.bottles, year.fair)
    unseen = missing.sum(axis=0) / np.maximum((missing + fair * inside).sum(axis=0), 1e-300)
    drift = half_drift(year.bottles.iloc[-weeks:], year.fair.iloc[-weeks:], unevenness)
    total = (counts * fair).sum(axis=0)
    worth = total**2 / np.maximum((counts**2 * fair).sum(axis=0), 1e-300)
    uneven = unevenness * ((counts * fair) ** 2).sum(axis=0) / np.maximum(total**2, 1e-300)
    rate = (counts * sold).sum(axis=0) / np.maximum(total, 1e-300)
    columns = (rate * worth, worth, uneven, UNSEEN * drift * unseen**2)
    return Window(*(pd.Series(column, index=year.bottles.columns)[there] for column in columns))
