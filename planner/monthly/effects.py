"""What each month of the year sells beside the others: least squares, then shrunk as far as the sales tell.

Miller and Williams, Shrinkage estimators of time series seasonal factors, Int. J. Forecasting 19 (2003) (from memory).
All here is on the log scale, series right-aligned: the place of a month in the year is counted from the first month to
come (place 0), so series that end together share it.
"""

from dataclasses import dataclass

import numpy as np

NOISE_SD, NOISE_WEIGHT = 0.15, 2.0  # before any evidence a month is off by 15 percent; counts as two months (judgement)
SLOPE_SD = 0.3  # growth of a year is likely within 30 percent: holds the line where months and line look alike
PROFILE_SD = 0.5  # a shop's month is within 65 percent of the profile it is compared with (judgement)
UNSEEN_SD = 0.35  # a month that was never seen is within 40 percent of where it is put (judgement)
ONE_YEAR = ALIKE = 6.0  # months that count for noise seen between scents, and for noise being alike in one shop
SCENT_SD = 0.25  # a scent's month departs by so much from the shop's; months cannot tell much of it (judgement)


@dataclass(frozen=True)
class Effects:
    """Effect of each place in the year on the log of a month, shape (series, period)."""

    season: np.ndarray  # shrunk
    variance: np.ndarray  # what is left of doubt about each series' own part
    shared: np.ndarray  # (period,) what is left of doubt about the profile common to all, 0 where there is none
    spent: np.ndarray  # (series,) how many months of evidence they took


def places(length: int, period: int) -> np.ndarray:
    """Return the place in the year of each of `length` months, of which the last is followed by place 0.

    >>> places(5, 4).tolist()
    [3, 0, 1, 2, 3]
    """
    return (np.arange(length) - length) % period


def month_effects(logs: np.ndarray, period: int, profile: np.ndarray | None = None) -> Effects:
    """Return the shrunken month effects of `logs` (series, month), NaN where unknown.

    Without `profile` each series stands alone and is shrunk to a flat year. With it (period,) the series are one
    shop's: their common profile is shrunk to `profile`, and each of them to the common one.
    """
    if profile is None:
        raw, noise, count = least_squares(logs, period)
        return shrink(raw, noise, count, _spread(raw, noise, count))
    return _of_a_shop(logs, period, np.asarray(profile, float))


def _of_a_shop(logs: np.ndarray, period: int, profile: np.ndarray) -> Effects:
    """Return the effects of series that belong together: those of the shop, and each series' departure from them."""
    centre = profile - profile.mean()
    raw, noise, count = least_squares(logs - centre[places(logs.shape[1], period)], period)
    known = count > 0
    evidence = np.where(known, 1 / (SCENT_SD**2 + noise[:, None] / np.maximum(count, 1)), 0.0)
    total = evidence.sum(axis=0) + 1 / PROFILE_SD**2
    common = (evidence * raw).sum(axis=0) / total
    own = shrink(raw - common, _shop_noise(raw - common, noise, count), count, np.full(len(raw), SCENT_SD**2))
    return Effects(centre + common + own.season, own.variance, 1 / total, own.spent)


def _shop_noise(apart: np.ndarray, noise: np.ndarray, count: np.ndarray) -> np.ndarray:
    """Return the noise variance of each series of a shop, where a year of months leaves least squares nothing to see.

    By what the series differ from the shop's season beyond SCENT_SD is noise too; and it is alike in one shop.
    """
    known = (count > 0).sum(axis=1)
    years = count.sum(axis=1) / np.maximum(known, 1)
    beyond = np.where(count > 0, apart**2 - SCENT_SD**2, 0.0).sum(axis=1) / np.maximum(known, 1)
    spare = np.maximum(count.sum(axis=1) - known - 1, 0)
    found = (spare * noise + ONE_YEAR * np.maximum(beyond * years, NOISE_SD**2)) / (spare + ONE_YEAR)
    shop = np.average(found, weights=known + 1e-9)
    return (found * (spare + ONE_YEAR) + ALIKE * shop) / (spare + ONE_YEAR + ALIKE)


def least_squares(logs: np.ndarray, period: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return month effects by least squares on months and a line, noise variance, and how often each month is known.

    Effects are against the mean of the months that are known; a month never seen has effect 0 and count 0.
    """
    known = ~np.isnan(logs)
    length = logs.shape[1]
    design = np.zeros((length, period + 1))
    design[np.arange(length), places(length, period)] = 1.0
    design[:, period] = (np.arange(length) - length + 1) / period
    products = (design[:, :, None] * design[:, None, :]).reshape(length, -1)
    normal = (known.astype(float) @ products).reshape(-1, period + 1, period + 1)
    count = np.diagonal(normal, axis1=1, axis2=2)[:, :period].copy()
    ridge = np.append(np.full(period, 1e-9), NOISE_SD**2 / SLOPE_SD**2)
    right = np.where(known, logs, 0.0) @ design
    found = np.linalg.solve(normal + np.diag(ridge), right[:, :, None])[:, :, 0]
    error = np.where(known, logs - found @ design.T, 0.0)
    spare = np.maximum(known.sum(axis=1) - (count > 0).sum(axis=1) - 1, 0)
    noise = ((error**2).sum(axis=1) + NOISE_WEIGHT * NOISE_SD**2) / (spare + NOISE_WEIGHT)
    seen = count > 0
    middle = (found[:, :period] * seen).sum(axis=1) / np.maximum(seen.sum(axis=1), 1)
    return np.where(seen, found[:, :period] - middle[:, None], 0.0), noise, count


def shrink(raw: np.ndarray, noise: np.ndarray, count: np.ndarray, spread: np.ndarray) -> Effects:
    """Return effects times w = spread / (spread + noise / years), `spread` and `noise` being variances by series."""
    error = noise[:, None] / np.maximum(count, 1)
    weight = np.where(count > 0, spread[:, None] / (spread[:, None] + error), 0.0)
    doubt = np.where(count > 0, weight * error, np.maximum(spread, UNSEEN_SD**2)[:, None])
    return Effects(weight * raw, doubt, np.zeros(raw.shape[1]), weight.sum(axis=1))


def _spread(raw: np.ndarray, noise: np.ndarray, count: np.ndarray) -> np.ndarray:
    """Return the variance of the true effects of each series: that of the found ones less what noise adds."""
    seen = count > 0
    error = np.where(seen, noise[:, None] / np.maximum(count, 1), 0.0)
    months = seen.sum(axis=1)
    over = ((raw**2) * seen).sum(axis=1) / np.maximum(months - 1, 1) - error.sum(axis=1) / np.maximum(months, 1)
    return np.maximum(over, 1e-12)
