"""Sample paths of the months to come, from three forecasts of each series and the spread of one of them."""

from dataclasses import replace

import numpy as np

from planner.monthly.effects import Effects, month_effects, places
from planner.monthly.lastyear import half_drift
from planner.monthly.months import Months
from planner.monthly.smoothing import Smoothed, smooth, smooth_ahead, smooth_paths, surprises
from planner.monthly.sparse import is_sparse, sparse_paths
from planner.monthly.theta import theta_forecast

# How much smoothing, last year with half its growth, and theta count. With two years of months theta takes chance for
# trend; with four, last year is one year of many. Measured by tests/bench/bench_competitions.py.
SHORT, SHORT_MIX = 24, np.array([0.5, 0.5, 0.0])
LONG, LONG_MIX = 48, np.array([0.42, 0.16, 0.42])  # [months]
APART = 0.85  # the forecasts together err less than the one whose spread the paths have; measured there as well
SHIFT = 0.1  # of a usual month, added before the logarithm where some month sold nothing, so that it has one
NEW_SD = 0.8  # a scent never sold before is within a factor of 2.2 of a usual scent of the shop (judgement)
YOUNG_SD, YOUNG_MONTHS = 0.25, 6.0  # a young scent has not settled: extra sd, down to a third in six months
TOGETHER, TOGETHER_MONTHS = 0.3, 12  # scents of one shop have good months together; counts as a year of evidence


def foresee_months(
    series: Months, horizon: int, count: int, rng: np.random.Generator, profile: np.ndarray | None = None
) -> np.ndarray:
    """Return `count` sample paths of the next `horizon` months, shape (path, series, month), in the series' own unit.

    Without `profile` each series stands alone. With it, one number for each calendar month (log of its sales beside a
    usual month's), they are the scents of one shop: seasons are shrunk to the shop's and that to `profile`, and good
    and bad months come to all together. A series without a known month sells like a usual one of the others.

    Multiplying all values by a number multiplies the paths by it, but for rounding.
    """
    values = np.where(series.values < 0, 0.0, series.values)
    usual = _usual(values)
    shift = np.where((values == 0).any(axis=1), SHIFT * usual, 0.0)[:, None]
    with np.errstate(divide="ignore"):
        logs = np.log((values + shift) / usual[:, None])  # a usual month is 1: what follows knows no unit
    ahead = None if profile is None else _from_next(series, profile)
    effects = month_effects(logs, series.period, ahead)
    smoothed = _believable(smooth(logs, effects), profile is not None)
    middle = smooth_ahead(smoothed, horizon)
    centre = _mix(values, usual, shift, logs, effects, middle, series.period)
    shocks, doubts = _shocks(logs, effects, smoothed, (count, horizon), rng, profile is not None)
    paths = smooth_paths(smoothed, effects.variance, shocks, rng)
    paths = (paths + doubts - middle[:, None, :]) * APART
    bottles = np.maximum(np.exp(paths) * (centre + shift)[:, None, :] - shift[:, :, None], 0.0)
    bottles *= (centre.sum(axis=1) / np.maximum(np.median(bottles.sum(axis=2), axis=1), 1e-300))[:, None, None]
    least = values[values > 0].min(initial=np.inf)  # one bottle, as a rule
    for one in np.flatnonzero(is_sparse(values)):
        season = np.exp(effects.season[one, np.arange(horizon) % series.period])
        season /= np.exp(effects.season[one]).mean()
        bottles[one] = sparse_paths(values[one], least if np.isfinite(least) else 1.0, season, count, rng)
    return bottles.transpose(1, 0, 2)


