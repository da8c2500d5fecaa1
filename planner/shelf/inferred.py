"""Sold out, inferred where nobody counted: runs of days without a sale that are too long to be chance."""

import numpy as np

NEAR_DAYS = 28  # a scent's rate beside a run is learned from so many days before and after it
OWN_RATE = 4.0  # bottles' worth of the scent's rate over all its days in that, as tastes drift
RESTLESS = 16.0  # shape of the gamma spread of a scent's rate from week to week, beyond the season of all scents
SEASON_PRIOR = 20.0  # bottles' worth of the smooth season in the season of each week, and of the week in each day
CHANNEL_PRIOR = 2.0  # bottles' worth of the shop's share of a channel in a scent's
MOST_AT_ONCE = 50.0  # bottles of one scent bought together, on average
START_DAYS = 20.0  # days at the shop's number of bottles bought together in a scent's
HALVINGS = 16  # of the range of that number: to a thousandth
SMOOTH_WEEKS = 8  # before and after, for the smooth season
DAYS_OUT = 14.0  # a scent that ran out is back after two weeks on average: common practice, no source
FIRST_GUESS = 0.01  # of the bottles sold were the last one, before the shop's own share is learned
FEWEST = 0.0005  # of them at least
ROUNDS = 4  # sold-out days lower the season of all scents; without them more are found


def chance_sold_out(sold: np.ndarray, share: np.ndarray, worth: np.ndarray) -> np.ndarray:
    """Return the chance that a scent (across) was sold out on each day (down), from the days on which it sold nothing.

    `sold` are the bottles of shoppers, `share` of the day on the shelf as far as known (NA where it was not for sale),
    `worth` is how much is usually sold on such a day where that scent sells (day, scent). A run of days without a
    sale is either luck, at that scent's rate around it and the season of all other scents; or the scent ran out with
    the sale before it, came back after some days and then waited for its next sale. How often a scent runs out is
    learned from all runs of the shop.
    """
    there = np.nan_to_num(share)
    out = np.zeros(sold.shape)
    runs = _runs_without_sale(sold, share)
    ran_out = FIRST_GUESS
    for _ in range(ROUNDS):
        on = there * (1 - out)
        expected = _expected(sold, on * worth, worth)
        at_once = _bottles_at_once(sold, expected, on)
        out, runs_out = _chances(runs, sold, expected, at_once, on, there, ran_out)
        ran_out = max(runs_out / max(sold.sum(), 1.0), FEWEST)
    return out


def worth_by_scent(weights: np.ndarray, sold: np.ndarray, has: np.ndarray) -> np.ndarray:
    """Return how much is usually sold on each day where each scent sells, (day, scent).

    `weights` (day, channel) are the shop's; a scent that sells more in a channel than others do, `sold`
    (channel, scent), has more of that channel's days in it. Few sales leave it near the shop's. `has` is the chance
    that a channel has the scent, (channel, scent).
    """
    share = weights.sum(axis=0) / max(weights.sum(), 1e-9)
    usual = share[:, None] * sold.sum(axis=0)
    return np.asarray(weights @ (has * (sold + CHANNEL_PRIOR) / (usual + CHANNEL_PRIOR)))


