"""Sample paths of the months to come, from three forecasts of each series and the spread of one of them."""

import numpy as np

from planner.monthly.effects import Effects, month_effects, places
from planner.monthly.lastyear import half_drift
from planner.monthly.months import Months
from planner.monthly.smoothing import Smoothed, smooth, smooth_ahead, smooth_paths
from planner.monthly.sparse import is_sparse, sparse_paths
from planner.monthly.theta import theta_forecast
from planner.monthly.together import alike_noise, common_shocks, shop_doubts

# How much smoothing, last year with half its growth, and theta count. With two years of months theta takes chance for
# trend; with four, last year is one year of many. Measured by tests/bench/bench_competitions.py.
SHORT, SHORT_MIX = 24, np.array([0.5, 0.5, 0.0])
LONG, LONG_MIX = 48, np.array([0.42, 0.16, 0.42])  # [months]
YEARS = 10  # older ones tell of another shop
SHOP_MIX = np.array([0.5, 0.3, 0.2])  # the scents of a shop are few bottles each: the shared season steadies smoothing
APART = 0.9  # the forecasts together err less than the one whose spread the paths have; measured there as well
# Logs lean upwards: months that miss their middle by themselves add up to more than the middles do, a level that is off
# does not. So much of what the middle of the sums is lifted by is taken back; measured there too.
LEAN = 0.7
SHIFT = 0.1  # of a usual month, added before the logarithm where some month sold nothing, so that it has one
NEW_SD = 0.8  # a series never sold before is within a factor of 2.2 of a usual one (judgement)
YOUNG_SD, YOUNG_MONTHS = 0.25, 6.0  # a young scent has not settled: extra sd, down to a third in six months
LARGEST = 50.0  # log of a usual month: keeps hopeless histories finite


def foresee_months(
    series: Months, horizon: int, count: int, rng: np.random.Generator, profile: np.ndarray | None = None
) -> np.ndarray:
    """Return `count` sample paths of the next `horizon` months, shape (path, series, month), in the series' own unit.

    Without `profile` each series stands alone. With it, one number for each calendar month (log of its sales beside a
    usual month's), they are the scents of one shop: seasons are shrunk to the shop's and that to `profile`, good and
    bad months come to all together, and the coming peak may be a strong or a weak one. A series without a known month
    sells like those it is said to be like, else like a usual one of the others.

    Multiplying all values by a number multiplies the paths by it, but for rounding.
    """
    values, shop = np.maximum(series.values[:, -YEARS * series.period :], 0.0), profile is not None
    if not len(values):
        return np.zeros((count, 0, horizon))
    usual = _usual(values, series.like)[:, None]
    shift = np.where((values == 0).any(axis=1, keepdims=True), SHIFT * usual, 0.0)
    with np.errstate(divide="ignore"):
        logs = np.log((values + shift) / usual)  # a usual month is 1: what follows knows no unit
    effects = month_effects(logs, series.period, None if profile is None else _from_next(series, profile))
    smoothed = alike_noise(smooth(logs, effects)) if shop else smooth(logs, effects)
    middle = smooth_ahead(smoothed, horizon)
    off = _off(logs, effects, smoothed, (len(values), count, horizon), rng, shop) - middle[:, None, :]
    paths = _around(usual * _mix(logs, effects, middle, shop), shift, off)
    _replace_sparse(paths, values, effects, rng)
    return paths.transpose(1, 0, 2)


def _off(
    logs: np.ndarray,
    effects: Effects,
    smoothed: Smoothed,
    shape: tuple[int, int, int],
    rng: np.random.Generator,
    shop: bool,
) -> np.ndarray:
    """Return the paths of smoothing (series, path, month) with all that is not known of level and season; logs."""
    months = (~np.isnan(logs)).sum(axis=1) * 12 / effects.season.shape[1]
    level = _level_doubts(smoothed.noise, months)[:, None, None] * rng.standard_normal((*shape[:2], 1))
    if shop:
        shocks = common_shocks(logs, effects, smoothed, shape, rng)
        return smooth_paths(smoothed, effects.variance, shocks, rng) + level + shop_doubts(effects, months, shape, rng)
    paths = smooth_paths(smoothed, effects.variance, rng.standard_normal(shape), rng) + level
    middle = smooth_ahead(smoothed, shape[2])[:, None, :]
    return middle + APART * (paths - middle)


