"""The way of a shop that knows its sales by month only: from months to weeks, with the days of a usual gift trade."""

import numpy as np
import pandas as pd

from planner.files import Folder
from planner.monthly import (
    Months,
    MonthsCheck,
    as_if_open,
    check_months,
    foresee_months,
    grain,
    month_assumptions,
    month_lines,
    month_totals,
    split_over_weeks,
    spread_sales,
)
from planner.season.calendar import DAY, day_features, last_posting_day
from planner.season.events import open_days
from planner.season.history import season_days
from planner.season.priors import season_prior
from planner.shelf import WeekTotals, week_totals
from planner.tables import Paths

PROFILE_YEAR = 2025  # any year: months differ by their holidays, which move a little


def known_by_month(shop: Folder, sales: pd.DataFrame) -> bool:
    """Say whether the season must be foreseen by month because the sales are known by month only.

    While no month with a sale is over, the days gone of the one that runs are all there is: they are no month.
    """
    if grain(sales, shop.settings) != "month":
        return False
    series = month_totals(sales, shop["scents"], shop.settings, shop.today)
    return bool((series.values > 0).any())


def sales_by_day(shop: Folder, sales: pd.DataFrame) -> pd.DataFrame:
    """Return the sales with lines that stand for a whole month spread over its days as usual; others as they are."""
    of_months = month_lines(sales, shop.settings)
    if not of_months.any():
        return sales
    day = sales.loc[of_months, "day"]
    days = _days(shop, day.min().replace(day=1), day.max() + pd.offsets.MonthEnd(0))
    return spread_sales(sales, of_months, days, shop.today)


def read_week_totals(shop: Folder, sales: pd.DataFrame) -> WeekTotals:
    """Return the sales with weekly totals on the weeks they stand for, read beside the days of a usual gift trade."""
    if sales.empty or not any(export.totals == "week" for export in shop.settings.exports):
        return week_totals(sales, shop.settings, shop.today)
    week = pd.Timedelta(days=7)
    days = _days(shop, sales["day"].min() - week, sales["day"].max() + week)
    return week_totals(sales, shop.settings, shop.today, days.set_index("day")["usual"])


def paths_by_month(
    shop: Folder, sales: pd.DataFrame, window: tuple[pd.Timestamp, pd.Timestamp], count: int, seed: int
) -> Paths:
    """Return sample paths of the window by week, foreseen by month and split by the days of a usual gift trade."""
    rng = np.random.default_rng(seed)
    series = month_totals(sales, shop["scents"], shop.settings, shop.today)
    begins, ends = series.months[-1] + pd.offsets.MonthBegin(1), window[1] + pd.offsets.MonthEnd(0)
    ahead = pd.date_range(begins, ends, freq="MS", unit="us")
    whole = as_if_open(series, open_share(shop, series.months))
    paths = foresee_months(whole, len(ahead), count, rng, _profile(shop)) * open_share(shop, ahead)
    return split_over_weeks(paths, series, _days(shop, begins, ends), window, shop["scents"], rng)


def check_by_month(shop: Folder, sales: pd.DataFrame, count: int, seed: int) -> MonthsCheck:
    """Forecast past seasons by whole months from before them and compare with what happened.

    The months of the season are those of which at least half lies in it, or else the one with most of it.
    """
    series = month_totals(sales, shop["scents"], shop.settings, shop.today)
    sold = ~np.isnan(series.values).all(axis=1)
    series = Months(series.values[sold], tuple(np.array(series.names, dtype=object)[sold]), series.months)
    days = pd.Series(pd.DatetimeIndex(season_days(shop.settings, shop.today)))
    inside = days.groupby(days.dt.to_period("M")).agg(["size", "max"])
    part = inside["size"] / inside["max"].dt.days_in_month
    months = inside.index[(part >= 0.5) | (part == part.max())].month
    rng, opened = np.random.default_rng(seed), open_share(shop, series.months)
    return check_months(series, list(months)[:12], count, rng, _profile(shop), opened)


def assumed_by_month(shop: Folder, sales: pd.DataFrame, window: tuple[pd.Timestamp, pd.Timestamp]) -> pd.DataFrame:
    """Return what the paths by month take for granted for the window: what, assumed, known_from."""
    series = month_totals(sales, shop["scents"], shop.settings, shop.today)
    ahead = pd.date_range(window[0].normalize().replace(day=1), window[1], freq="MS", unit="us")
    return month_assumptions(series, open_share(shop, series.months), ahead, open_share(shop, ahead))


def open_share(shop: Folder, months: pd.DatetimeIndex) -> np.ndarray:
    """Return how much of each month's usual sales falls on days on which the shop is not closed, 0 to 1."""
    days = _days(shop, months[0], months[-1] + pd.offsets.MonthEnd(0))
    month = days["day"].dt.to_period("M")
    return (days["weight"].groupby(month).sum() / days["usual"].groupby(month).sum()).to_numpy()


def _days(shop: Folder, first: pd.Timestamp, last: pd.Timestamp) -> pd.DataFrame:
    """Return what each day sells beside a usual one in a gift trade: day, usual, weight (0 on days it is closed)."""
    day = np.arange(np.datetime64(first, "D"), np.datetime64(last, "D") + DAY)
    effects = season_prior()[0]
    features = day_features(day, last_posting_day(shop.settings), shop.settings.country)[:, : len(effects)]
    usual = np.exp(features @ effects)
    weight = usual * open_days(shop["calendar"], day)
    return pd.DataFrame({"day": day.astype("datetime64[us]"), "usual": usual, "weight": weight})


def _profile(shop: Folder) -> np.ndarray:
    """Return the log of what each calendar month sells beside a usual one, before the shop's own months are seen."""
    day = np.arange(f"{PROFILE_YEAR}-01-01", f"{PROFILE_YEAR + 1}-01-01", dtype="datetime64[D]")
    features = day_features(day, last_posting_day(shop.settings), shop.settings.country)
    month = day.astype("datetime64[M]").astype(int) % 12
    total = np.log(np.bincount(month, np.exp(features @ season_prior()[0])))
    return total - total.mean()