def _runs_without_sale(sold: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Return scent, first day and the day after the last one of each run of days for sale without a sale."""
    zero = (sold <= 0) & ~np.isnan(share)
    edge = np.diff(np.pad(zero, ((1, 1), (0, 0))).astype(np.int8), axis=0)
    scent, begin = np.nonzero((edge == 1).T)
    _, end = np.nonzero((edge == -1).T)
    return np.stack([scent, begin, end])


def _expected(sold: np.ndarray, weight: np.ndarray, worth: np.ndarray) -> np.ndarray:
    """Bottles each scent would sell on each whole day on the shelf at its usual rate and the season of the others."""
    week = np.arange(len(sold)) // 7
    y, e = _by_week(sold, week), _by_week(weight, week)
    season = np.ones(len(y))
    for _ in range(5):
        usual = y.sum(axis=0) / np.maximum(season @ e, 1e-9)
        season = y.sum(axis=1) / np.maximum(e @ usual, 1e-9)
    mean = e * usual
    smooth = (_rolling(y.sum(axis=1)) + 1e-9) / (_rolling(mean.sum(axis=1)) + 1e-9)
    others, base = y.sum(axis=1, keepdims=True) - y, mean.sum(axis=1, keepdims=True) - mean
    of_week = (others + SEASON_PRIOR * smooth[:, None]) / (base + SEASON_PRIOR)
    rate = usual * of_week[week] * worth
    mean = weight * usual * of_week[week]
    others, base = sold.sum(axis=1, keepdims=True) - sold, mean.sum(axis=1, keepdims=True) - mean
    return rate * (others + SEASON_PRIOR) / (base + SEASON_PRIOR)


def _by_week(values: np.ndarray, week: np.ndarray) -> np.ndarray:
    return np.add.reduceat(values, np.flatnonzero(np.diff(week, prepend=-1)), axis=0)


def _rolling(values: np.ndarray) -> np.ndarray:
    total = np.concatenate([[0.0], np.cumsum(values)])
    place = np.arange(len(values))
    low, high = np.maximum(place - SMOOTH_WEEKS, 0), np.minimum(place + SMOOTH_WEEKS + 1, len(values))
    return total[high] - total[low]


def _chances(
    runs: np.ndarray,
    sold: np.ndarray,
    expected: np.ndarray,
    at_once: np.ndarray,
    on: np.ndarray,
    there: np.ndarray,
    ran_out: float,
) -> tuple[np.ndarray, float]:
    """Return the chance of each day, and how many of the runs were begun by running out."""
    scent, begin, end = runs
    expected = expected / at_once  # purchases, of which a day has some or none
    rate, shape = _rate_beside(runs, sold / at_once, expected * on)
    run = np.repeat(np.arange(len(scent)), end - begin)  # the run of each of their days, one after the other
    place = np.arange(len(run)) - np.repeat(np.cumsum(end - begin) - (end - begin), end - begin)
    would = _summed(expected * there)
    total = rate * (would[end, scent] - would[begin, scent])
    after = rate[run] * (would[end[run], scent[run]] - would[begin[run] + place + 1, scent[run]])
    luck = (1 + total / shape) ** -shape
    back = 1 / DAYS_OUT * (1 - 1 / DAYS_OUT) ** place * (1 + after / shape[run]) ** -shape[run]
    ends_in_sale = np.append(sold, np.zeros((1, sold.shape[1])), axis=0)[end, scent] > 0
    last = (place == (end - begin)[run] - 1) & ~ends_in_sale[run]
    back[last] = (1 - 1 / DAYS_OUT) ** place[last]  # not back yet
    summed = np.cumsum(back[::-1])[::-1]  # back on that day or later, and of all runs after it
    bottles = sold[np.maximum(begin - 1, 0), scent]  # of the sale before it; any of them may have been the last one
    gone = 1 - (1 - ran_out) ** np.where((begin > 0) & (bottles > 0), bottles, 1.0)
    later = np.append(summed, 0.0)[np.cumsum(end - begin)]
    first = summed[np.cumsum(end - begin) - (end - begin)] - later
    all_ways = (1 - gone) * luck + gone * first
    out = np.zeros(sold.shape)
    out[begin[run] + place, scent[run]] = (gone / all_ways)[run] * (summed - later[run])
    return out, float((gone * first / all_ways).sum())


def _bottles_at_once(sold: np.ndarray, expected: np.ndarray, on: np.ndarray) -> np.ndarray:
    """Return how many bottles a purchase of each scent has, from how many days had a sale at all.

    If each bottle were bought by itself, few days would be without; where more are, several are bought together or sell
    in bursts. Scents start at the shop's own number.
    """
    some = (sold > 0).sum(axis=0)

    def days_with_a_sale(at_once: np.ndarray) -> np.ndarray:
        return np.asarray((on * -np.expm1(-expected / at_once)).sum(axis=0))

    low, high = np.zeros(sold.shape[1]), np.full(sold.shape[1], np.log(MOST_AT_ONCE))
    shop_low, shop_high = 0.0, np.log(MOST_AT_ONCE)
    for _ in range(HALVINGS):
        middle = (shop_low + shop_high) / 2
        too_many = days_with_a_sale(np.exp(middle)).sum() > some.sum()
        shop_low, shop_high = (middle, shop_high) if too_many else (shop_low, middle)
    start = -np.expm1(-np.exp(-shop_low))  # share of days with a sale, of days on which one bottle is expected
    for _ in range(HALVINGS):
        at_once = (low + high) / 2
        own = days_with_a_sale(np.exp(at_once)) + START_DAYS * -np.expm1(-np.exp(-at_once))
        more = own > some + START_DAYS * start
        low, high = np.where(more, at_once, low), np.where(more, high, at_once)
    return np.exp(low)


def _rate_beside(runs: np.ndarray, sold: np.ndarray, expected: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return a scent's rate around each run against its rate over all days, and the shape of its gamma spread."""
    scent, begin, end = runs
    bottles, usual = _summed(sold), _summed(expected)
    low, high = np.maximum(begin - NEAR_DAYS, 0), np.minimum(end + NEAR_DAYS, len(sold))
    near = bottles[high, scent] - bottles[low, scent]
    base = usual[high, scent] - usual[low, scent] - (usual[end, scent] - usual[begin, scent])
    return (near + OWN_RATE) / (base + OWN_RATE), 1 / (1 / (near + OWN_RATE) + 1 / RESTLESS)


def _summed(values: np.ndarray) -> np.ndarray:
    return np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(values, axis=0)])