def _around(centre: np.ndarray, shift: np.ndarray, off: np.ndarray) -> np.ndarray:
    """Return paths that are `off` their centre (series, month), both before `shift` is taken away again."""
    paths = np.maximum(np.exp(np.minimum(off, LARGEST)) * centre[:, None, :] - shift[:, :, None], 0.0)
    lifted = np.median(paths.sum(axis=2), axis=1) / np.maximum((centre - shift).sum(axis=1), 1e-300)
    return paths * np.where(lifted > 0, np.where(lifted > 0, lifted, 1.0) ** -LEAN, 1.0)[:, None, None]


def _usual(values: np.ndarray, like: tuple[tuple[int, ...], ...]) -> np.ndarray:
    """Return the mean month of each series; of one that never sold, that of those it is like, else of all, else 1."""
    known = ~np.isnan(values)
    mean = np.where(known, values, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    usual = np.where(mean > 0, mean, np.median(mean[mean > 0]) if (mean > 0).any() else 1.0)
    for one, others in enumerate(like):
        alive = [other for other in others if mean[other] > 0]
        if mean[one] == 0 and alive:
            usual[one] = np.exp(np.log(mean[alive]).mean())
    return usual


def _from_next(series: Months, profile: np.ndarray) -> np.ndarray:
    """Return the profile of calendar months in the order of the months to come."""
    step = 12 // series.period
    first = series.months[-1].month - 1 + step
    return np.array([profile[(first + step * place) % 12] for place in range(series.period)])


def _mix(logs: np.ndarray, effects: Effects, middle: np.ndarray, shop: bool) -> np.ndarray:
    """Return the middle of the paths in usual months: the three forecasts, by how long each history is."""
    horizon, period = middle.shape[1], effects.season.shape[1]
    calm = _without_gaps(logs - effects.season[:, places(logs.shape[1], period)])
    theta = theta_forecast(calm, horizon).forecast + effects.season[:, np.arange(horizon) % period]
    smooth_part, theta_part = (np.exp(np.minimum(log, LARGEST)) for log in (middle, theta))
    grown = half_drift(np.exp(logs), horizon, period)
    grown = np.where(np.isnan(grown), smooth_part, grown)
    long = ((~np.isnan(logs)).sum(axis=1) * 12 / period - SHORT) / (LONG - SHORT)
    share = SHORT_MIX + long.clip(0, 1)[:, None] * (LONG_MIX - SHORT_MIX)
    share = np.broadcast_to(SHOP_MIX, share.shape) if shop else share
    return share[:, :1] * smooth_part + share[:, 1:2] * grown + share[:, 2:] * theta_part


def _without_gaps(logs: np.ndarray) -> np.ndarray:
    """Return the series with months unknown inside and at the end filled by a straight line between neighbours."""
    filled = logs.copy()
    for row in np.flatnonzero(np.isnan(logs).any(axis=1) & ~np.isnan(logs).all(axis=1)):
        at = np.flatnonzero(~np.isnan(logs[row]))
        inside = np.arange(at[0], logs.shape[1])
        filled[row, inside] = np.interp(inside, at, logs[row, at])
    return filled


def _level_doubts(noise: np.ndarray, months: np.ndarray) -> np.ndarray:
    """Return the sd of what is not known of each level: few months, a young scent, or one never sold. [log]"""
    young = (YOUNG_SD * np.exp(-months / YOUNG_MONTHS)) ** 2
    return np.where(months > 0, np.sqrt(noise / np.maximum(months, 1) + young), NEW_SD)


def _replace_sparse(paths: np.ndarray, values: np.ndarray, effects: Effects, rng: np.random.Generator) -> None:
    """Put paths of months that sell or do not in the place of those of series that are mostly empty."""
    count, horizon, period = *paths.shape[1:], effects.season.shape[1]
    least = values[values > 0].min() if (values > 0).any() else 1.0  # one bottle, as a rule
    for one in np.flatnonzero(is_sparse(values)):
        season = np.exp(effects.season[one])
        ahead = (season / season.mean())[np.arange(horizon) % period]
        paths[one] = sparse_paths(values[one], least, ahead, count, rng)