def _usual(values: np.ndarray) -> np.ndarray:
    """Return the mean month of each series; of one that never sold, the middle one of the others, else 1."""
    known = ~np.isnan(values)
    mean = np.where(known, values, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    return np.where(mean > 0, mean, np.median(mean[mean > 0]) if (mean > 0).any() else 1.0)


def _from_next(series: Months, profile: np.ndarray) -> np.ndarray:
    """Return the profile of calendar months in the order of the months to come."""
    step = 12 // series.period
    first = series.months[-1].month - 1 + step
    return np.array([profile[(first + step * place) % 12] for place in range(series.period)])


def _mix(
    values: np.ndarray,
    usual: np.ndarray,
    shift: np.ndarray,
    logs: np.ndarray,
    effects: Effects,
    middle: np.ndarray,
    period: int,
) -> np.ndarray:
    """Return the middle of the paths: the forecasts weighted by the length of each history, in the series' unit."""
    horizon = middle.shape[1]
    calm = logs - effects.season[:, places(logs.shape[1], period)]
    theta = theta_forecast(_without_gaps(calm), horizon).forecast + effects.season[:, np.arange(horizon) % period]
    parts = [np.maximum(np.exp(np.minimum(log, 50.0)) * usual[:, None] - shift, 0.0) for log in (middle, theta)]
    grown = half_drift(values, horizon, period)
    grown = np.where(np.isnan(grown), parts[0], grown)
    long = ((~np.isnan(values)).sum(axis=1) * 12 / period - SHORT) / (LONG - SHORT)
    share = SHORT_MIX + long.clip(0, 1)[:, None] * (LONG_MIX - SHORT_MIX)
    return share[:, :1] * parts[0] + share[:, 1:2] * grown + share[:, 2:] * parts[1]


def _without_gaps(logs: np.ndarray) -> np.ndarray:
    """Return the series with months unknown inside and at the end filled by a straight line between neighbours."""
    filled = logs.copy()
    for row in np.flatnonzero(np.isnan(logs).any(axis=1) & ~np.isnan(logs).all(axis=1)):
        at = np.flatnonzero(~np.isnan(logs[row]))
        inside = np.arange(at[0], logs.shape[1])
        filled[row, inside] = np.interp(inside, at, logs[row, at])
    return filled


def _believable(smoothed: Smoothed, together: bool) -> Smoothed:
    """Return the states with surprises of one shop's scents made more alike: few months say little of their size."""
    if not together:
        return smoothed
    evidence = smoothed.evidence + TOGETHER_MONTHS
    shop = np.average(smoothed.noise, weights=smoothed.evidence)
    return replace(
        smoothed,
        noise=(smoothed.noise * smoothed.evidence + shop * TOGETHER_MONTHS) / evidence,
        evidence=evidence,
    )


def _shocks(
    logs: np.ndarray,
    effects: Effects,
    smoothed: Smoothed,
    shape: tuple[int, int],
    rng: np.random.Generator,
    together: bool,
) -> tuple[np.ndarray, np.ndarray]:
    """Return standard normal shocks of each month, and what stays of doubt about level and season all the way.

    Both of shape (series, path, horizon).
    """
    count, horizon = shape
    series, period = effects.season.shape
    alike = _alike(surprises(logs, effects, smoothed)) if together else 0.0
    shocks = np.sqrt(1 - alike) * rng.standard_normal((series, count, horizon))
    shocks += np.sqrt(alike) * rng.standard_normal((count, horizon))
    months = (~np.isnan(logs)).sum(axis=1) * 12 / period
    young = (YOUNG_SD * np.exp(-months / YOUNG_MONTHS)) ** 2
    level = np.where(months > 0, np.sqrt(smoothed.noise / np.maximum(months, 1) + young), NEW_SD)
    doubts = level[:, None, None] * rng.standard_normal((series, count, 1))
    common = np.sqrt(effects.shared) * rng.standard_normal((count, period))
    return shocks, doubts + common[:, np.arange(horizon) % period]


def _alike(off: np.ndarray) -> float:
    """Return how far the surprises of the series go together: their mean correlation, pulled to TOGETHER."""
    known = ~np.isnan(off)
    size = np.sqrt(np.where(known, off**2, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1))
    alike = np.where(known, off, 0.0) / np.where(size > 0, size, 1.0)[:, None]
    several = known.sum(axis=0)
    pairs = np.maximum(several * (several - 1), 1)
    product = (alike.sum(axis=0) ** 2 - (alike**2).sum(axis=0)) / pairs
    months = (several > 1).sum()
    found = (product[several > 1].sum() + TOGETHER_MONTHS * TOGETHER) / (months + TOGETHER_MONTHS)
    return float(np.clip(found, 0.0, 0.95))
