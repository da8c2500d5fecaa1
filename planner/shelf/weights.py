"""How much a shop sells on such a day: day weights by weekday and market, learned from its own sales."""

import numpy as np
import pandas as pd

NEARLY_ALL = 0.8  # days on which less than this share of what usually sells was on the shelf teach nothing
EQUAL = 20.0  # bottles' worth of an equal day that each weekday starts with: few sales stay near equal days
ROUNDS = 20  # of fitting weeks, weekdays and markets in turn; they hardly move after ten
USUAL = 10.0  # a day counts as at most so many middling selling days, so that one big order makes no weekday
USUAL_DAYS = 7.0  # days' worth of the average channel that each channel starts with


def day_weights(sold: pd.DataFrame, there: np.ndarray, opened: pd.DataFrame, markets: pd.DataFrame) -> pd.DataFrame:
    """Return how much is usually sold on each day (down) in each channel (across), 1 being the average open day.

    `sold` are bottles by day and channel, `there` is the share of what usually sells that was on the shelf that day,
    `opened` and `markets` say whether the channel was open and whether a market was held. Weekdays are compared
    within the same week, so a season does not look like a weekday. A closed day weighs nothing.
    """
    weeks = np.asarray(sold.index - pd.to_timedelta(sold.index.day_of_week, unit="D"))
    week = np.unique(weeks, return_inverse=True)[1]
    weekday = sold.index.day_of_week.to_numpy()
    shapes, bottles, worth = {}, {}, {}
    for name in sold:
        is_open, market = opened[name].to_numpy(), markets[name].to_numpy()
        teaches = is_open & (there >= NEARLY_ALL)
        day = _without_giants(sold[name].to_numpy(float))
        shape = _shape(day, there, teaches, week, weekday, market)
        shapes[name] = shape * is_open
        bottles[name], worth[name] = day[teaches].sum(), (shape * there)[teaches].sum()
    average = sum(bottles.values()) / max(sum(worth.values()), 1.0)
    usual = {name: (bottles[name] + USUAL_DAYS * average) / (worth[name] + USUAL_DAYS) for name in shapes}
    weights = pd.DataFrame({name: shape * (usual[name] or 1.0) for name, shape in shapes.items()}, index=sold.index)
    total = weights.to_numpy().sum()
    return weights * (opened.to_numpy().sum() / total if total else 1.0)


def _without_giants(day: np.ndarray) -> np.ndarray:
    selling = day[day > 0]
    return np.minimum(day, USUAL * np.median(selling)) if len(selling) else day


def _shape(
    sold: np.ndarray, there: np.ndarray, teaches: np.ndarray, week: np.ndarray, weekday: np.ndarray, market: np.ndarray
) -> np.ndarray:
    """Weight of each day from its weekday and whether a market is held, by fitting weeks and days in turn.

    Each weekday and the market start with EQUAL bottles sold where EQUAL were expected: a gamma prior around 1.
    """
    sold, share = np.where(teaches, sold, 0.0), np.where(teaches, there, 0.0)
    of_weekday, of_market = np.ones(7), 1.0
    in_week = np.bincount(week, sold)
    on_weekday, on_market = np.bincount(weekday, sold, 7), sold[market].sum()
    for _ in range(ROUNDS):
        shape = share * of_weekday[weekday] * np.where(market, of_market, 1.0)
        level = in_week / np.maximum(np.bincount(week, shape), 1e-9)
        expected = level[week] * share * np.where(market, of_market, 1.0)
        of_weekday = (on_weekday + EQUAL) / (np.bincount(weekday, expected, 7) + EQUAL)
        of_weekday /= of_weekday.mean()
        expected = (level[week] * share * of_weekday[weekday])[market].sum()
        of_market = (on_market + EQUAL) / (expected + EQUAL)
    return of_weekday[weekday] * np.where(market, of_market, 1.0)
