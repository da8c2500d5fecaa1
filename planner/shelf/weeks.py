"""From days on the shelf to weeks: how many, how much of the week's expected sales they hold, how surely known."""

import numpy as np
import pandas as pd

from planner.shelf.totals import END_ONLY

LEAST_SURE_LAST = ("rolled forward", "assumed", "inferred", END_ONLY)
DECIMALS = 9  # of exposure, so that seven whole days are a whole week


def shelf_weeks(shelf: pd.DataFrame) -> pd.DataFrame:
    """Return one row a week (its Monday) and scent of table shelf, its channels taken together.

    Columns: week, scent, shelf_days (days on the shelf in any channel), open_days (days for sale on which a channel was
    open; on those beyond shelf_days it was sold out), exposure (0 to 1, days by their weight), known (of the least sure
    day).
    """
    day, days = pd.factorize(shelf["day"], sort=True)
    scent, scents = pd.factorize(shelf["scent"], sort=True)
    monday = days - pd.to_timedelta(days.day_of_week, unit="D")
    week, weeks = pd.factorize(monday)
    cell, shape = day * len(scents) + scent, (len(days), len(scents))
    anywhere = np.zeros(shape[0] * shape[1])
    np.maximum.at(anywhere, cell, shelf["on_shelf"].to_numpy(float))
    opened = np.bincount(cell, shelf["day_weight"] > 0, shape[0] * shape[1]) > 0
    worth = np.bincount(cell, shelf["on_shelf"] * shelf["day_weight"], shape[0] * shape[1])
    shelf_days, could, there, seen, least = np.zeros((5, len(weeks), len(scents)))
    np.add.at(shelf_days, week, anywhere.reshape(shape))
    np.add.at(could, week, opened.reshape(shape))
    np.add.at(there, week, worth.reshape(shape))
    np.maximum.at(least, (week[day], scent), pd.Index(LEAST_SURE_LAST).get_indexer(shelf["known"]))
    np.maximum.at(seen, (week[day], scent), 1.0)
    whole = _worth_of_weeks(shelf).reindex(weeks).to_numpy(float)[:, None]
    exposure = np.divide(there, whole, out=np.zeros(there.shape), where=whole > 0).clip(max=1.0).round(DECIMALS)
    at = np.nonzero(seen)
    return pd.DataFrame(
        {
            "week": weeks[at[0]],
            "scent": scents[at[1]],
            "shelf_days": shelf_days[at],
            "open_days": could[at],
            "exposure": exposure[at],
            "known": np.array(LEAST_SURE_LAST, dtype=object)[least[at].astype(int)],
        }
    )


def _worth_of_weeks(shelf: pd.DataFrame) -> pd.Series:
    """Day weights of all channels added up by week; a day the sales do not cover counts as its weekday usually does."""
    weights = shelf.groupby(["day", "channel"], observed=True)["day_weight"].max().unstack()
    if weights.empty:
        return pd.Series(dtype="float64")
    usual = weights.groupby(weights.index.day_of_week).mean().reindex(range(7)).fillna(0.0)
    first = weights.index[0] - pd.Timedelta(days=weights.index[0].day_of_week)
    last = weights.index[-1] + pd.Timedelta(days=6 - weights.index[-1].day_of_week)
    weights = weights.reindex(pd.date_range(first, last, name="day", unit=weights.index.unit))
    usual = usual.loc[weights.index.day_of_week].set_axis(weights.index)
    by_day = weights.fillna(usual).sum(axis=1)
    return by_day.groupby(by_day.index - pd.to_timedelta(by_day.index.day_of_week, unit="D")).sum()
