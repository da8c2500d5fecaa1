"""From months to weeks, by how a usual month's sales fall on its days: what sold, and what may sell."""

import numpy as np
import pandas as pd

from planner.monthly.months import Months
from planner.tables import Paths

DAY = np.timedelta64(1, "D")
GUESS_SD = 0.5  # a maker's guess of a new scent is off by at least that much, log (judgement, as in the season's model)
GUESS_HOLDS = 1.2816  # low to high is read as eight chances in ten
MOST = 1e9  # no scent sells more bottles in a month: keeps hopeless histories whole numbers


def spread_sales(sales: pd.DataFrame, of_months: pd.Series, days: pd.DataFrame, today: pd.Timestamp) -> pd.DataFrame:
    """Return the sales (table sales) with each line `of_months` spread over the days of its month by weight.

    `days` has a row for each day: day, weight. The bottles of a line stand at even steps of the month's weight, so that
    they add up to the line; a month that is not over by `today` ends today. Lines are numbered anew.
    """
    lines = sales[of_months]
    if lines.empty:
        return sales
    weights = days.set_index("day")["weight"]
    first = lines["day"].dt.normalize() - pd.to_timedelta(lines["day"].dt.day - 1, unit="D")
    parts = [
        _spread_line(day, int(bottles), weights, today) for day, bottles in zip(first, lines["bottles"], strict=True)
    ]
    many = lines.loc[lines.index.repeat([len(day) for day, _ in parts])].assign(
        day=np.concatenate([day for day, _ in parts]).astype("datetime64[us]"),
        bottles=np.concatenate([bottles for _, bottles in parts]),
    )
    spread = pd.concat([sales[~of_months], many.astype({"bottles": sales["bottles"].dtype})], ignore_index=True)
    return spread.assign(line=np.arange(1, len(spread) + 1)).astype({"line": sales["line"].dtype})


def _spread_line(
    first: pd.Timestamp, bottles: int, weights: pd.Series, today: pd.Timestamp
) -> tuple[np.ndarray, np.ndarray]:
    """Return the days on which a line's bottles stand and how many on each; a month's sign is kept."""
    last = max(first, min(first + pd.offsets.MonthEnd(0), today))
    day = pd.date_range(first, last, unit="us")
    weight = weights.reindex(day).fillna(0.0).to_numpy()
    share = np.cumsum(weight if weight.sum() > 0 else np.ones(len(day)))
    if bottles == 0:
        return day.to_numpy()[:1], np.array([0])
    steps = (np.arange(abs(bottles)) + 0.5) / abs(bottles)
    count = np.bincount(np.searchsorted(share / share[-1], steps), minlength=len(day))
    return day.to_numpy()[count > 0], np.sign(bottles) * count[count > 0]


def split_over_weeks(
    paths: np.ndarray,
    series: Months,
    days: pd.DataFrame,
    window: tuple[pd.Timestamp, pd.Timestamp],
    scents: pd.DataFrame,
    rng: np.random.Generator,
) -> Paths:
    """Return paths of the months after `series` (path, scent, month) as whole bottles by week in the window.

    `days` has a row for each day of these months: day, weight; `window` is first and last day. A bottle of a month
    falls on one of its days by weight; days outside the window, before a scent is first and after it is last sold,
    count nothing. A scent never sold that has a guess in `scents` sells in the window as guessed.
    """
    months = pd.date_range(series.months[-1] + pd.offsets.MonthBegin(1), periods=paths.shape[2], freq="MS", unit="us")
    said = scents.dropna(subset="scent").drop_duplicates("scent").set_index("scent").reindex(list(series.names))
    mondays, share = _shares(months, days, window, said)
    paths = _follow_guesses(paths, series, said, share.sum(axis=2), rng)
    rest = np.maximum(1 - share.sum(axis=2, keepdims=True), 0.0)  # falls on days that do not count
    whole = np.concatenate([share, rest], axis=2)
    whole /= whole.sum(axis=2, keepdims=True)
    bottles = np.zeros((len(paths), len(series.names), len(mondays)), dtype="int64")
    for month in np.flatnonzero(share.any(axis=(0, 2))):
        total = np.floor(np.minimum(paths[:, :, month], MOST) + rng.random(paths.shape[:2])).astype("int64")
        bottles += rng.multinomial(total, whole[:, month])[:, :, :-1]
    return Paths(bottles, series.names, pd.DatetimeIndex(mondays.astype("datetime64[us]")))


def _shares(
    months: pd.DatetimeIndex, days: pd.DataFrame, window: tuple[pd.Timestamp, pd.Timestamp], said: pd.DataFrame
) -> tuple[np.ndarray, np.ndarray]:
    """Return the Mondays of the window and how much of each month falls on each week, shape (scent, month, week)."""
    first, last = (np.datetime64(day, "D") for day in window)
    day, weight, month = _days(months, days)
    weight = weight / np.bincount(month, weight)[month]
    begins, ends = (said[name].to_numpy("datetime64[D]")[:, None] for name in ("first_sold", "last_sold"))
    sold = (day >= first) & (day <= last) & ~(day < begins) & ~(day > ends)  # (scent, day)
    mondays = np.arange(first - (first.astype("int64") + 3) % 7 * DAY, last + DAY, 7 * DAY)  # 1 January 1970: Thursday
    week = np.clip((day - mondays[0]) // (7 * DAY), 0, len(mondays) - 1).astype(int)
    share = np.zeros((len(said), len(months), len(mondays)))
    for scent, on in enumerate(sold):
        np.add.at(share[scent], (month[on], week[on]), weight[on])
    return mondays, share


def _follow_guesses(
    paths: np.ndarray, series: Months, said: pd.DataFrame, share: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Return the paths with those of scents never sold set to the maker's guess of the window, where there is one.

    `share` (scent, month) says how much of each month lies in the window.
    """
    low, high = (said[name].to_numpy(float, na_value=np.nan) for name in ("guess_low", "guess_high"))
    low, high = np.where(np.isnan(low), high, low), np.where(np.isnan(high), low, high)
    followed = paths.copy()
    for one in np.flatnonzero(np.isnan(series.values).all(axis=1) & ~np.isnan(low)):
        ends = np.log(np.maximum([min(low[one], high[one]), max(low[one], high[one])], 0.5))
        spread = max((ends[1] - ends[0]) / (2 * GUESS_HOLDS), GUESS_SD)
        guess = np.exp(ends.mean() + spread * rng.standard_normal(len(paths)))
        season = paths[:, one] @ share[one]
        followed[:, one] *= (guess / np.where(season > 0, season, np.inf))[:, None]
    return followed


def _days(months: pd.DatetimeIndex, days: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return day, weight and place of its month of every day of the months; a month without any weight is even."""
    day = np.arange(
        months[0].to_numpy().astype("datetime64[D]"), np.datetime64(months[-1] + pd.offsets.MonthBegin(1), "D")
    )
    weight = (
        days.set_index("day")["weight"].reindex(pd.DatetimeIndex(day.astype("datetime64[us]"))).fillna(0.0).to_numpy()
    )
    month = (day.astype("datetime64[M]") - day[0].astype("datetime64[M]")).astype(int)
    empty = np.bincount(month, weight) <= 0
    return day, np.where(empty[month], 1.0, weight), month
